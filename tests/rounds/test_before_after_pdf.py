"""Before and after as a PDF: it says what its page says, in that order, to the digit."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pypdf
import pytest
from reports.papers import pdf_text
from reports.pdf_words import kinds_of, words_of_page, words_of_paper

from survey.reports import letters, manner
from survey.reports.before_after import (
    before_after_blocks,
    before_after_html,
    before_after_pdf,
    write_before_after,
)
from survey.reports.blocks import Heading, Paragraph, Points, Table
from survey.reports.pdf import blocks_pdf
from survey.rounds.compare import Comparison, compare_findings
from tests.rounds.build import findings, trap
from tests.rounds.test_before_after import HOSTILE
from tests.rounds.test_compare import AFTER, BEFORE

FIGURE = re.compile(r"\d[\d.,]*\d|\d")
LONG = {"state": "failed_open", "loss": 7.3, "action": "Replace the trap; note its bore."}


def long_comparison() -> Comparison:
    tags = [f"T-{at:03}" for at in range(70)]
    later = {"read_at": "2026-01-20"}
    return compare_findings(
        findings(*(trap(tag, **LONG | {"loss": 5.0 + at / 7}) for at, tag in enumerate(tags))),
        findings(*(trap(tag, **(LONG if at % 3 else {}) | later) for at, tag in enumerate(tags))),
    )


@pytest.mark.parametrize("show_money", [True, False])
@pytest.mark.parametrize(("units", "locale"), [("us", "en"), ("si", "de_DE")])
@pytest.mark.parametrize("made", ["short", "long"])
def test_the_paper_says_what_the_page_says(
    made: str, units: str, locale: str, show_money: bool
) -> None:
    comparison = compare_findings(BEFORE, AFTER) if made == "short" else long_comparison()
    with manner.using(units=units, locale=locale):
        page = words_of_page(before_after_html(comparison, show_money=show_money))
        paper = before_after_pdf(comparison, show_money=show_money)
        blocks = before_after_blocks(comparison, show_money=show_money)
        said = words_of_paper(paper, blocks, title="Nursery: before and after")
    assert (len(pypdf.PdfReader(io.BytesIO(paper)).pages) > 2) == (made == "long")
    assert said == "".join(page)
    assert len(FIGURE.findall(said)) > 60
    assert ("USD" in said or "$" in said) == show_money


def test_it_is_tagged_and_names_itself() -> None:
    reader = pypdf.PdfReader(io.BytesIO(before_after_pdf(compare_findings(BEFORE, AFTER))))
    root = reader.trailer["/Root"]
    assert reader.metadata.title == "Nursery: before and after"
    assert root["/Lang"] == "en"
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    kinds = kinds_of(root["/StructTreeRoot"])
    tables = [block for block in before_after_blocks(compare_findings(BEFORE, AFTER))
              if isinstance(block, Table)]  # fmt: skip
    assert kinds.count("/Table") == kinds.count("/Caption") == len(tables)
    assert kinds.count("/TH") == sum(len(one.heads) for one in tables)
    assert {"/H1", "/H2", "/H3", "/L", "/P"} <= set(kinds)


def test_text_of_a_round_is_only_text(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letters, "MACHINE_FONTS", False)
    nasty = f'{HOSTILE} #read("/etc/passwd") ]#panic() $x$ 日'
    given = {"equipment": nasty, "area": nasty}
    before = findings(trap(nasty, state="failed_open", loss=9.0, **given), site_name=nasty)
    after = findings(trap(nasty, read_at="2026-01-20", **given), site_name=nasty)
    said = pdf_text(before_after_pdf(compare_findings(before, after)))
    assert '#read("/etc/passwd") ]#panic() $x$ [U+65E5]' in said
    assert "made this paper has 1 letter of this round" in said
    assert "\u202e" not in said


def test_a_caution_is_said() -> None:
    blocks = [Heading(1, "A"), Paragraph("B"), Points(("C", "D"), caution=True),
              Table("E", ("F", "G"), ())]  # fmt: skip
    assert "".join(pdf_text(blocks_pdf(blocks, title="Z")).split()).startswith("AB•C•DEFG")


def test_the_same_rounds_give_the_same_bytes_in_a_file(tmp_path: Path) -> None:
    comparison = compare_findings(BEFORE, AFTER)
    for name in ("a.pdf", "b.PDF"):
        write_before_after(comparison, tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.PDF").read_bytes()
    assert (tmp_path / "a.pdf").read_bytes() == before_after_pdf(comparison)
