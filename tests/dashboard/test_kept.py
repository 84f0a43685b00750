"""What outlives a session: the last round, header corrections, units; and what may not."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, analyze
from survey.dashboard import frames, kept, remembered
from survey.dashboard.headers import headers_of
from survey.dashboard.judging import Upload
from survey.dashboard.wording import findings_words
from survey.errors import UsageError
from survey.reports.manner import Manner
from survey.sharing.home import home

from .conftest import Opened, button, go, table, title, unfold
from .test_walk import DOUBTFUL, give, taken_for


def test_a_reload_finds_the_round_again_on_the_page_one_was_on(open_app: Opened) -> None:
    before = open_app().button(key="sample").click().run()
    after = button(open_app("ranking.py"), "Open the last round")
    assert title(after) == "What to mend first"
    ours, theirs = (app.session_state["work"] for app in (before, after))
    assert theirs.findings.table.equals(ours.findings.table)
    assert theirs.upload == ours.upload
    assert theirs.site_file == ours.site_file


def test_what_was_typed_of_the_site_comes_back_with_the_round(open_app: Opened) -> None:
    app = unfold(go(open_app().button(key="sample").click().run(), "start.py"), "site")
    app.number_input(key="kept_site_price_per_mmbtu").set_value(16.0)
    app = button(app, "Judge again with these settings")
    cost = app.session_state["work"].findings.summary["annual_cost"]
    again = unfold(go(button(open_app("overview.py"), "Open the last round"), "start.py"), "site")
    assert again.number_input(key="kept_site_price_per_mmbtu").value == 16.0
    again = button(again, "Judge again with these settings")
    assert again.session_state["work"].findings.summary["annual_cost"] == pytest.approx(cost)


def ticked(app: AppTest) -> list[str]:
    return [text for text in (each.value for each in app.markdown) if "ticked" in text]


def test_the_work_list_comes_back_with_the_round_and_a_tick_writes_a_small_file(
    open_app: Opened,
) -> None:
    app = go(open_app().button(key="sample").click().run(), "ranking.py")
    before = (home() / "last_round.zip").stat()
    for tag in ("T-160", "V-050"):
        app = app.button(key=f"pick_{tag}").click().run()
    after = (home() / "last_round.zip").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    small = home() / "last_round_list.json"
    assert small.stat().st_mode & 0o777 == 0o600
    assert small.stat().st_size < 200
    again = button(open_app("ranking.py"), "Open the last round")
    assert again.session_state["work"].picked == ["T-160", "V-050"]
    assert ticked(again) == ticked(app) != []
    assert "T-160 off my list" in [each.label.replace("\\", "") for each in again.button]
    again.button(key="empty_list").click().run()
    assert button(open_app("ranking.py"), "Open the last round").session_state["work"].picked == []


FILTERS = {
    "only_to_do": False, "tag_part": "t-0", "filter_area": ["Glasshouse A", "Laundry"],
    "filter_trap_type": ["float_thermostatic"],
}  # fmt: skip


def filters(app: AppTest) -> dict[str, object]:
    """Return what the list is filtered by, where it is not as at first."""
    now = {name: app.session_state[f"kept_{name}"] for name in frames.AT_FIRST}
    return {name: value for name, value in now.items() if value != frames.AT_FIRST[name]}


def shown_open(app: AppTest) -> bool:
    """Return whether the filters are drawn open, so that whoever wakes the phone sees them."""
    [filters_of] = [one for one in app.expander if one.label == findings_words.FILTER]
    return bool(filters_of.proto.expanded)


def filtered(app: AppTest) -> AppTest:
    """Go to the ranked list and set `FILTERS` there, as a person does."""
    app = go(app, "ranking.py")
    app.toggle(key="kept_only_to_do").set_value(False)
    app.text_input(key="kept_tag_part").set_value("t-0")
    for name in ("filter_area", "filter_trap_type"):
        app.multiselect(key=f"kept_{name}").set_value(FILTERS[name])
    return app.run()


def counted(app: AppTest) -> str:
    [said] = [each.value for each in app.markdown if "shown" in each.value]
    return said


def test_what_the_list_is_filtered_by_comes_back_with_the_round(open_app: Opened) -> None:
    app = go(open_app().button(key="sample").click().run(), "ranking.py")
    every = counted(app)
    assert not (home() / "last_round_list.json").exists()  # nothing was touched yet
    round_kept = (home() / "last_round.zip").stat().st_mtime_ns
    app = filtered(app)
    assert (home() / "last_round.zip").stat().st_mtime_ns == round_kept
    again = button(open_app("ranking.py"), "Open the last round")
    assert not again.exception
    assert filters(again) == FILTERS
    assert shown_open(again)
    assert not shown_open(app)  # as the person left it
    assert counted(again) == counted(app) != every
    assert table(again)["tag"].tolist() == table(app)["tag"].tolist()
    # Taken off, they stay off; the work list that lies in the same file stays too.
    tag = table(again)["tag"].iloc[0]
    again = again.button(key=f"pick_{tag}").click().run()
    for name in ("filter_area", "filter_trap_type"):
        again.multiselect(key=f"kept_{name}").set_value([])
    again.run()
    last = button(open_app("ranking.py"), "Open the last round")
    assert filters(last) == {"only_to_do": False, "tag_part": "t-0"}
    assert last.session_state["work"].picked == [tag]


def test_filters_stay_when_the_round_is_judged_again_and_go_with_it(open_app: Opened) -> None:
    app = filtered(open_app().button(key="sample").click().run())
    app = unfold(go(app, "start.py"), "site")
    app = button(app, "Judge again with these settings")
    again = button(open_app("ranking.py"), "Open the last round")
    assert filters(again) == FILTERS
    afresh = button(go(again, "start.py"), "Close this round").button(key="sample").click().run()
    assert filters(go(afresh, "ranking.py")) == {}
    assert filters(button(open_app("ranking.py"), "Open the last round")) == {}


def test_one_window_does_not_take_the_filters_of_another(open_app: Opened) -> None:
    ours = open_app().button(key="sample").click().run()
    theirs = button(open_app("ranking.py"), "Open the last round")
    filtered(ours)
    assert filters(theirs.run()) == {}


def test_what_is_picked_and_not_in_the_round_any_more_is_dropped(
    open_app: Opened, tmp_path: Path
) -> None:
    rows = "tag,inlet_temp_f,supply_psig,area\nT-1,180,15,{}\nT-2,190,15,Laundry\n"
    app = give(open_app(), "monday.csv", rows.format("West").encode())
    app = go(app, "ranking.py")
    app.toggle(key="kept_only_to_do").set_value(False)
    app = app.multiselect(key="kept_filter_area").set_value(["Laundry", "West"]).run()
    told = json.loads((home() / "last_round_list.json").read_text())
    assert told["filters"] == {"only_to_do": False, "filter_area": ["Laundry", "West"]}
    other = tmp_path / "tuesday.csv"
    other.write_text(rows.format("East"))
    # The same session: another round is judged in the place of this one.
    app.session_state["work"].findings = analyze(other)
    app = app.run()
    assert not app.exception
    assert app.multiselect(key="kept_filter_area").value == ["Laundry"]
    assert table(app)["tag"].tolist() == ["T-2"]
    # A reload that finds filters which are none of this round's, or no filters at all.
    strange = {"only_to_do": "no", "tag_part": 3, "filter_area": ["Laundry", "Mars", ["x"], None],
               "filter_state": "cold", "site_altitude_ft": 9, "unit": "T-9"}  # fmt: skip
    told["filters"] = strange
    (home() / "last_round_list.json").write_text(json.dumps(told))
    again = button(open_app("ranking.py"), "Open the last round")
    assert not again.exception
    assert filters(again) == {"filter_area": ["Laundry"]}
    assert "kept_site_altitude_ft" not in again.session_state
    for damaged in (5, "text", [1], None):
        told["filters"] = damaged
        (home() / "last_round_list.json").write_text(json.dumps(told))
        again = button(open_app("ranking.py"), "Open the last round")
        assert not again.exception
        assert filters(again) == {}


def test_the_work_list_stays_when_the_round_is_judged_again(open_app: Opened) -> None:
    app = go(open_app().button(key="sample").click().run(), "ranking.py")
    app = app.button(key="pick_T-160").click().run()
    app = unfold(go(app, "start.py"), "site")
    app.number_input(key="kept_site_price_per_mmbtu").set_value(16.0)
    button(app, "Judge again with these settings")
    again = button(open_app("ranking.py"), "Open the last round")
    assert again.session_state["work"].picked == ["T-160"]


def test_the_list_of_another_round_or_a_damaged_one_is_not_taken(findings: Findings) -> None:
    first = kept.keep(kept.KeptRound(findings, picked=["T-1"]))
    opened = kept.opened()
    assert opened is not None
    assert (opened.picked, opened.mark) == (["T-1"], first)
    second = kept.keep(kept.KeptRound(findings))
    kept.keep_list(first, ["T-2"], {"tag_part": "T"})  # another window, still at the round before
    opened = kept.opened()
    assert opened is not None
    assert (opened.picked, opened.filters, opened.mark) == ([], {}, second)
    kept.keep_list(second, ["T-3"], {"tag_part": "T"})
    (home() / "last_round_list.json").write_text('{"mark": 3')
    opened = kept.opened()
    assert opened is not None
    assert (opened.picked, opened.filters) == ([], {})
    kept.forget()
    assert list(home().iterdir()) == []


def test_the_folder_is_this_users_alone_and_holds_one_last_round(findings: Findings) -> None:
    for name in ("a.csv", "b.csv"):
        kept.keep(kept.KeptRound(findings, Upload(name, b"tag\n")))
    assert home().stat().st_mode & 0o077 == 0
    [path] = home().iterdir()
    assert (path.name, path.stat().st_mode & 0o077) == ("last_round.zip", 0)
    about = kept.about()
    assert about is not None
    assert about.name == "b.csv"


def test_the_last_round_is_for_this_user_alone_from_its_first_byte(
    findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []
    write = Findings.to_bytes

    def looked_at(self: Findings) -> bytes:
        seen.extend(path.stat().st_mode & 0o777 for path in home().iterdir())
        return write(self)

    monkeypatch.setattr(Findings, "to_bytes", looked_at)
    before = os.umask(0)
    try:
        kept.keep(kept.KeptRound(findings))
    finally:
        os.umask(before)
    assert seen == [0o600]
    assert (home() / "last_round.zip").stat().st_mode & 0o777 == 0o600


def test_a_damaged_last_round_is_told_and_forgotten(open_app: Opened, findings: Findings) -> None:
    kept.keep(kept.KeptRound(findings))
    path = home() / "last_round.zip"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert kept.about() is None
    assert kept.opened() is None
    app = open_app("overview.py")
    assert not app.exception
    assert "Open the last round" not in [each.label for each in app.button]


def test_a_folder_that_cannot_be_written_stops_nobody(
    open_app: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "file" / "home"))
    app = open_app().button(key="sample").click().run()
    assert not app.exception
    assert title(app) == "Overview"


def test_corrections_are_remembered_for_the_same_headers(open_app: Opened) -> None:
    app = give(open_app(), "monday.csv", DOUBTFUL)
    box = next(box for box in app.selectbox if box.label == "This column holds")
    [wanted] = [option for option in box.options if option.startswith("inlet temp, °C")]
    app = box.select(wanted).run().button(key="judge").click().run()
    judged = app.session_state["work"].findings.table

    tuesday = give(open_app(), "tuesday.csv", DOUBTFUL)
    assert title(tuesday) == "Overview"
    assert tuesday.session_state["work"].findings.table["inlet_temp_f"].tolist() == (
        judged["inlet_temp_f"].tolist()
    )
    seen = go(tuesday, "understood.py")
    assert taken_for(seen, "Inlet Temp") == "inlet temp, °C (as you set it)"
    afresh = button(seen, "Read them afresh")
    assert taken_for(afresh, "Inlet Temp") == "inlet temp, °F (unit ASSUMED)"
    assert title(give(open_app(), "wednesday.csv", DOUBTFUL)) == "How your file was read"


def test_other_headers_or_another_units_row_are_asked_about_again() -> None:
    plain = headers_of(Upload("a.csv", DOUBTFUL))
    remembered.remember(plain, plain.matches)
    assert remembered.recalled(plain) is not None
    reordered = b"\n".join(b",".join(reversed(line.split(b","))) for line in DOUBTFUL.split(b"\n"))
    assert remembered.recalled(headers_of(Upload("b.csv", reordered))) is not None
    for other in (DOUBTFUL.replace(b"dB", b"Sound"), DOUBTFUL.replace(b"(barg)", b"(psig)")):
        assert remembered.recalled(headers_of(Upload("c.csv", other))) is None


def test_what_was_remembered_is_bounded_and_can_be_damaged() -> None:
    plain = headers_of(Upload("a.csv", DOUBTFUL))
    remembered.remember(plain, ())
    [path] = (home() / "headers").iterdir()
    path.write_bytes(b"\xff not toml")
    assert remembered.recalled(plain) is None
    for number in range(remembered.MOST_REMEMBERED):
        (home() / "headers" / f"{number}.toml").write_text("[columns]\n")
    remembered.remember(plain, ())
    assert len(list((home() / "headers").iterdir())) == remembered.MOST_REMEMBERED
    assert remembered.recalled(plain) == {}


def test_the_manner_of_figures_is_remembered_and_a_wrong_one_ignored() -> None:
    assert remembered.manner() == Manner()
    remembered.remember_manner(Manner("si", "de_DE"))
    assert remembered.manner() == Manner("si", "de_DE")
    with pytest.raises(UsageError):
        Manner("cgs")
    (home() / "figures.json").write_text('{"units": "cgs", "locale": "en"}')
    assert remembered.manner() == Manner()
