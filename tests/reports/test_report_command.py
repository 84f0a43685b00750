"""`survey report`, and the units that `survey analyze` prints."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from survey.cli import main

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, list(map(str, arguments)))


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "findings.parquet"
    assert run("analyze", SAMPLE / "nursery_round.csv", "--out", path).exit_code == 0
    return path


@pytest.mark.parametrize(("name", "start"), [
    ("r.html", b"<!doctype html>"), ("r.pdf", b"%PDF-1.7"), ("r.xlsx", b"PK\x03\x04"),
])
def test_each_kind_is_written_and_said(saved: Path, name: str, start: bytes) -> None:
    place = saved.with_name(name)
    done = run("report", saved, "--out", place, "--units", "si", "--locale", "en_GB")
    assert (done.exit_code, done.output) == (0, f"Report saved to {place}\n")
    assert place.read_bytes().startswith(start)


@pytest.mark.parametrize(("option", "value", "said"), [
    ("--units", "metric", "'metric' is not one of 'us', 'si'"),
    ("--locale", "Atlantis", "A locale to write figures for was expected. Found: Atlantis."),
])
def test_an_unknown_manner_is_refused_and_nothing_is_written(
    saved: Path, option: str, value: str, said: str
) -> None:
    done = run("report", saved, "--out", saved.with_name("no.pdf"), option, value)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())
    assert not saved.with_name("no.pdf").exists()


def test_analyze_prints_in_si_and_saves_its_columns_as_they_are(tmp_path: Path) -> None:
    texts, tables = [], []
    for units in ("us", "si"):
        place = tmp_path / f"{units}.csv"
        done = run("analyze", SAMPLE / "nursery_round.csv", "--site", SAMPLE / "nursery_site.toml",
                   "--units", units, "--out", place)
        assert done.exit_code == 0
        texts.append(done.output)
        tables.append(place.read_bytes())
    assert tables[0] == tables[1]
    assert " lb/h" in texts[0]
    assert " kg/h" in texts[1]
    for unit in ("lb/h", "°F", "psi"):
        assert unit not in texts[1], unit


@pytest.fixture(scope="module")
def repaired(saved: Path) -> Path:
    path = saved.with_name("repaired.parquet")
    assert run("analyze", SAMPLE / "nursery_after_repair.csv", "--out", path).exit_code == 0
    return path


def test_a_page_shows_before_and_after_where_asked(saved: Path, repaired: Path) -> None:
    place = saved.with_name("both.html")
    assert run("report", repaired, "--before", saved, "--out", place).exit_code == 0
    page = place.read_text(encoding="utf-8")
    assert "Before and after" in page
    assert "mended" in page
    run("report", repaired, "--out", place)
    assert "Before and after" not in place.read_text(encoding="utf-8")


def test_the_owners_link_shows_before_and_after_within_its_areas(
    saved: Path, repaired: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    pages = tmp_path / "pages"
    pages.mkdir()
    shared = run("share", repaired, "--before", saved, "--areas", "Laundry", "--to", pages)
    assert shared.exit_code == 0, shared.output
    page = max((p.read_text(encoding="utf-8") for p in pages.rglob("*.html")), key=len)
    assert "Before and after" in page
    assert "Glasshouse" not in page


def test_before_and_after_is_for_a_page(saved: Path, repaired: Path) -> None:
    done = run("report", repaired, "--before", saved, "--out", saved.with_name("both.pdf"))
    assert done.exit_code == 2
    assert "ends in .html" in done.output
