"""From a file to findings on the screen, as a technician goes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings, Site, analyze
from survey.dashboard.headers import target_in_words, targets
from survey.dashboard.judging import Upload, judge, sample, site_of
from survey.readings import load_header_map
from survey.reports import words

from .conftest import ROOT, SAMPLE, Opened, button, go, texts, title, told, unfold

DOUBTFUL = (
    "Tag no,Device,Inlet Temp,Outlet Temp (°C),Supply pressure (barg),dB\n"
    + "".join(f"T-{n},steam trap,{120 + n},{98 + n},1.1,{30 + n}\n" for n in range(6))
).encode()


def give(app: AppTest, name: str, content: bytes) -> AppTest:
    app.file_uploader(key="round_file").set_value((name, content, "application/octet-stream"))
    return app.run()


def taken_for(app: AppTest, header: str) -> str:
    return told(app, "Header").set_index("Header").loc[header, "Taken for"]


def metrics(app: AppTest) -> dict[str, str]:
    return {metric.label: metric.value for metric in app.metric}


def test_the_sample_shows_the_totals_that_analyze_gives(
    open_app: Opened, findings: Findings
) -> None:
    app = open_app().button(key="sample").click().run()

    assert not app.exception
    assert title(app) == "Overview"
    summary = findings.summary
    assert metrics(app) == {
        "Devices judged": f"{summary['rows_judged']:,}",
        "Cost of lost steam, a year": words.money(summary["annual_cost"], "USD"),
        "Steam lost": f"{words.figure(summary['steam_loss_lb_per_h'])} lb/h",
    }
    shown = app.session_state["work"].findings
    assert shown.table.equals(findings.table)
    changing = ("made_at", "seconds")
    assert {k: v for k, v in shown.summary.items() if k not in changing} == {
        k: v for k, v in summary.items() if k not in changing
    }


def test_units_by_state_add_up_to_the_devices_judged(open_app: Opened, findings: Findings) -> None:
    app = open_app("overview.py", findings)
    counted = told(app, "Units")["Units"].astype("int64")
    assert counted.sum() == findings.summary["rows_judged"]
    assert all(line in texts(app) for line in findings.summary["assumptions"])


def test_a_messy_sheet_is_shown_before_it_is_judged(open_app: Opened) -> None:
    content = (SAMPLE / "nursery_messy.xlsx").read_bytes()
    app = give(open_app(), "messy.xlsx", content)
    assert title(app) == "How your file was read"
    headers = told(app, "Header").set_index("Header")
    assert headers.loc["Steam pressure [bar g]"].tolist() == ["supply, bar gauge", "1.06"]
    assert headers.loc["Fitter's job", "Taken for"] == "not used, kept as it is"
    app = app.button(key="judge").click().run()
    assert title(app) == "Overview"
    expected = analyze(SAMPLE / "nursery_messy.xlsx")
    assert app.session_state["work"].findings.table.equals(expected.table)
    set_aside = told(app, "Reason")
    assert set_aside["Reason"].tolist() == expected.rejects["reason"].tolist()
    assert len(set_aside) == expected.summary["rows_set_aside"] > 0


def test_the_content_and_not_the_name_says_what_a_file_is(open_app: Opened) -> None:
    app = give(open_app(), "round.csv", (SAMPLE / "nursery_round.parquet").read_bytes())
    assert title(app) == "Overview"


def test_an_assumed_unit_is_put_first_and_can_be_corrected(open_app: Opened) -> None:
    app = give(open_app(), "doubtful.csv", DOUBTFUL)
    assert "One unit was assumed: see that it is right." in texts(app)
    assert taken_for(app, "Inlet Temp") == "inlet temp, °F (unit ASSUMED)"

    box = next(box for box in app.selectbox if box.label == "This column holds")
    [wanted] = [option for option in box.options if option.startswith("inlet temp, °C")]
    app = box.select(wanted).run()
    assert not app.exception
    assert taken_for(app, "Inlet Temp") == "inlet temp, °C (as you set it)"
    assert app.success, "nothing is left to decide"

    app = app.button(key="judge").click().run()
    judged = app.session_state["work"].findings.table
    assert judged["inlet_temp_f"].tolist() == pytest.approx([248 + 1.8 * n for n in range(6)])


def test_an_assumed_unit_can_be_confirmed(open_app: Opened) -> None:
    app = button(give(open_app(), "doubtful.csv", DOUBTFUL), "Yes, that is right")
    assert app.success
    assert app.session_state["work"].header_map == {"Inlet Temp": "inlet_temp_f"}


def test_corrections_can_be_kept_and_given_again(open_app: Opened, tmp_path) -> None:
    app = button(give(open_app(), "doubtful.csv", DOUBTFUL), "Yes, that is right")
    kept = tmp_path / "map.toml"
    kept.write_text(_map_offered(app), encoding="utf-8")
    assert load_header_map(kept)["Inlet Temp"] == "inlet_temp_f"

    again = give(open_app(), "doubtful.csv", DOUBTFUL)
    assert not again.success
    again.file_uploader(key="map_file").set_value(("map.toml", kept.read_bytes(), "text/plain"))
    assert again.run().success


def _map_offered(app: AppTest) -> str:
    from survey.readings import dump_header_map

    assert "Keep these corrections (map file)" in [each.label for each in app.download_button]
    return dump_header_map(app.session_state["work"].understood.matches)


@pytest.mark.parametrize(
    ("name", "content", "words_in_it"),
    [
        ("empty.csv", b"", "What to do: "),
        ("photo.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "What to do: "),
        ("broken.xlsx", b"PK\x03\x04" + b"\x00" * 200, "What to do: "),
        ("names.csv", b"tag,note\nT-1,good\n", "What to do: "),
    ],
)
def test_a_file_that_cannot_be_used_says_what_to_do(
    open_app: Opened, name: str, content: bytes, words_in_it: str
) -> None:
    app = give(open_app(), name, content)
    if title(app) != "survey":
        app = app.button(key="judge").click().run()
    assert not app.exception
    assert title(app) == "survey"
    assert app.error
    said = texts(app)
    assert words_in_it in said
    assert "/tmp" not in said
    assert "Traceback" not in said


def test_a_fault_of_ours_is_told_in_words_too(
    open_app: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> Findings:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("survey.dashboard.flow.judge", fails)
    app = open_app().button(key="sample").click().run()
    assert title(app) == "survey"
    assert "secret detail" not in texts(app)
    assert "What to do" in texts(app)


def test_site_settings_change_the_findings(open_app: Opened) -> None:
    app = open_app().button(key="sample").click().run()
    before = app.session_state["work"].findings.summary
    app = unfold(go(app, "start.py"), "site")
    app.number_input(key="kept_site_price_per_mmbtu").set_value(16.0)
    app = button(app, "Judge again with these settings")
    after = app.session_state["work"].findings.summary
    assert title(app) == "Overview"
    assert after["annual_cost"] == pytest.approx(2 * before["annual_cost"])


def test_site_settings_are_typed_in_the_units_of_the_screens_and_kept_in_one(
    open_app: Opened,
) -> None:
    app = unfold(unfold(open_app(), "site"), "figures")
    app.number_input(key="kept_site_altitude_ft").set_value(1000.0)
    app = app.radio(key="figures_units").set_value("si").run()
    altitude = app.number_input(key="site_in_si_altitude_ft")
    assert (altitude.label, altitude.value) == ("Altitude (m)", 304.8)
    given = app.session_state["work"].site_given
    assert given["altitude_ft"] == 1000.0
    price = app.number_input(key="site_in_si_price_per_mmbtu")
    assert price.label == "Fuel price for each GJ"
    assert price.placeholder.endswith(" 7.583")  # 8.00 for each MMBtu of 1.05506 GJ
    app = price.set_value(10.0).run()
    app = app.number_input(key="site_in_si_altitude_ft").set_value(100.0).run()
    given = app.session_state["work"].site_given
    assert given["altitude_ft"] == pytest.approx(100.0 / 0.3048)
    assert given["fuel"]["price_per_mmbtu"] == pytest.approx(10.55056, rel=1e-6)
    app = app.radio(key="figures_units").set_value("us").run()
    assert not app.exception
    assert app.number_input(key="kept_site_altitude_ft").value == pytest.approx(328.084, rel=1e-5)


def test_what_is_typed_stands_over_the_site_file() -> None:
    file = Upload("site.toml", b'name = "Shed"\n[fuel]\nkind = "coal"\nprice_per_mmbtu = 5\n')
    mixed = site_of(file, {"fuel": {"price_per_mmbtu": 7.0}, "altitude_ft": 900.0})
    assert (mixed.name, mixed.altitude_ft) == ("Shed", 900.0)
    assert (mixed.fuel.kind, mixed.fuel.price_per_mmbtu) == ("coal", 7.0)


def test_a_site_file_that_cannot_be_used_is_named_and_left_out(open_app: Opened) -> None:
    app = unfold(open_app(), "site")
    given = ("s.toml", b"altitud_ft = 3\n", "text/plain")
    app.file_uploader(key="site_file_given").set_value(given)
    app = app.run()
    assert not app.exception
    assert "altitude_ft" in texts(app)
    assert app.session_state["work"].site_file is None


def test_judging_on_the_screen_is_judging_on_the_command_line(
    site: Site, findings: Findings
) -> None:
    upload = Upload("a b/../c.csv", (SAMPLE / "nursery_round.csv").read_bytes())
    assert upload.safe_name == "a_b_.._c.csv"
    assert judge(upload, site=site, header_map={}).table.equals(findings.table)


def test_the_sample_comes_with_the_package_wherever_the_screens_are_started(
    open_app: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    packaged = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    globs = packaged["tool"]["setuptools"]["package-data"]["survey"]
    for upload in sample():
        assert upload.content == (SAMPLE / upload.name).read_bytes()
        inside = ROOT / "survey" / "sample" / upload.name
        assert any(inside in (ROOT / "survey").glob(pattern) for pattern in globs)
    assert title(open_app().button(key="sample").click().run()) == "Overview"


def test_absolute_pressures_are_offered_as_absolute() -> None:
    said = {target: target_in_words(target) for target in targets()}
    assert said["supply_psia"] == "supply, psia: absolute pressure ahead of the device"
    assert said["supply_psig"] == "supply, psig: gauge pressure ahead of the device"
    assert said["return_bar"].startswith("return, bar gauge: gauge pressure")
    absolute = [words for words in said.values() if "psia" in words or "absolute:" in words]
    assert len(absolute) == 6
    assert not [words for words in absolute if "gauge" in words]


def test_rows_set_aside_are_shown_with_their_tag(open_app: Opened) -> None:
    rows = "Trap No,inlet_temp_f,tag\nST-1,200,a\nST-2,23o,b\n,210,c\n"
    upload = Upload("r.csv", rows.encode())
    found = judge(upload, site=Site(), header_map={"Trap No": "tag", "tag": ""})
    shown = told(open_app("overview.py", found), "Reason")
    assert shown["Row"].tolist() == ["3", "4"]
    assert shown["Tag"].tolist() == ["ST-2", ""]


def test_the_first_page_draws_no_form_before_it_is_asked_for(open_app: Opened) -> None:
    """Each kind of field is a script of its own that a phone would have to fetch first."""
    app = open_app()
    drawn = [app.number_input, app.selectbox, app.text_input, app.radio, app.dataframe]
    assert [len(kind) for kind in drawn] == [0] * len(drawn)
    assert len(app.file_uploader) == 1


def test_a_reading_that_no_header_name_tells_is_asked_for_and_its_answer_remembered(
    open_app: Opened,
) -> None:
    rows = "".join(f"T-{n},{120 + n},1.1,28,KM {n},{n}\n" for n in range(6))
    content = ("Tag,Inlet temp °C,Zufuhr [bar g],Grund dB,Fitter,Floor\n" + rows).encode()
    app = give(open_app(), "own.csv", content)
    said = texts(app)
    assert "It is not clear what 'Zufuhr [bar g]' holds" in said
    assert "It is not clear what 'Grund dB' holds" in said
    assert "Fitter' holds" not in said
    assert "Floor' holds" not in said
    for first in ("supply, bar gauge", "background, dB"):
        box = next(box for box in app.selectbox if box.label == "This column holds")
        [wanted] = [option for option in box.options if option.startswith(f"{first}:")]
        assert wanted in box.options[1:3]  # what is read in the unit of the header comes first
        app = box.select(wanted).run()
    assert app.success, "nothing is left to decide"
    app = app.button(key="judge").click().run()
    judged = app.session_state["work"].findings.table
    assert judged["supply_psig"].tolist() == pytest.approx([1.1 * 14.503774] * 6, rel=1e-4)
    assert title(give(open_app(), "own.csv", content)) == "Overview"


def test_a_reading_that_is_left_as_it_is_is_not_asked_for_again(open_app: Opened) -> None:
    content = b"Tag,Inlet temp C,Pipe size mm\n" + b"".join(
        f"T-{n},{120 + n},15\n".encode() for n in range(6)
    )
    app = give(open_app(), "own.csv", content)
    assert "It is not clear what 'Pipe size mm' holds" in texts(app)
    app = button(app, "Leave it so")
    assert app.success
    app = app.button(key="judge").click().run()
    assert title(give(open_app(), "own.csv", content)) == "Overview"


def test_to_judge_without_an_answer_is_an_answer(open_app: Opened) -> None:
    content = b"Tag,Inlet temp C,Pipe size mm\nT-1,120,15\nT-2,121,15\n"
    app = give(open_app(), "own.csv", content)
    assert app.button(key="judge").click().run().title[0].value == "Overview"
    assert title(give(open_app(), "own.csv", content)) == "Overview"
