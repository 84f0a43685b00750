"""Each page on findings it is given: what it shows, keeps, and never takes for markup."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings
from survey.columns import TRAP_STATES
from survey.dashboard import frames, look, say
from survey.dashboard.remembered import remember_manner
from survey.dashboard.screens import NOT_IN_MENU, PAGES
from survey.dashboard.wording import planning_words, screen_words
from survey.reports import words
from survey.reports.manner import Manner
from survey.sharing import list_links

from .conftest import Opened, button, go, table, texts, title, told

HOSTILE = (
    "![HOSTILE](http://192.0.2.1/x.png) [HOSTILE](javascript:alert(1)) <img src=x onerror=HOSTILE>"
    " :red[HOSTILE] $HOSTILE$ `HOSTILE` **HOSTILE** # HOSTILE\u202e =HOSTILE()"
)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_opens_without_a_round_and_says_where_to_go(open_app: Opened, page: str) -> None:
    app = open_app(page)
    assert not app.exception
    assert title(app)
    if page not in ("start.py", "rounds.py"):
        assert app.info


@pytest.mark.parametrize("page", PAGES)
def test_every_page_opens_with_findings(open_app: Opened, findings: Findings, page: str) -> None:
    app = open_app(page, findings)
    assert not app.exception


@pytest.mark.parametrize("page", PAGES)
def test_every_page_opens_in_si_with_a_decimal_comma(
    open_app: Opened, findings: Findings, page: str
) -> None:
    remember_manner(Manner("si", "de_DE"))
    app = open_app(page, findings)
    assert not app.exception
    shown = texts(app) + "".join(str(each.value) for each in app.get("html"))
    assert not re.search(r"\d ?(°F|psig|lb/h)\b", shown.replace("&", " "))


def test_what_a_command_does_is_said_by_its_button_on_the_screens(
    open_app: Opened, findings: Findings
) -> None:
    noted = replace(findings, summary=findings.summary | {"notes": [
        "'Seat' may be mm: set its unit with a header map",
        "headers not understood, kept but not used (settable with a map): 'x'",
    ]})  # fmt: skip
    app = open_app("owner_link.py", findings)
    shown = [texts(app.button(key="make_link").click().run())]
    shown += [texts(open_app(page, noted)) for page in PAGES]
    assert not re.search(r"survey report|--out|--spare|\bmap\b", " ".join(shown))
    named = " ".join(screen_words.ON_THE_SCREENS.values())
    assert planning_words.SPARE_HEAT.removesuffix(", %") in named
    assert screen_words.REPORT_FILES["html"] in named
    assert {screen_words.MENU[page] for page in ("ranking.py", "understood.py")} <= set(
        re.findall(r"the (\w+) page", named)
    )
    for words_of_a_button in screen_words.ON_THE_SCREENS.values():
        assert words_of_a_button in " ".join(shown)


def test_the_menu_names_every_page(open_app: Opened) -> None:
    app = open_app()
    named = [name for path, name in PAGES.items() if path not in NOT_IN_MENU]
    assert [link.label for link in app.get("page_link")] == named


def test_the_list_is_in_order_of_rank_and_holds_what_needs_doing(
    open_app: Opened, findings: Findings
) -> None:
    shown = table(open_app("ranking.py", findings))
    ranked = findings.table[findings.table["rank"].notna()].sort_values("rank")
    assert shown["tag"].tolist() == ranked["tag"].tolist()
    expected = ranked["annual_cost"].round(0).tolist()
    assert shown["annual_cost"].tolist() == pytest.approx(expected, abs=0, nan_ok=True)


def test_where_a_unit_is_stands_beside_its_state_in_sight_at_1280_px(
    findings: Findings,
) -> None:
    names = list(frames.with_range(frames.listing(findings.table)).columns)
    assert names.index("area") == names.index("state") + 1
    its = look.ranked_columns("USD", dearest=1.0)
    before = names[: names.index("area") + 1]
    boxes_to_tick_px, table_px = 34, 1100
    assert boxes_to_tick_px + sum(int(its[name]["width"]) for name in before) < table_px


def test_each_filter_keeps_the_rows_it_names(open_app: Opened, findings: Findings) -> None:
    app = open_app("ranking.py", findings)
    app.toggle(key="kept_only_to_do").set_value(False)
    for name in frames.FILTERS:
        value = frames.choices(findings.table, name)[0]
        app = app.multiselect(key=f"kept_filter_{name}").set_value([value]).run()
        given = findings.table[name].astype("str").where(findings.table[name].notna(), "")
        expected = findings.table[given.replace("", frames.NOT_GIVEN) == value]
        assert 0 < len(expected) < len(findings.table)
        assert sorted(table(app)["tag"]) == sorted(expected["tag"])
        said = f"{len(expected):,} of {len(findings.table):,} devices shown."
        assert said in [mark.value for mark in app.markdown]
        app.multiselect(key=f"kept_filter_{name}").set_value([])


def test_a_part_of_a_tag_finds_it_capitals_or_not(open_app: Opened, findings: Findings) -> None:
    app = open_app("ranking.py", findings)
    app.toggle(key="kept_only_to_do").set_value(False)
    app = app.text_input(key="kept_tag_part").set_value("t-01").run()
    assert set(table(app)["tag"]) == {tag for tag in findings.table["tag"] if "T-01" in tag}


def test_filters_that_leave_nothing_say_so(open_app: Opened, findings: Findings) -> None:
    app = open_app("ranking.py", findings)
    app = app.text_input(key="kept_tag_part").set_value("no such tag").run()
    assert not app.exception
    assert "Take one away" in app.info[0].value


def test_filters_and_the_picked_unit_last_while_pages_change(
    open_app: Opened, findings: Findings
) -> None:
    app = open_app("ranking.py", findings)
    area = frames.choices(findings.table, "area")[0]
    app = app.multiselect(key="kept_filter_area").set_value([area]).run()
    rows = table(app)["tag"].tolist()
    app = go(app, "unit.py")
    app = app.selectbox(key="kept_unit").set_value(rows[-1]).run()
    app = go(go(app, "overview.py"), "ranking.py")
    assert app.multiselect(key="kept_filter_area").value == [area]
    assert table(app)["tag"].tolist() == rows
    assert go(app, "unit.py").selectbox(key="kept_unit").value == rows[-1]


def test_the_cost_curve_says_where_it_flattens(open_app: Opened, findings: Findings) -> None:
    app = open_app("ranking.py", findings)
    app = app.segmented_control(key="kept_view").set_value("Cost added up").run()
    assert not app.exception
    curve = table(app)
    said = next(mark.value for mark in app.markdown if "80 %" in mark.value)
    number = int(said.split("the first ")[1].split()[0])
    assert curve["share"].iloc[number - 1] >= 0.8 > curve["share"].iloc[number - 2]


@pytest.mark.parametrize("view", ["Heat", "Sound", "Causes", "Instruments"])
def test_each_picture_has_its_sentence_its_svg_and_its_table(
    open_app: Opened, findings: Findings, view: str
) -> None:
    app = open_app("readings.py", findings)
    app = app.segmented_control(key="kept_picture").set_value(view).run()
    assert not app.exception
    [drawn] = [mark.value for mark in app.markdown if "<svg" in mark.value]
    sentence = next(text.value for text in app.text)
    assert "\n" not in drawn
    assert drawn.count("<svg") == 1
    assert sentence[:40].split(".")[0] in html.unescape(drawn)
    twins = [element.value for element in app.get("html") if "<table" in element.value]
    assert len(twins) == 1
    assert twins[0].count("<tr>") > 1


def test_a_picture_of_one_area_counts_that_area_alone(
    open_app: Opened, findings: Findings
) -> None:
    app = open_app("readings.py", findings)
    app = app.selectbox(key="kept_picture_area").set_value("Laundry").run()
    traps = findings.table[findings.table["device"] == "trap"]
    here = traps[(traps["area"] == "Laundry") & traps["subcooling_f"].notna()]
    assert told(app, "Read")["Read"].astype("int64").sum() == len(here) > 0


def test_a_round_without_sound_says_there_is_nothing_to_draw(
    open_app: Opened, findings: Findings
) -> None:
    silent = findings.table.assign(sound_over_background_db=float("nan"))
    app = open_app("readings.py", replace(findings, table=silent))
    app = app.segmented_control(key="kept_picture").set_value("Sound").run()
    assert not app.exception
    assert "nothing to draw" in app.info[0].value


def test_one_unit_shows_its_whole_argument(open_app: Opened, findings: Findings) -> None:
    row = findings.table.sort_values("rank").iloc[0]
    app = open_app("unit.py", findings)
    assert app.selectbox(key="kept_unit").value == row["tag"]
    said = texts(app)
    for part in (row["evidence"], row["action"], words.sureness(row["confidence"]).capitalize()):
        assert part in said
    assert said.count(words.CAUTION_POINTS[0]) == 1
    probable = told(app, "Probability")
    assert len(probable) == len(TRAP_STATES)
    assert probable["Probability"].iloc[0] == words.percent(row["confidence"])


def test_one_unit_shows_the_devices_beside_it(open_app: Opened, findings: Findings) -> None:
    sizes = findings.table.groupby("equipment")["tag"].transform("size")
    row = findings.table[sizes > 1].iloc[0]
    app = open_app("unit.py", findings).selectbox(key="kept_unit").set_value(row["tag"]).run()
    others = told(app, "Device")
    same = findings.table[findings.table["equipment"] == row["equipment"]]
    assert sorted([*others["Tag"], row["tag"]]) == sorted(same["tag"])


def test_a_unit_with_nothing_to_do_carries_no_cautions(
    open_app: Opened, findings: Findings
) -> None:
    tag = findings.table.loc[findings.table["rank"].isna(), "tag"].iloc[0]
    app = open_app("unit.py", findings).selectbox(key="kept_unit").set_value(tag).run()
    assert words.CAUTION_POINTS[0] not in texts(app)


def test_an_undecided_unit_says_what_would_settle_it(open_app: Opened, findings: Findings) -> None:
    changed = findings.table.copy()
    place = changed["rank"].idxmin()
    changed.loc[place, ["state", "action"]] = ["undecided", "Take the sound on it."]
    app = open_app("unit.py", replace(findings, table=changed))
    assert "What would settle it" in [each.value for each in app.subheader]
    assert "Take the sound on it." in texts(app)


def test_vents_have_no_trap_probabilities(open_app: Opened, findings: Findings) -> None:
    vent = findings.table.loc[findings.table["device"] == "air_vent", "tag"].iloc[0]
    app = open_app("unit.py", findings).selectbox(key="kept_unit").set_value(vent).run()
    assert not app.exception
    assert not any("Probability" in element.value for element in app.get("html"))


def test_a_link_is_made_listed_and_ended(open_app: Opened, findings: Findings) -> None:
    app = open_app("owner_link.py", findings)
    app.number_input(key="kept_link_days").set_value(7)
    app.text_input(key="kept_link_label").set_value(HOSTILE[:100])
    app = app.button(key="make_link").click().run()
    assert not app.exception
    assert app.code[0].value.startswith("http://127.0.0.1")
    [link] = list_links()
    assert (link.expires_at - link.made_at).days == 7
    assert told(app, "Works until")["State"].tolist() == ["works"]

    app = app.selectbox(key="link_to_end").set_value(link.number).run()
    app = app.button(key="end_link").click().run()
    assert list_links()[0].standing == "revoked"
    assert told(app, "Works until")["State"].tolist() == ["ended"]
    assert not app.code


def test_the_owner_sees_only_the_areas_and_money_that_were_chosen(
    open_app: Opened, findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = {}

    def share(_findings: Findings, **how: object) -> None:
        asked.update(how)

    monkeypatch.setattr("survey.sharing.share", share)
    app = open_app("owner_link.py", findings)
    area = frames.choices(findings.table, "area")[0]
    app.multiselect(key="kept_link_areas").set_value([area])
    app.toggle(key="kept_link_money").set_value(False)
    app.button(key="make_link").click().run()
    assert asked == {
        "days": 30, "label": "", "areas": [area], "show_money": False, "before": None,
        "known": None, "units": "us", "locale": "en",
    }  # fmt: skip


@pytest.fixture
def hostile(findings: Findings) -> Findings:
    changed = findings.table.copy()
    for name in ("equipment", "area", "station", "note", "evidence", "action", "flags", "cause"):
        changed[name] = HOSTILE
    changed["state"] = changed["state"].replace({"working": HOSTILE})
    changed["tag"] = [f"{HOSTILE} {n}" for n in range(len(changed))]
    rejects = pd.DataFrame(
        {
            "row": ["3"],
            "column": [HOSTILE],
            "value": [HOSTILE],
            "reason": [HOSTILE],
            HOSTILE: [HOSTILE],
        }
    )
    summary = {
        **findings.summary,
        "site_name": HOSTILE,
        "currency": "**H**![x](y)",
        "notes": [HOSTILE],
        "assumptions": [HOSTILE],
        "rows_set_aside": 1,
        "calibration": [{"words": HOSTILE}],
    }
    return Findings(changed, rejects, summary)


MARKED_UP = (
    "markdown",
    "title",
    "header",
    "subheader",
    "caption",
    "error",
    "warning",
    "info",
    "success",
    "latex",
    "metric",
)


def marked_up(app: AppTest) -> list[str]:
    """Everything on the page that the browser would read as Markdown or HTML."""
    said = [str(each.value) for kind in MARKED_UP for each in getattr(app, kind)]
    return said + [
        str(getattr(each, "label", ""))
        for kind in (
            "button",
            "selectbox",
            "multiselect",
            "toggle",
            "text_input",
            "number_input",
            "metric",
            "expander",
            "download_button",
            "file_uploader",
        )
        for each in getattr(app, kind)
    ]


@pytest.mark.parametrize("page", PAGES)
def test_words_from_a_file_are_never_taken_for_markup(
    open_app: Opened, hostile: Findings, page: str
) -> None:
    app = open_app(page, hostile)
    assert not app.exception
    for said in marked_up(app):
        unescaped = said.replace(r"\[", "").replace(r"\<", "").replace(r"\!", "")
        assert "![" not in unescaped
        assert "<img" not in unescaped
        assert "HOSTILE]" not in unescaped.replace(r"\]", "")
    assert "\u202e" not in texts(app)


def test_a_hostile_state_is_escaped_where_a_heading_needs_markdown() -> None:
    assert say.escaped("**a** [b](c) <i> :red[d] $e$") == (
        r"\*\*a\*\* \[b\]\(c\) \<i\> \:red\[d\] \$e\$"
    )


def test_long_text_is_cut() -> None:
    assert len(say.shown("x" * 200_000)) == say.LONGEST


def test_findings_come_back_whole_from_each_kind_of_file(findings: Findings, tmp_path) -> None:
    from survey.dashboard import downloads

    for suffix in ("csv", "xlsx", "parquet"):
        kept = tmp_path / f"findings.{suffix}"
        kept.write_bytes(downloads.made(f"findings.{suffix}", findings))
        back = Findings.load(kept)
        assert back.table["tag"].tolist() == findings.table["tag"].tolist()
        assert back.table["annual_cost"].tolist() == pytest.approx(
            findings.table["annual_cost"].tolist(), nan_ok=True
        )


def test_rejected_rows_are_taken_away_whole_and_harmless(hostile: Findings) -> None:
    from survey.dashboard import downloads

    rejects = replace(hostile, rejects=hostile.rejects.assign(value="=1+1"))
    content = downloads.made("rejects.csv", rejects).decode()
    assert "'=1+1" in content
    assert ",=1+1" not in content


def test_the_columns_of_probabilities_are_those_of_the_findings(findings: Findings) -> None:
    assert {f"p_{state}" for state in TRAP_STATES} <= set(findings.table.columns)


def test_a_round_can_be_closed(open_app: Opened) -> None:
    app = open_app().button(key="sample").click().run()
    app = button(go(app, "start.py"), "Close this round")
    assert app.session_state["work"].findings is None
    assert go(app, "overview.py").info


@pytest.mark.parametrize("said", ["http://192.0.2.1/x", "see WWW.example.org", "a@example.org"])
def test_an_address_in_a_name_is_no_link(said: str) -> None:
    made = say.escaped(said).replace("\\", "")
    assert said not in made
    assert made.replace("\u2060", "") == said
