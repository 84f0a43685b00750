"""One round, four files: every figure shown is the findings file's, to the digit shown.

The papers are read back by other programs, and their figures are held against the findings file
as it was saved, not against what wrote them.
"""

from __future__ import annotations

import itertools
import re
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from reports.papers import NUMBER, is_shown, pdf_text, sheet_rows
from reports.reading import Page
from survey.findings import Findings
from survey.pipeline import analyze
from survey.reports.files import write_report
from survey.site import Site

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
FILES = ("report.html", "report.pdf", "report.xlsx")
TOTALS = ("annual_cost", "annual_cost_low", "annual_cost_high", "steam_loss_lb_per_h",
          "steam_loss_low_lb_per_h", "steam_loss_high_lb_per_h", "annual_co2_t")
KG_PER_LB = 0.45359237


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("papers")
    judged = analyze(SAMPLE / "nursery_round.csv", site=Site.from_toml(
        SAMPLE / "nursery_site.toml"))
    judged.save(place / "findings.parquet")
    saved = Findings.load(place / "findings.parquet")
    for name in FILES:
        write_report(saved, place / name)
        write_report(saved, place / f"si_{name}", units="si")
    return place


@pytest.fixture(scope="module")
def table(folder: Path) -> pd.DataFrame:
    return pd.read_parquet(folder / "findings.parquet")


@pytest.fixture(scope="module")
def summary(folder: Path) -> dict[str, float]:
    return Findings.load(folder / "findings.parquet").summary


@cache
def text_of(folder: Path, name: str) -> str:
    if name.endswith(".pdf"):
        return pdf_text((folder / name).read_bytes())
    return Page((folder / name).read_text("utf-8")).text


def range_shown(said: re.Match[str], value: float, low: float, high: float) -> bool:
    return (is_shown(said[1], value)
            and any(is_shown(said[2], low, digits) for digits in (2, 3))
            and any(is_shown(said[3], high, digits) for digits in (2, 3)))


@pytest.mark.parametrize("name", ["report.html", "report.pdf", "si_report.html", "si_report.pdf"])
def test_totals(folder: Path, summary: dict[str, float], name: str) -> None:
    text = text_of(folder, name)
    unit, factor = ("kg/h", KG_PER_LB) if name.startswith("si") else ("lb/h", 1.0)
    cost = re.search(rf"a year ?USD ({NUMBER}) \(({NUMBER}) to ({NUMBER})\)", text)
    loss = re.search(rf"Steam lost ?({NUMBER}) {unit} \(({NUMBER}) to ({NUMBER})\)", text)
    co2 = re.search(rf"Carbon dioxide from it, a year ?({NUMBER}) t", text)
    assert cost
    assert loss
    assert co2
    assert range_shown(cost, *(summary[name] for name in TOTALS[:3]))
    assert range_shown(loss, *(summary[name] * factor for name in TOTALS[3:6]))
    assert is_shown(co2[1], summary["annual_co2_t"])
    assert f"{summary['rows_read']:,} rows read, {summary['rows_judged']:,} judged" in text


def test_every_cost_in_the_list_of_the_page(folder: Path, table: pd.DataFrame) -> None:
    page = Page((folder / "report.html").read_text("utf-8"))
    rows = table.set_index("tag")
    seen = 0
    for item in (e for e in page.all("li") if "data-g" in e.attributes):
        tag = next(t for t in rows.index if re.match(rf"\d*{t}(?!\d)", item.text))
        row = rows.loc[tag]
        said = re.search(rf"USD ({NUMBER}) \(({NUMBER}) to ({NUMBER})\)", item.text)
        if said is None:
            assert not row["annual_cost"] >= 0.5
            continue
        assert range_shown(said, row["annual_cost"], row["annual_cost_low"],
                           row["annual_cost_high"]), (tag, said[0])
        seen += 1
    assert seen == (table["annual_cost"] >= 0.5).sum() > 10


