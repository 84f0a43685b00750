"""`survey rounds repair`, `note` and `match`: what people add to what was read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from survey.errors import UsageError

if TYPE_CHECKING:
    from survey.rounds.matching import Proposal


def repair(
    unit: str, *, on: date, what: str, cost: float | None, store: str | None
) -> None:
    """Note a repair of a unit."""
    from survey.reports.words import tidy
    from survey.rounds.repairs import add_repair
    from survey.rounds.store import open_existing
    from survey.rounds.units import find_unit

    with open_existing(store) as opened:
        one = find_unit(opened, unit)
        made = add_repair(opened, one.number, on=on, what=what, cost=cost)
    click.echo(f"Repair {made.number} of {tidy(one.tag)} noted, done on {made.done_on}. "
               f"To take it out again: survey rounds repair {made.number} --remove")  # fmt: skip


def remove_repair(number: str, *, store: str | None) -> None:
    """Take a repair out again."""
    from survey.rounds.repairs import remove_repair
    from survey.rounds.store import open_existing

    with open_existing(store) as opened:
        remove_repair(opened, _number(number, "repair"))
    click.echo(f"Repair {number} removed.")


def note(words: str, *, unit: str | None, round_: str | None, store: str | None) -> None:
    """Keep a note."""
    from survey.rounds.repairs import add_note
    from survey.rounds.store import open_existing
    from survey.rounds.units import find_unit

    with open_existing(store) as opened:
        one = None if unit is None else find_unit(opened, unit).number
        kept = None if round_ is None else opened.round(round_).number
        made = add_note(opened, words, unit=one, round_number=kept)
    click.echo(f"Note {made.number} kept. "
               f"To take it out again: survey rounds note {made.number} --remove")  # fmt: skip


def remove_note(number: str, *, store: str | None) -> None:
    """Take a note out again."""
    from survey.rounds.repairs import remove_note
    from survey.rounds.store import open_existing

    with open_existing(store) as opened:
        remove_note(opened, _number(number, "note"))
    click.echo(f"Note {number} removed.")


def match(
    *,
    accepted: Sequence[str],
    refused: Sequence[str],
    out: str | None,
    answers: str | None,
    store: str | None,
) -> None:
    """Carry out answers, then print or save the questions that are left.

    Raises
    ------
    SurveyError
        An answer is to no question, or a file cannot be read or written.
    """
    from survey.rounds.answers import answer_all, proposals
    from survey.rounds.questions import read_answers, write_questions
    from survey.rounds.store import open_existing

    if out is not None and Path(out).suffix.lower() != ".csv":
        raise UsageError("A name ending in .csv was expected after --out", found=Path(out).name)
    given = read_answers(Path(answers)) if answers else {}
    given |= {_key(word): True for word in accepted} | {_key(word): False for word in refused}
    both = {_key(word) for word in accepted} & {_key(word) for word in refused}
    if both:
        raise UsageError("One answer to each question was expected", found="yes and no to one")
    with open_existing(store) as opened:
        answer_all(opened, given)
        asked = proposals(opened)
    if given:
        click.echo(f"{len(given)} answered.")
    if out is not None:
        write_questions(asked, Path(out))
        from survey.reports.words import path_told

        place = path_told(out)
        click.echo(f"{len(asked)} open, saved to {place}. Write yes or no in its last column, "
                   f"then: survey rounds match --answers {place}")  # fmt: skip
        return
    _print(asked)


def _print(asked: Sequence[Proposal]) -> None:
    from survey.reports.words import tidy
    from survey.rounds.questions import question_of

    if not asked:
        click.echo("No tag or place has changed that would have to be asked about.")
        return
    for one in asked:
        key, words, reasons = question_of(one)
        click.echo(f"{key:>9}  {tidy(words, 300)}")
        click.echo(f"{'':>9}  Why: {tidy(reasons, 600)}.")
    click.echo("Answer with --yes or --no and the question's name on the left.")


def _key(word: str) -> tuple[int, int, int]:
    from survey.rounds.questions import key_of

    found = key_of(word.strip())
    if found is None:
        raise UsageError(
            "A question's name, 12=31 or 12@3 say, was expected after --yes or --no",
            found=word[:40], do="see the questions with: survey rounds match",
        )  # fmt: skip
    return found


def _number(word: str, kind: str) -> int:
    if not word.isdecimal() or len(word) > 9:
        raise UsageError(f"The number of a {kind} was expected before --remove", found=word[:40])
    return int(word)
