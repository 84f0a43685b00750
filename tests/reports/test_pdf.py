"""The owner's paper as a PDF."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pypdf
import pytest

from reports.build import SUMMARY, UNITS, findings, many
from reports.papers import NUMBER, is_shown, pdf_text
from survey import Site, analyze
from survey.errors import UsageError
from survey.reports import letters, losses_shown, manner, tables
from survey.reports import paper as paper_content
from survey.reports.pdf import render_pdf
from survey.reports.words import CAUTION_POINTS

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"


@pytest.fixture(scope="module")
def paper() -> bytes:
    return render_pdf(findings())


@pytest.fixture(scope="module")
def text(paper: bytes) -> str:
    return pdf_text(paper)


def root_of(paper: bytes) -> Any:
    return pypdf.PdfReader(io.BytesIO(paper)).trailer["/Root"]


def test_it_says_what_it_is_to_a_reader_by_ear(paper: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(paper))
    root = reader.trailer["/Root"]
    assert reader.metadata.title == "The Nursery: steam trap survey"
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"].value
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()
    titles = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert titles == ["The Nursery", "What to mend, upstream first", "The readings behind it",
                      "What these figures rest on"]


def structure(node: Any, found: list[Any]) -> list[Any]:
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, dict):
        if "/S" in node:
            found.append(node)
        structure(node.get("/K", []), found)
    elif isinstance(node, list):
        for child in node:
            structure(child, found)
    return found


def test_tables_have_heads_and_pictures_have_words(paper: bytes) -> None:
    nodes = structure(root_of(paper)["/StructTreeRoot"], [])
    kinds = [str(node["/S"]) for node in nodes]
    assert kinds.count("/Table") >= 4
    assert kinds.count("/TH") >= 3 * kinds.count("/Table") - 2
    figures = [node for node in nodes if node["/S"] == "/Figure"]
    assert len(figures) >= 4
    assert all(len(str(node["/Alt"])) > 20 for node in figures)
    assert "/H1" in kinds
    assert "/H2" in kinds


def test_the_first_page_is_what_was_found_and_what_it_costs(paper: bytes) -> None:
    first = pypdf.PdfReader(io.BytesIO(paper)).pages[0].extract_text()
    for said in ("The Nursery", "USD 3,120", "(1,900 to 4,600)", "53.0 lb/h (31 to 78)", "15.6 t",
                 "4 of 5", "3 November 2026 to 5 November 2026"):
        assert said in first, said
    assert "What to mend" not in first


def lowest(page: Any) -> float:
    """Return how far down a page its text reaches, its foot left out, as a share of the page."""
    heights = []

    def see(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            heights.append((cm[1] * tm[4] + cm[3] * tm[5] + cm[5]) / float(page.mediabox.height))

    page.extract_text(visitor_text=see)
    return 1.0 - min(height for height in heights if height > 0.05)


def test_no_page_but_the_last_is_left_half_empty() -> None:
    site = Site.from_toml(SAMPLE / "nursery_site.toml")
    made = render_pdf(analyze(SAMPLE / "nursery_round.csv", site=site))
    pages = pypdf.PdfReader(io.BytesIO(made)).pages
    assert 10 <= len(pages) <= 15
    assert [round(lowest(page), 2) for page in pages[:-1] if lowest(page) < 0.6] == []


def test_upstream_comes_first_and_every_unit_is_on_it_once(text: str) -> None:
    listed = text[text.index("What to mend"):text.index("The readings behind it")]
    places = [listed.index(tag) for tag in ("V-1", "T-3", "T-4")]
    assert places == sorted(places)
    assert listed.index("V-1") < listed.index("T-1")  # its vent is shut: that comes first
    assert "It roars without a pause, 22 dB over." in listed
    assert "1 steam trap working T-2" in listed


def test_cautions_assumptions_and_limits_stand_once(text: str) -> None:
    for line in (*CAUTION_POINTS, *SUMMARY["assumptions"], "Opening the device can still prove"):
        assert text.count(line) == 1, line
    assert "At station North it read 3 % low." in text
    assert "6 rows read, 5 judged and 1 set aside." in text
    assert "below absolute zero" in text


def test_the_same_findings_give_the_same_bytes(paper: bytes) -> None:
    script = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from reports.build import findings\nfrom survey.reports.pdf import render_pdf\n"
        "sys.stdout.buffer.write(render_pdf(findings()))"
    )
    again = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True,
                           env={"PYTHONPATH": ".", "TZ": "Asia/Tokyo"})
    assert again.stdout == paper
    assert b"D:20261125000000Z" in paper


NASTY = [
    '#read("/etc/passwd") #import "x.typ" $1/0$ @ref <lab> *b* _i_ `raw` = head // no',
    "]#panic()[ \\ \\u{202e} #sys.inputs.data #include \"/etc/hosts\"",
    "\u202egnp.exe\u202c \u2066x\u2069 \x00\x07\x1b[31m \u200b\ufeff tail",
    "\ue000\uffff \U0001f4a9 \U000e0041 日本 مرحبا \u0301\u0301\u0301\u0301",
    "a" * 300,
]


@pytest.mark.parametrize("nasty", NASTY)
def test_hostile_text_is_only_text(nasty: str) -> None:
    names = ("tag", "equipment", "area", "station", "action", "evidence", "note", "trap_type")
    units = [dict(unit, **dict.fromkeys(names, f"{nasty} {at}")) for at, unit in enumerate(UNITS)]
    summary = SUMMARY | {
        "site_name": nasty, "assumptions": [nasty], "notes": [nasty], "currency": nasty,
        "made_at": nasty, "version": nasty, "loss_basis": nasty,
        "calibration": [{"what": nasty, "group": nasty, "words": nasty, "unit": nasty,
                         "value": 1, "low": 0, "high": 2}],
    }
    made = render_pdf(findings(units, summary))
    said = pdf_text(made)
    assert "root:" not in said
    for sign in "\u202e\u2066\x00\x07\x1b\u200b":
        assert sign not in said
    if nasty.startswith("#read"):
        assert '#read("/etc/passwd")' in said
    assert b"pdfuaid:part>1<" in root_of(made)["/Metadata"].get_data()


SCRIPTS = "Łódź Ω 3 Пар Ατμός"


def named_in(tag: str) -> str:
    return pdf_text(render_pdf(findings([dict(UNITS[0], tag=tag, equipment=SCRIPTS)])))


def test_a_letter_without_a_shape_stands_as_its_number_and_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(letters, "MACHINE_FONTS", False)
    said = named_in("日本-1")
    assert "[U+65E5][U+672C]-1" in said
    assert "日" not in said
    assert "made this paper has 2 letters of this round" in said
    assert SCRIPTS in said


def test_letters_of_the_fonts_that_come_along_need_no_words() -> None:
    said = named_in("Ω-1")
    assert "U+" not in said
    assert "No font on the machine" not in said


@pytest.mark.skipif(bool(letters.shown("日").missing), reason="no font here has the letter")
def test_a_font_of_the_machine_helps_out() -> None:
    said = named_in("日-1")
    assert "日-1" in said
    assert "U+" not in said
    assert SCRIPTS in said


def test_a_letter_that_typst_complains_of_only_in_its_place_is_named_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(letters, "MACHINE_FONTS", False)
    monkeypatch.setattr(letters, "_without_shape", lambda *_, **__: frozenset())
    assert "[U+65E5]-1" in named_in("日-1")


def test_si_units_and_a_locale_rule_the_whole_paper() -> None:
    units = [dict(unit, evidence="Its inlet reads 303 °F, 12 °F below, at 60 psig.")
             for unit in UNITS]
    with manner.using(units="si", locale="de_DE"):
        said = pdf_text(render_pdf(findings(units)))
    assert "24,0 kg/h (14 to 35)" in said
    assert "3.120 $ (1.900 to 4.600)" in said.replace("\xa0", " ")
    assert "Its inlet reads 151 °C, 6,7 °C below, at 4,1 bar gauge." in said
    assert "Fuel price taken as USD 7,58 per GJ." in said
    for unit in ("°F", "psi", "lb/h", "MMBtu"):
        assert unit not in said, unit


def test_money_and_areas_can_be_left_out() -> None:
    said = pdf_text(render_pdf(findings(), show_money=False))
    assert "USD" not in said
    assert "53.0 lb/h" in said
    said = pdf_text(render_pdf(findings(), areas=["Laundry"]))
    assert "Glasshouse" not in said
    assert "T-1" not in said
    with pytest.raises(UsageError, match="Areas that are in the findings"):
        render_pdf(findings(), areas=["Attic"])


def test_a_large_round_is_cut_and_says_what_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paper_content, "LIST_LINES", 30)
    monkeypatch.setattr(paper_content, "TAGS_NAMED", 200)
    judged = many(400)
    costs = judged.table.loc[judged.table["rank"].notna(), "annual_cost"].sort_values()
    said = pdf_text(render_pdf(judged))
    words = "10 more repairs are left out here for want of room; they lose USD"
    cut = re.search(rf"{words} ({NUMBER})", said)
    assert cut
    assert is_shown(cut[1], float(costs.head(10).sum()))
    assert "160 more devices are not named here" in said
    assert said.count("It roars without a pause") == 30


@pytest.mark.parametrize("units", [[], [UNITS[2]], [UNITS[4]]])
def test_a_round_with_little_in_it_still_makes_a_paper(units: list[dict[str, Any]]) -> None:
    said = pdf_text(render_pdf(findings(units, {})))
    assert "What these figures rest on" in said
    if units != [UNITS[4]]:
        assert "Nothing in this round needs anything done." in said
        assert CAUTION_POINTS[0] not in said


def test_a_round_that_loses_next_to_nothing_is_set_all_the_same() -> None:
    next_to_nothing = UNITS[2] | {"steam_loss_lb_per_h": 1e-4, "annual_cost": 0.02}
    sound = findings([next_to_nothing], {"currency": "USD"})
    assert losses_shown.splits(sound, tables.totals(sound), show_money=True) == []
    assert "T-2" in pdf_text(render_pdf(sound))


def test_what_working_traps_may_lose_is_no_areas_share_and_what_a_blown_one_does_is() -> None:
    working = UNITS[2] | {"state": "working", "steam_loss_lb_per_h": 0.2, "annual_cost": 3.0}
    for state, areas in (("working", []), ("leaking", ["area"]), ("undecided", ["area"])):
        both = [working | {"state": state}, working | {"tag": "T-9"}]
        round_ = findings(both, {"currency": "USD"})
        split = losses_shown.splits(round_, tables.totals(round_), show_money=True)
        assert [one.column for one in split] == areas


@pytest.mark.parametrize("day", ["0000-01-01", "-1"])
def test_a_day_that_no_calendar_has_is_left_out(day: str) -> None:
    units = [UNITS[0], UNITS[1], UNITS[2] | {"read_at": day}]
    paper = render_pdf(findings(units, SUMMARY | {"made_at": day}))
    assert "3 November 2026 to 5 November 2026" in pdf_text(paper)


def test_a_long_name_without_a_space_stays_within_its_column() -> None:
    name = "T-" + "W" * 44
    units = [{**UNITS[0], "tag": name}, *UNITS[1:]]
    pages = pypdf.PdfReader(io.BytesIO(render_pdf(findings(units)))).pages
    runs = [run for page in pages for run in page.extract_text().split() if "WWW" in run]
    # In the list, the first place that names it.
    assert len(runs[0]) < 20
    assert name.startswith("".join(runs[:3]))