@pytest.mark.parametrize("name", ["report.pdf", "si_report.pdf"])
def test_every_cost_in_the_list_of_the_paper(
    folder: Path, table: pd.DataFrame, name: str
) -> None:
    text = text_of(folder, name)
    listed = text[text.index("What to mend"):text.index("The rest, in short")]
    costs = table.set_index("tag")[["annual_cost", "annual_cost_low", "annual_cost_high"]]
    lines = [row for row in sheet_rows(folder / "report.xlsx", "Work list") if row["Device"]]
    ends = [*(listed.index(f" {row['Device']} ") for row in lines), len(listed)]
    assert ends == sorted(ends)
    seen = 0
    for row, (start, end) in zip(lines, itertools.pairwise(ends), strict=True):
        tags = [row["Device"], *filter(None, (row["Holds back"] or "").split(", "))]
        value, low, high = costs.loc[list(dict.fromkeys(tags))].fillna(0.0).sum()
        said = re.findall(rf"USD {NUMBER} \({NUMBER} to {NUMBER}\)", listed[start:end])
        assert len(said) == (1 if value >= 0.5 else 0), (tags, said)
        if said:
            match = re.fullmatch(rf"USD ({NUMBER}) \(({NUMBER}) to ({NUMBER})\)", said[0])
            assert match
            assert range_shown(match, value, low, high), (tags, said)
            seen += 1
    assert seen > 10


@pytest.mark.parametrize("name", ["report.html", "report.pdf"])
def test_every_cost_by_area(folder: Path, table: pd.DataFrame, name: str) -> None:
    text = text_of(folder, name)
    by_area = table.groupby("area")["annual_cost"].sum().sort_values(ascending=False)
    for area, cost in by_area.head(6).items():
        assert [said for said in re.findall(rf"{area} ?USD ({NUMBER})", text)
                if is_shown(said, cost)], area


def test_every_cell_of_the_workbook(folder: Path, table: pd.DataFrame) -> None:
    heads = {
        "Confidence": "confidence", "Rank": "rank", "Cost a year, USD": "annual_cost",
        "Cost a year, low end of the range, USD": "annual_cost_low",
        "Cost a year, high end of the range, USD": "annual_cost_high",
        "Steam lost, lb/h": "steam_loss_lb_per_h", "Carbon dioxide a year, t": "annual_co2_t",
        "Inlet temperature, °F": "inlet_temp_f", "Pressure ahead, psig": "supply_psig",
        "Steam temperature, °F": "saturation_f", "Why": "evidence", "What to do": "action",
    }
    rows = table.set_index("tag")
    cells = sheet_rows(folder / "report.xlsx", "Findings")
    assert len(cells) == len(table)
    for row in cells:
        for head, name in heads.items():
            value = rows.loc[row["Tag"], name]
            missing = pd.isna(value)
            assert (row[head] is None) == bool(missing), (row["Tag"], head)
            # A workbook keeps 15 to 17 digits of a number; a text, every letter.
            same = value if isinstance(value, str) else pytest.approx(value, rel=1e-14)
            assert missing or row[head] == same, (row["Tag"], head)


def test_every_cell_of_the_workbook_in_si(folder: Path, table: pd.DataFrame) -> None:
    heads = {
        "Steam lost, kg/h": ("steam_loss_lb_per_h", 0.0, KG_PER_LB),
        "Steam lost in a year, t": ("annual_loss_klb", 0.0, KG_PER_LB),
        "Inlet temperature, °C": ("inlet_temp_f", 32.0, 1 / 1.8),
        "Inlet, corrected, below steam temperature, °C": ("subcooling_f", 0.0, 1 / 1.8),
        "Pressure ahead, bar (gauge)": ("supply_psig", 0.0, 0.06894757293),
        "Lift, m": ("lift_ft", 0.0, 0.3048),
        "Seat bore, mm": ("orifice_in", 0.0, 25.4),
        "Cost a year, USD": ("annual_cost", 0.0, 1.0),
    }
    rows = table.set_index("tag")
    for row in sheet_rows(folder / "si_report.xlsx", "Findings"):
        for head, (name, zero, factor) in heads.items():
            value = (rows.loc[row["Tag"], name] - zero) * factor
            assert (row[head] is None) == bool(pd.isna(value)), (row["Tag"], head)
            assert row[head] is None or row[head] == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", [f"si_{name}" for name in FILES[:2]])
def test_no_us_unit_is_left_in_a_paper_in_si(folder: Path, name: str) -> None:
    # A bore has its inches beside its millimetres, for that is how seats are made and stamped.
    text = re.sub(r"mm \([\d/., ]+ in\)", "mm", text_of(folder, name))
    left = re.findall(r".{0,30}(?:°F|\bpsig?\b|\blb/h\b|\d (?:ft|in)\b(?! \d)|\bklb\b|MMBtu).{0,9}",
                      text)
    assert not [said for said in left if not re.search(r"\d in (?:all|area)", said)]
    assert "°C" in text
    assert "kg/h" in text
