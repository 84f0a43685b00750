"""What a store knows of two rounds of findings: names, days, repairs, tags, what was unreadable."""

from __future__ import annotations

import gzip
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.findings import Findings
from survey.reports.before_after import before_after_block, before_after_text
from survey.rounds.answers import answer, proposals
from survey.rounds.compare import compare_findings, compare_rounds
from survey.rounds.known import NOTHING_KNOWN, known_of
from survey.rounds.repairs import add_repair
from survey.rounds.store import Store, open_store
from survey.rounds.units import find_unit
from survey.sharing import LinkStore
from tests.rounds.build import findings, trap

LEAK = {"state": "failed_open", "loss": (20.0, 10.0, 30.0)}
AUTUMN = findings(trap("ST-14", **LEAK), trap("ST-15", **LEAK), trap("ST-16"))
LATER = {"read_at": "2026-02-10T08:00:00"}
WINTER = findings(*(trap(tag, **LATER) for tag in ("ST-14", "ST-15", "ST-16")))


def note_repair(store: Store) -> None:
    unit = find_unit(store, "ST-14")
    add_repair(store, unit.number, on=date(2025, 12, 1), what="new trap, same bore")


def remarks(page: str) -> str:
    return " ".join(page.split())


@pytest.mark.parametrize("kept", ["both", "the earlier", "the later"])
def test_a_repair_noted_in_the_store_is_seen(store: Store, kept: str) -> None:
    if kept != "the later":
        store.add(AUTUMN, name="Autumn")
    if kept != "the earlier":
        store.add(WINTER, name="February")
    note_repair(store)
    known = known_of(store, AUTUMN, WINTER)
    compared = compare_findings(AUTUMN, WINTER, known=known)
    said = {unit.tag: [one.what for one in unit.repairs] for unit in compared.units}
    assert said == {"ST-14": ["new trap, same bore"], "ST-15": [], "ST-16": []}
    text = remarks(before_after_text(compared))
    assert text.count("no repair noted") == 1
    assert "Repairs noted between the rounds: 1." in text
    assert compared.saved.with_repair_noted.expected == pytest.approx(1200.0)


def test_findings_of_a_store_compare_as_its_rounds_do(store: Store) -> None:
    moved = findings(*(trap(tag, equipment=f"UH-{old}", **LATER) for tag, old in
                       (("ST-14", "ST-14"), ("ST-15", "ST-15"), ("ST-0016", "ST-16"))))  # fmt: skip
    first, last = store.add(AUTUMN, name="Autumn"), store.add(moved, name="February")
    note_repair(store)
    [asked] = proposals(store)
    answer(store, asked.earlier, asked.later, accepted=True, moved_in=asked.moved_in)
    compared = compare_findings(AUTUMN, moved, known=known_of(store, AUTUMN, moved))
    assert before_after_text(compared) == before_after_text(compare_rounds(store, first, last))
    assert [unit.tag_before for unit in compared.units if unit.tag == "ST-0016"] == ["ST-16"]


def test_a_store_of_another_plant_with_the_same_tags_tells_nothing(store: Store) -> None:
    store.add(findings(trap("ST-14", inlet_temp_f=251.0), trap("ST-99")))
    note_repair(store)
    known = known_of(store, AUTUMN, WINTER, names=("a", "b"))
    assert (known.repairs, known.units, known.files) == (None, ({}, {}), ("a", "b"))


def test_without_a_store_it_is_said_that_repairs_were_not_at_hand() -> None:
    compared = compare_findings(AUTUMN, WINTER, known=NOTHING_KNOWN)
    for page in (before_after_text(compared), before_after_block(compared)):
        assert "Repairs that may have been noted were not at hand" in remarks(page)
        assert "no repair noted" not in page


