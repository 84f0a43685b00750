"""`--units` and `--locale` of the commands that plan and compare: what is printed and written."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.findings import Findings
from survey.pipeline import analyze
from survey.site import Site

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
SITE = ("--site", str(SAMPLE / "nursery_site.toml"))
GERMAN = ("--units", "si", "--locale", "de_DE")
# The route's CSV is in the units of its columns, and the sheet says so.
US_LEFT = re.compile(r".{0,40}(?:°F|\bpsig?\b|\blb/h|\b1000 lb|Btu|\bklb\b|\d ft\b).{0,20}")
POINT = re.compile(r".{0,40}(?<![\d.])\d+\.\d{1,2}(?![\d.]).{0,20}")


def run(*arguments: object) -> Result:
    done = CliRunner().invoke(main, [*map(str, arguments)], prog_name="survey")
    assert (done.exit_code, done.stderr) == (0, ""), done.stderr
    return done


def joined(text: str) -> str:
    """Return text on one line, its days in figures left out: they have points of their own."""
    return re.sub(r"\b\d{1,2}\.\d{1,2}\.\d{4}\b", "", " ".join(text.split()))


@pytest.fixture(scope="module")
def rounds(sample_findings: Findings, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with both rounds as findings, and a store that keeps them."""
    folder = tmp_path_factory.mktemp("rounds")
    site = Site.from_toml(SITE[1])
    later = analyze([SAMPLE / "nursery_after_repair.csv"], site=site)
    for name, findings in (("first", sample_findings), ("later", later)):
        findings.save(folder / f"{name}.parquet")
        run("rounds", "add", folder / f"{name}.parquet", "--store", folder / "s.sqlite")
    return folder


def command(name: str, rounds: Path) -> list[object]:
    findings = [rounds / "first.parquet", rounds / "later.parquet", *SITE]
    return {
        "analyze": ["analyze", SAMPLE / "nursery_round.csv", *SITE],
        "pressure": ["pressure", SAMPLE / "nursery_round.csv", *SITE, "--to", "5"],
        "next": ["next", *findings],
        "route": ["route", *findings],
        "compare": ["rounds", "compare", "1", "2", "--store", rounds / "s.sqlite"],
    }[name]


def test_lists_of_rounds_obey(rounds: Path) -> None:
    store = ("--store", rounds / "s.sqlite")
    us = run("rounds", "list", *store).stdout.splitlines()
    assert us[0] == ("round  read on     devices  lb/h lost     cost a year  name")
    told = re.fullmatch(r" +1  2025-11-04 +318 +(\d+) +USD (\d\d),(\d)00", us[1])
    assert told, us[1]
    kg_per_h = round(int(told[1]) * 0.45359237)  # the pound, by definition
    german = run("rounds", "list", *store, *GERMAN).stdout.splitlines()
    assert "kg/h lost" in german[0]
    same = rf" +1  04\.11\.2025 +318 +({kg_per_h - 1}|{kg_per_h}|{kg_per_h + 1}) "
    same += rf"+{told[2]}\.{told[3]}00.\$"
    assert re.fullmatch(same, german[1]), german[1]
    said = run("rounds", "unit", "T-160", *store, *GERMAN).stdout
    assert re.search(r"04\.11\.2025  T-160 +blown open .* (\d+,\d)$", said, re.M), said
    shown = run("rounds", "show", "1", *store, *GERMAN).stdout
    assert "read on 04.11.2025" in shown
    assert "kg/h" in shown
    assert US_LEFT.findall(german[0] + said + shown) == []


@pytest.mark.parametrize(("name", "said"), [
    ("pressure", "bar gauge today"), ("next", "bar gauge"), ("route", "Route:"),
    ("compare", "kg/h"),
])  # fmt: skip
def test_what_is_printed_and_written_obeys(
    name: str, said: str, rounds: Path, tmp_path: Path
) -> None:
    place = tmp_path / "paper.html"
    done = run(*command(name, rounds), *GERMAN, "--out", place)
    page = re.sub(r"<style.*?</style>|<[^>]*>", " ", place.read_text("utf-8"), flags=re.S)
    page = page.replace("The CSV of a route has its columns in °F and psig", "")
    assert said in done.stdout
    for text in (joined(done.stdout).replace(place.name, ""), joined(page)):
        assert US_LEFT.findall(text) == []
        assert POINT.findall(text) == []


def test_a_summary_obeys_and_its_files_do_not(rounds: Path, tmp_path: Path) -> None:
    said = {}
    for name, options in (("us", ()), ("german", GERMAN)):
        (tmp_path / name).mkdir()
        files = ("--out", tmp_path / name / "f.csv", "--summary", tmp_path / name / "s.json")
        said[name] = run(*command("analyze", rounds), *options, *files).stdout
    text = re.sub(r"\((?:[\d/]+|\d+,\d+) in\)", "", joined(said["german"]))
    text = text.replace(str(tmp_path), "").replace("f.csv", "").replace("s.json", "")
    assert "kg/h" in text
    assert "whole kilogram: heat from feedwater" in text
    assert US_LEFT.findall(text) == []
    assert POINT.findall(text) == []
    us, german = tmp_path / "us", tmp_path / "german"
    assert (german / "f.csv").read_bytes() == (us / "f.csv").read_bytes()
    read = [json.loads((folder / "s.json").read_text("utf-8")) for folder in (us, german)]
    changing = ("made_at", "seconds")
    kept = [{k: v for k, v in one.items() if k not in changing} for one in read]
    assert kept[0] == kept[1]


@pytest.mark.parametrize("name", ["analyze", "pressure", "next", "route", "compare"])
def test_us_in_english_is_what_is_said_without_them(name: str, rounds: Path) -> None:
    asked = command(name, rounds)
    assert run(*asked).stdout == run(*asked, "--units", "us", "--locale", "en").stdout


@pytest.mark.parametrize("name", ["analyze", "pressure", "next", "route", "compare"])
def test_an_unknown_country_is_refused(name: str, rounds: Path, tmp_path: Path) -> None:
    out = tmp_path / ("findings.csv" if name == "analyze" else "paper.html")
    asked = [*command(name, rounds), "--locale", "xx_YY", "--out", out]
    done = CliRunner().invoke(main, [*map(str, asked)], prog_name="survey")
    assert done.exit_code == 2
    assert "A locale to write figures for was expected" in done.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["pressure", "compare"])
def test_json_keeps_the_units_in_its_names(name: str, rounds: Path, tmp_path: Path) -> None:
    us, si = tmp_path / "us.json", tmp_path / "si.json"
    run(*command(name, rounds), "--out", us)
    run(*command(name, rounds), *GERMAN, "--out", si)
    assert json.loads(si.read_text("utf-8")) == json.loads(us.read_text("utf-8"))


def test_the_route_to_fill_in_is_in_the_units_of_its_columns(rounds: Path, tmp_path: Path) -> None:
    us, si = tmp_path / "us.csv", tmp_path / "si.csv"
    run(*command("route", rounds), "--csv", us)
    run(*command("route", rounds), *GERMAN, "--csv", si)
    assert si.read_bytes() == us.read_bytes()
