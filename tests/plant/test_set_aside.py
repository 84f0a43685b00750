"""Rows set aside when the round was read: the plan names them, wherever it is shown."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result
from streamlit.testing.v1 import AppTest

from survey import Findings, Site, analyze
from survey.cli import main
from survey.dashboard import state
from survey.plant.aside import NONE_ASIDE, Rejected, set_aside_by_station
from survey.plant.stepdown import Wishes
from survey.reports import manner
from survey.reports.plan import plan_text
from survey.reports.plan_paper import make_paper

PAGE = Path(__file__).resolve().parents[2] / "survey" / "dashboard" / "plan.py"
HEAD = (
    "Trap no,{station},Heater,Area,Service,Orifice (in),Supply psig,Return psig,Ambient F,"
    "Inlet F,Outlet F,Thermometer,dB,Background dB,Pattern,{last}\n"
)
IMPOSSIBLE = -900  # °F: such a row is set aside
EAST = "ST-08, ST-13, ST-18, ST-19, row 26, ST-01 (row 27)"
NOWHERE = "ST-30, ST-31 (station Nord)"


def line(tag: str, station: str, inlet_f: int, *, psig: float = 8.0, lift_ft: int = 3) -> str:
    return (
        f"{tag},{station},UH-{tag},Glasshouse A,unit_heater,0.25,{psig},0.5,65,{inlet_f},200,"
        f"contact,30,25,intermittent,{lift_ft}\n"
    )


def rows(bad: tuple[int, ...] = (8, 13, 18, 19)) -> list[str]:
    east = [line(f"ST-{i:02d}", "East", IMPOSSIBLE if i in bad else 231) for i in range(1, 21)]
    west = [line(f"ST-{i}", "West", 247, psig=15.0) for i in range(21, 25)]
    return [*east, *west]


def written(place: Path, lines: list[str], station: str = "Station", last: str = "Lift ft") -> Path:
    place.write_text(HEAD.format(station=station, last=last) + "".join(lines), encoding="utf-8")
    return place


@pytest.fixture
def round_file(tmp_path: Path) -> Path:
    more = [
        line("", "East", IMPOSSIBLE), line("ST-01", "East", 231),
        line("ST-30", "", IMPOSSIBLE), line("ST-31", "Nord", IMPOSSIBLE),
    ]  # fmt: skip
    return written(tmp_path / "round.csv", [*rows(), *more])


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["pressure", *map(str, arguments)], prog_name="survey")


def joined(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def test_command_paper_and_json_name_what_was_set_aside(round_file: Path, tmp_path: Path) -> None:
    pages = [tmp_path / "plan.html", tmp_path / "plan.json"]
    for page in pages:
        done = run(round_file, "--to", 2, "--spare", 50, "--out", page)
        assert (done.exit_code, done.stderr) == (0, "")
    text = joined(done.stdout)
    for said in (text, joined(pages[0].read_text(encoding="utf-8"))):
        first = said.index("Station East (8.00 psig today) can go down")
        short = "6 rows set aside when the round was read are not planned for: read them before"
        assert first < said.index(short) < said.index("Before anyone touches a valve")
        assert said.count(f"6 rows set aside when the round was read: {EAST}. They are not") == 1
        assert said.count(f"may be of any station here: {NOWHERE}. They are not planned for.") == 1
        assert "6 rows set aside are not in these figures: read them first." in said
        west = said[said.index("Station West", said.index("Step 1")):]
        assert "set aside" not in west
    plan = json.loads(pages[1].read_text(encoding="utf-8"))
    east, west = plan["stations"]
    assert east["set_aside"] == {"count": 6, "names": EAST.split(", ")}
    assert west["set_aside"]["count"] == 0
    assert plan["set_aside"]["count"] == 2


def test_the_screen_names_what_was_set_aside(round_file: Path) -> None:
    app = AppTest.from_file(str(PAGE), default_timeout=60)
    app.session_state[state._WORK] = state.Work(findings=analyze(round_file, site=Site()))
    app = app.run()
    assert not app.exception
    said = " ".join(text.value for text in app.text)
    assert said.count(f"6 rows set aside when the round was read: {EAST}. They are not") == 1
    assert said.count(f"may be of any station here: {NOWHERE}.") == 1


def test_they_are_named_from_a_saved_findings_file_too(round_file: Path, tmp_path: Path) -> None:
    for suffix in (".parquet", ".xlsx"):
        place = tmp_path / f"findings{suffix}"
        analyze(round_file, site=Site()).save(place)
        paper = make_paper(Findings.load(place), site=Site(), wishes=Wishes(2.0))
        assert paper.plan.stations[0].set_aside.count == 6
        assert EAST in joined(plan_text(paper))


def test_the_first_dozen_are_named_and_the_rest_counted(tmp_path: Path) -> None:
    place = written(tmp_path / "round.csv", rows(bad=tuple(range(1, 16))))
    said = joined(run(place, "--to", 2, "--spare", 50).stdout)
    names = ", ".join(f"ST-{i:02d}" for i in range(1, 13))
    assert f"15 rows set aside when the round was read: {names} and 3 more. They are" in said


def test_one_row_is_spoken_of_as_one(tmp_path: Path) -> None:
    place = written(tmp_path / "round.csv", rows(bad=(8,)))
    said = joined(run(place, "--to", 2, "--spare", 50).stdout)
    assert "1 row set aside when the round was read: ST-08. It is not planned for. Read it" in said


def test_nothing_set_aside_says_nothing(tmp_path: Path) -> None:
    assert "set aside" not in run(written(tmp_path / "r.csv", rows(bad=())), "--to", 2).stdout


def test_of_two_files_a_row_without_a_tag_is_named_with_its_file(tmp_path: Path) -> None:
    lines = [line("", "East", IMPOSSIBLE)]
    other = written(tmp_path / "more.csv", lines, station="Reducing station")
    first = written(tmp_path / "first.csv", rows(bad=()))
    said = joined(run(first, other, "--to", 2, "--spare", 50).stdout)
    assert "1 row set aside when the round was read: more.csv, row 2." in said


def test_without_any_station_they_are_of_the_one_there_is(tmp_path: Path) -> None:
    lines = [one for one in rows() if ",West," not in one]
    place = written(tmp_path / "round.csv", lines, station="Colour")
    plan = make_paper(analyze(place), site=Site(), wishes=Wishes(2.0)).plan
    assert plan.stations[0].set_aside.names == ("ST-08", "ST-13", "ST-18", "ST-19")
    assert plan.set_aside.count == 0


def test_a_header_kept_under_another_name_is_found(tmp_path: Path) -> None:
    # 'area' is a column of its own, but here it is said to be the station.
    lines = [one.replace("Glasshouse A", "") for one in rows()]
    place = written(tmp_path / "round.csv", lines, station="area").rename(tmp_path / "mapped.csv")
    text = place.read_text(encoding="utf-8").replace(",Area,", ",Spot,")
    place.write_text(text, encoding="utf-8")
    map_file = tmp_path / "map.toml"
    map_file.write_text('[columns]\narea = "station"\nSpot = ""\n', encoding="utf-8")
    said = joined(run(place, "--to", 2, "--spare", 50, "--map", map_file).stdout)
    assert "4 rows set aside when the round was read: ST-08, ST-13, ST-18, ST-19." in said


def test_names_of_rows_are_harmless(tmp_path: Path) -> None:
    lines = [*rows(bad=()), line("<b>x</b>\x1b[31m", "East", IMPOSSIBLE)]
    page = tmp_path / "plan.html"
    done = run(written(tmp_path / "round.csv", lines), "--to", 2, "--out", page)
    assert "\x1b" not in done.stdout
    assert "&lt;b&gt;x" in page.read_text(encoding="utf-8")
    assert "<b>x" not in page.read_text(encoding="utf-8")


def test_tags_with_figures_in_them_stay_as_they_are(tmp_path: Path) -> None:
    lines = [*rows(bad=()), line("7.5 psig", "East", IMPOSSIBLE)]
    place = written(tmp_path / "round.csv", lines)
    with manner.using(units="si", locale="de_DE"):
        text = joined(plan_text(make_paper(analyze(place), site=Site(), wishes=Wishes(2.0))))
    assert "when the round was read: 7.5 psig." in text


def test_nothing_kept_of_them_is_nothing_to_name() -> None:
    for rejected in (None, Rejected(pd.DataFrame())):
        told = set_aside_by_station(rejected, stations=["N"], judged=[])
        assert told == ({}, NONE_ASIDE)


# A header that no column was found for

def test_headers_that_were_not_used_are_named_as_analyze_names_them(tmp_path: Path) -> None:
    place = written(tmp_path / "round.csv", rows(), station="Loop")
    said = joined(run(place, "--to", 2).stdout)
    judged = CliRunner().invoke(main, ["analyze", str(place)], prog_name="survey")
    hint = "Noticed while reading - headers not understood, kept but not used (settable with a map)"
    assert f"{hint}: 'Loop'" in said
    assert f"{hint}: 'Loop'" in joined(judged.stdout)


def test_a_header_that_only_the_plan_uses_is_not_called_unused(tmp_path: Path) -> None:
    place = written(tmp_path / "round.csv", rows(), last="return main")
    assert "not understood" not in run(place, "--to", 2).stdout
    unused = written(tmp_path / "both.csv", rows(), station="Loop", last="return main")
    said = joined(run(unused, "--to", 2).stdout)
    assert "(settable with a map): 'Loop' To take it along" in said


def test_the_round_after_a_step_has_its_own_hint(round_file: Path, tmp_path: Path) -> None:
    later = written(tmp_path / "later.csv", rows(), station="Loop")
    said = joined(run(round_file, "--to", 2, "--after", later).stdout)
    assert said.count("Noticed while reading") == 1
    assert "Noticed while reading the round after the step - headers not understood" in said
