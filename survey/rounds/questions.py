"""Questions about tags and places as words, and as a CSV to be answered and given back."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from survey.errors import UnreadableFile
from survey.paths import plain_bytes
from survey.rounds.matching import Proposal
from survey.writing import write_csv

COLUMNS = ("question", "earlier_tag", "later_tag", "kind", "likeness", "reasons", "answer")
_YES, _NO = {"yes", "y", "true", "1"}, {"no", "n", "false", "0"}


def question_of(asked: Proposal) -> tuple[str, str, str]:
    """Return a question's name, the question, and the reasons for it."""
    reasons = "; ".join(asked.reasons)
    if asked.kind == "moved":
        words = f"Has {asked.earlier_tag} moved? (no: it is another unit that bears its tag)"
        return f"{asked.earlier}@{asked.moved_in}", words, reasons
    words = f"Is {asked.later_tag} the unit that was {asked.earlier_tag}?"
    return f"{asked.earlier}={asked.later}", words, reasons


def write_questions(asked: Sequence[Proposal], path: Path) -> None:
    """Write the questions as CSV, the column of answers empty; raises OutputError."""
    rows = [
        (name, one.earlier_tag, one.later_tag, one.kind, one.likeness, reasons, "")
        for one in asked
        for name, _, reasons in [question_of(one)]
    ]
    write_csv(pd.DataFrame(rows, columns=list(COLUMNS)), path)


def read_answers(path: Path) -> dict[tuple[int, int, int], bool]:
    """Read the answers back, comma or semicolon between them; what is blank is not answered.

    Raises
    ------
    UnreadableFile
        It is not such a file, or an answer is neither yes nor no.
    """
    try:
        text = plain_bytes(path).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise _unreadable(path, "nothing readable as UTF-8") from None
    delimiter = ";" if text.partition("\n")[0].count(";") > 1 else ","
    rows = list(csv.DictReader(io.StringIO(text), delimiter=delimiter))
    if not rows or not {"question", "answer"} <= set(rows[0]):
        raise _unreadable(path, "no columns question and answer, or no row under them")
    found = {}
    for line, row in enumerate(rows, start=2):
        said = (row["answer"] or "").strip().casefold()
        if not said:
            continue
        key = key_of((row["question"] or "").strip())
        if key is None or said not in _YES | _NO:
            raise _unreadable(path, f"{said[:40]!r} to {row['question']!r:.40} on line {line}")
        found[key] = said in _YES
    return found


def key_of(name: str) -> tuple[int, int, int] | None:
    """Return what a question's name stands for; None where it is no such name."""
    for sign in "=@":
        first, found, second = name.partition(sign)
        if found and first.isdecimal() and second.isdecimal() and len(name) < 20:
            one, other = int(first), int(second)
            return (one, other, 0) if sign == "=" else (one, one, other)
    return None


def _unreadable(path: Path, found: str) -> UnreadableFile:
    return UnreadableFile(
        "Questions with answers, yes or no, were expected", found=found, where=str(path),
        do="write them with: survey rounds match --out FILE.csv, and fill in the column answer",
    )  # fmt: skip
