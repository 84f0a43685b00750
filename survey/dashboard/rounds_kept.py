"""The store of rounds as the screens use it: opened for one look, and never made by looking."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from survey.dashboard import say
from survey.dashboard.wording import planning_words
from survey.reports import numerals
from survey.rounds.home import on_a_server, store_address
from survey.rounds.store import KeptRound, Store, open_store


def any_kept() -> bool:
    """Tell whether there is a store to look into; raises RoundsError."""
    address = store_address()
    return on_a_server(address) or Path(address).is_file()


@contextmanager
def store() -> Iterator[Store]:
    """Give the store, made if need be; raises RoundsError."""
    with open_store() as opened:
        yield opened


def round_choice(one: KeptRound) -> str:
    """Return a round as a choice names it: its title and the day it was read."""
    day = numerals.short_day(one.read_on)
    return say.shown(planning_words.ROUND_CHOICE.format(title=one.title, day=day), 80)
