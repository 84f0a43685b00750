"""The pressure plan as a PDF: it says what its page says, and shows its charts."""

from __future__ import annotations

import io
from pathlib import Path

import pypdf
import pytest
from reports.pdf_words import kinds_of, words_of_page, words_of_paper

from survey.pipeline import analyze
from survey.plant.stepdown import Wishes
from survey.reports import manner
from survey.reports.blocks import Drawing, Heading, Table
from survey.reports.lost_chart import chart_words
from survey.reports.pdf import blocks_pdf
from survey.reports.plan import PlanPaper, plan_blocks, plan_html, plan_pdf, write_plan
from survey.reports.plan_paper import make_paper
from survey.site import Site

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
TITLE = "Nursery: bringing the steam pressure down"


@pytest.fixture(scope="module")
def paper() -> PlanPaper:
    site = Site.from_toml(SAMPLE / "nursery_site.toml")
    findings = analyze(SAMPLE / "nursery_round.csv", site=site)
    return make_paper(findings, site=site, wishes=Wishes(20.0, spare_share=0.2))


@pytest.mark.parametrize(("units", "locale"), [("us", "en"), ("si", "de_DE")])
def test_the_paper_says_what_the_page_says(paper: PlanPaper, units: str, locale: str) -> None:
    with manner.using(units=units, locale=locale):
        page = words_of_page(plan_html(paper))
        said = words_of_paper(plan_pdf(paper), plan_blocks(paper), title=TITLE)
    assert len(page) > 300
    assert said == "".join(page)


def test_a_chart_is_drawn_and_told_to_those_who_cannot_see_it(paper: PlanPaper) -> None:
    reader = pypdf.PdfReader(io.BytesIO(plan_pdf(paper)))
    root = reader.trailer["/Root"]
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    drawn = [block for block in plan_blocks(paper) if isinstance(block, Drawing)]
    curves = [one.curve for one in paper.plan.stations if one.curve is not None]
    assert [one.shows for one in drawn] == [chart_words(curve) for curve in curves]
    assert kinds_of(root["/StructTreeRoot"]).count("/Figure") == len(curves) == 2
    assert "var(" not in drawn[0].alone()


def test_it_is_written_by_its_suffix_the_same_each_time(paper: PlanPaper, tmp_path: Path) -> None:
    write_plan(paper, tmp_path / "plan.PDF")
    assert (tmp_path / "plan.PDF").read_bytes() == plan_pdf(paper)


def test_a_long_name_without_a_space_stays_within_its_column() -> None:
    name = "T-001" + "W" * 40
    sentence = "one word after another, " * 4
    blocks = [Heading(1, "A"), Table("B", tuple("cdefg"), ((name, *[sentence] * 4),))]
    page = pypdf.PdfReader(io.BytesIO(blocks_pdf(blocks, title="Z"))).pages[0]
    lines = page.extract_text(extraction_mode="layout").splitlines()
    runs = [run for line in lines for run in line.split() if "W" in run]
    assert "".join(runs) == name
    assert max(map(len, runs)) < len(name) / 2