def test_what_was_set_aside_is_not_new_and_not_unread(store: Store) -> None:
    aside = pd.DataFrame({"row": [7], "reason": ["bore over 2 in"], "tag": [" ST-17 "]})
    autumn = replace(AUTUMN, rejects=aside)
    winter = replace(
        findings(*(trap(tag, **LATER) for tag in ("ST-14", "ST-17", "ST-18"))),
        rejects=aside.assign(tag="ST-16"),
    )
    want = {"ST-14": "mended", "ST-15": "not_read", "ST-16": "unreadable_now",
            "ST-17": "unreadable_before", "ST-18": "new"}  # fmt: skip
    kept = [store.add(one) for one in (autumn, winter)]
    for compared in (compare_findings(autumn, winter), compare_rounds(store, *kept)):
        assert {unit.tag: unit.outcome for unit in compared.units} == want
        text = remarks(before_after_text(compared))
        for words in ("Not readable last time (1) - ST-17", "Not readable this time (1) - ST-16",
                      "New this time (1) - ST-18",
                      "1 unit not readable last time: left out; its row could not be used"):
            assert words in text, words


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, list(map(str, words)))


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("SURVEY_STORE", raising=False)
    paths = tmp_path / "autumn.parquet", tmp_path / "february.parquet"
    for path, each in zip(paths, (AUTUMN, WINTER), strict=True):
        each.save(path)
    return paths


def test_a_report_uses_the_store_that_the_screens_use(files: tuple[Path, Path]) -> None:
    before, after = files
    page = after.with_suffix(".html")
    alone = run("report", after, "--before", before)
    assert alone.exit_code == 0
    assert "survey rounds repair" in alone.stderr
    assert not (before.parent / "home").exists(), "looking makes no store"
    assert "ST-14" in page.read_text("utf-8")
    with open_store() as opened:
        opened.add(AUTUMN, name="Autumn")
        note_repair(opened)
    done = run("report", after, "--before", before)
    assert (done.exit_code, done.stderr) == (0, "")
    text = page.read_text("utf-8")
    assert "new trap, same bore" in text
    assert "<h2>Before and after: 4 November 2025 and 10 February 2026</h2>" in text
    linked = run("share", after, "--before", before)
    assert linked.exit_code == 0
    with LinkStore() as links:
        shared = links.lookup(linked.stdout.strip().rpartition("/")[2])
    assert shared is not None
    assert "new trap, same bore" in gzip.decompress(shared.gzipped).decode()


def test_a_store_that_cannot_be_opened_stops_no_report(files: tuple[Path, Path]) -> None:
    before, after = files
    home = before.parent / "home"
    home.mkdir()
    (home / "rounds.sqlite").write_bytes(b"no database at all" * 100)
    done = run("report", after, "--before", before)
    assert done.exit_code == 0
    assert "Noted repairs are not in it" in done.stderr


def test_other_kinds_of_report_say_how_to_get_a_pdf(files: tuple[Path, Path]) -> None:
    before, after = files
    done = run("report", after, "--before", before, "--out", after.with_suffix(".pdf"))
    assert done.exit_code == 2
    assert "a browser prints that page as a PDF" in " ".join(done.stderr.split())


def test_findings_of_any_kind_of_file_are_found_in_the_store(store: Store, tmp_path: Path) -> None:
    kept = store.add(AUTUMN)
    for suffix in (".csv", ".xlsx", ".parquet"):
        path = tmp_path / f"autumn{suffix}"
        AUTUMN.save(path)
        assert store.kept_as(Findings.load(path)) == kept
    assert store.kept_as(WINTER) is None


def test_what_was_set_aside_is_told_under_the_sheets_own_header_for_the_tag() -> None:
    aside = pd.DataFrame({"row": [7], "reason": ["bore over 2 in"], "Trap #": ["ST-17"]})
    headers = [{"header": "Trap #", "column": "tag", "unit": "", "how": "name", "sample": "ST-14"}]
    autumn = replace(
        AUTUMN, rejects=aside, summary={**AUTUMN.summary, "headers": headers}
    )
    winter = findings(*(trap(tag, **LATER) for tag in ("ST-14", "ST-17")))
    outcome = {unit.tag: unit.outcome for unit in compare_findings(autumn, winter).units}
    assert outcome["ST-17"] == "unreadable_before"
