"""`survey next` and `survey route`: words, files and exit codes."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.findings import Findings
from survey.reports.next_round import _of_all, _worth, every, odds
from survey.reports.words import CAUTION_POINTS
from survey.rounds.content import day_read
from survey.rounds.interval import Interval
from survey.rounds.pressure_classes import PRESSURE_CLASSES
from survey.rounds.series import series_of
from tests.rounds.invented import row

SITE = Path(__file__).resolve().parents[2] / "sample_data" / "nursery_site.toml"


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [*map(str, arguments)], prog_name="survey")


def joined(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def files(
    tmp_path_factory: pytest.TempPathFactory,
    sample_findings: Findings,
    sample_after_repair: Findings,
) -> list[Path]:
    folder = tmp_path_factory.mktemp("rounds")
    paths = [folder / "after.parquet", folder / "before.parquet"]
    for path, findings in zip(paths, (sample_after_repair, sample_findings), strict=False):
        findings.save(path)
    return paths


def test_next_says_when_what_and_how_often(files: list[Path], tmp_path: Path) -> None:
    place = tmp_path / "next.html"
    done = run("next", *files, "--site", SITE, "--on", "2026-11-01", "--out", place)
    assert (done.exit_code, done.stderr) == (0, "")
    text = joined(done.stdout)
    assert "From 2 rounds: 2025-11-04 and 2026-01-20." in text
    assert "What fails next, before 2026-11-01" in text
    assert "30 to 150 psig; traps: 78" in text
    assert "published: monthly to quarterly" in text
    assert "US DOE AMO Steam Tip Sheet 1" in text
    assert "1 in " in text
    page = place.read_text(encoding="utf-8")
    assert "<script" not in page
    assert "Failures per 100 traps a year" in page


def test_what_looking_costs_moves_the_interval(files: list[Path]) -> None:
    cheap = run("next", *files, "--look-cost", 1).stdout
    dear = run("next", *files, "--look-cost", 100).stdout
    weeks = re.findall(r"least cost: every (\d+) weeks of steam", joined(cheap))
    assert len(weeks) == 2
    assert all(int(one) < 20 for one in weeks)
    assert len(re.findall(r"least cost: every [\d.]+ seasons", joined(dear))) == 2


def test_a_route_is_printed_with_its_reasons(files: list[Path]) -> None:
    done = run("route", *files)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith("Route: 318 devices in the order of the last walk.")
    assert "  T-153  last time stuck shut: see whether it was mended" in done.stdout
    assert "run it again with --out sheet.html" in done.stdout


def test_a_route_is_written_three_ways(files: list[Path], tmp_path: Path) -> None:
    sheet, phone, csv = (tmp_path / name for name in ("sheet.html", "phone.html", "round.csv"))
    asked = ["--areas", "Laundry", "--out", sheet, "--phone", phone, "--csv", csv]
    done = run("route", *files, *asked)
    assert (done.exit_code, done.stderr) == (0, "")
    assert "42 devices" in done.stdout
    assert "276 others left out" in done.stdout
    for page in (sheet.read_text("utf-8"), phone.read_text("utf-8")):
        assert "T-153" in page
        assert "Glasshouse" not in page
        assert all(page.count(point.replace("'", "&#39;")) == 1 for point in CAUTION_POINTS)
    table = pd.read_csv(csv)
    assert len(table) == 42
    assert table["inlet_temp_f"].isna().all()
    assert table["trap_type"].notna().sum() > 5


def test_the_kept_rounds_are_used_where_no_file_is_named(
    files: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path))
    monkeypatch.delenv("SURVEY_STORE", raising=False)
    empty = run("next")
    assert empty.exit_code == 2
    assert "add a round with 'survey rounds add'" in joined(empty.stderr)
    for path in files:
        assert run("rounds", "add", path).exit_code == 0
    assert run("rounds", "repair", "T-153", "--on", "2026-02-01").exit_code == 0
    from_files = run("next", *files, "--on", "2026-11-01").stdout
    from_store = run("next", "--on", "2026-11-01").stdout
    assert "From 2 rounds: 2025-11-04 and 2026-01-20." in joined(from_store)
    # T-153 was stuck shut; its repair is noted only in the store.
    assert "Of 147 traps" in joined(from_files)
    assert "Of 148 traps" in joined(from_store)
    assert run("route").stdout.startswith("Route: 318 devices")
    both = run("route", *files, "--store", tmp_path / "rounds.sqlite")
    assert (both.exit_code, "leave out one of the two" in joined(both.stderr)) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["route", "--out", "sheet.pdf"], "A route sheet ends in .html."),
        (["route", "--phone", "sheet.htm"], "A page for the phone ends in .html."),
        (["route", "--csv", "round.xlsx"], "A round to fill in ends in .csv."),
        (["route", "--out", "a.html", "--phone", "a.html"], "A file of its own was expected"),
        (["route", "--areas", "Nowhere"], "At least one device was expected on the route."),
        (["route", "--on", "2020-01-01"], "A day after the last round was expected after --on."),
        (["next", "--on", "9999-12-31"], "A day within ten years of the last round was expected"),
        (["route", "--on", "2036-01-23"], "give a day up to 2036-01-21"),
        (["route", "--on", "soon"], "does not match the format '%Y-%m-%d'"),
        (["next", "--out", "next.docx"], "This paper ends in .html or .txt."),
        (["next", "--look-cost", "nan"], "nan"),
    ],
)
def test_what_cannot_be_meant_is_said(
    files: list[Path], arguments: list[str], said: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    done = run(arguments[0], *files, *arguments[1:])
    assert done.exit_code == 2
    assert done.stdout == ""
    assert said in joined(done.stderr)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["next", "route"])
def test_one_round_named_twice_is_not_two(
    command: str, files: list[Path], tmp_path: Path
) -> None:
    copied = tmp_path / "another name.csv"
    Findings.load(files[0]).save(copied)
    for again in (files[0], copied):
        done = run(command, *files, again)
        assert (done.exit_code, done.stdout) == (2, "")
        assert "Found: the same readings twice, read on 2026-01-20" in joined(done.stderr)


def test_a_store_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    done = run("next", "--store", tmp_path / "wrong.sqlite")
    assert (done.exit_code, "A store of rounds was expected" in joined(done.stderr)) == (2, True)
    assert not list(tmp_path.iterdir())


def test_never_more_are_expected_to_fail_than_there_are(files: list[Path]) -> None:
    text = joined(run("next", *files, "--on", "2036-01-20").stdout)
    found = re.search(r"Of (\d+) traps that worked when last looked at, (\S+) are expected", text)
    assert found is not None
    assert float(found[2]) <= float(found[1])


@pytest.mark.parametrize(
    ("expected", "every_one", "said"),
    [(146.9, 147, "146"), (12.34, 147, "12"), (0.96, 1, "0.96"), (1239.0, 1240, "1,200")],
)
def test_a_count_is_rounded_to_no_more_than_there_are(
    expected: float, every_one: int, said: str
) -> None:
    assert _of_all(expected, every_one) == said


@pytest.mark.parametrize(
    ("weeks", "yearly", "said"),
    [
        (30.0, 1000.0, "Looking once a season costs USD 1,000 a year in all; the published"),
        (8.0, 1010.0, "in all; looking once a season costs as good as the same; the published"),
        (8.0, 3000.0, "in all; that saves USD 2,000 a year against looking once a season; the"),
    ],
)
def test_once_a_season_is_not_held_against_itself(weeks: float, yearly: float, said: str) -> None:
    one = Interval(
        pressure=PRESSURE_CLASSES[0], traps=40, rate=0.06, loss=700.0, season_weeks=30.0,
        weeks=weeks, weeks_low=4.0, weeks_high=40.0, flat_low=5.0, flat_high=35.0, cost=1000.0,
        cost_published_short=1200.0, cost_published_long=1100.0, cost_yearly=yearly,
    )  # fmt: skip
    text = _worth(one, "USD")
    assert said in text
    assert text.count("looking once a season") == (weeks < 30.0)


def test_a_round_is_not_written_over(files: list[Path], tmp_path: Path) -> None:
    page = tmp_path / "a.csv"
    Findings.load(files[0]).save(page)
    kept = page.read_bytes()
    done = run("route", page, "--csv", page)
    assert done.exit_code == 2
    assert page.read_bytes() == kept


def test_the_day_of_a_round() -> None:
    times = ["2026-05-01T08:00:00", "2026-05-02", None, "nonsense", "2026-05-04T10:00:00+02:00"]
    table = pd.DataFrame([row(f"T-{i}", read_at=at) for i, at in enumerate(times)])
    assert day_read(Findings(table, pd.DataFrame(), {})).isoformat() == "2026-05-02"
    undated = Findings(table.drop(columns="read_at"), pd.DataFrame(), {"made_at": "2026-06-01T01"})
    assert day_read(undated).isoformat() == "2026-06-01"


def test_a_round_without_a_day_is_refused(sample_findings: Findings, tmp_path: Path) -> None:
    path = tmp_path / "undated.csv"
    undated = sample_findings.table.head(3).drop(columns="read_at")
    Findings(undated, pd.DataFrame(), {}).save(path)
    done = run("next", path)
    assert done.exit_code == 2
    assert "A round that says when it was read was expected." in joined(done.stderr)


def test_tags_set_aside_last_time_are_known() -> None:
    table = pd.DataFrame([row("T-1", read_at="2026-05-01")])
    rejects = pd.DataFrame({"row": [3], "tag": ["T-2"]})
    aside = series_of([Findings(table, rejects, {})]).set_aside
    assert aside["tag"].tolist() == ["T-2"]


def test_a_device_whose_second_row_was_set_aside_was_read() -> None:
    table = pd.DataFrame([row("T-1", read_at="2026-05-01")])
    rejects = pd.DataFrame({
        "row": [3, 4], "reason": ["the tag stands in row 2", "a line of totals, not a device"],
        "tag": ["T-1", "Total"],
    })  # fmt: skip
    assert not len(series_of([Findings(table, rejects, {})]).set_aside)


@pytest.mark.parametrize(
    ("weeks", "season", "said"),
    [
        (4.3, 30.0, "every 4 weeks of steam"), (1.0, 52.2, "every 1 week"),
        (30.0, 30.0, "once a season"), (52.0, 52.2, "once a year"),
        (100.0, 52.2, "every 1.9 years"), (60.0, 30.0, "every 2.0 seasons"),
    ],
)  # fmt: skip
def test_intervals_in_words(weeks: float, season: float, said: str) -> None:
    assert every(weeks, season) == said


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "none"), (1 / 26, "1 in 26"), (0.25, "1 in 4.0"), (0.5, "50 %"), (0.999, "over 99 %")],
)
def test_odds_in_words(chance: float, said: str) -> None:
    assert odds(chance) == said
