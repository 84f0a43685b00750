"""The store of rounds as the screens use it: opened for one look, and never made by looking."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from survey.rounds.home import on_a_server, store_address
from survey.rounds.store import Store, open_store


def any_kept() -> bool:
    """Tell whether there is a store to look into; raises RoundsError."""
    address = store_address()
    return on_a_server(address) or Path(address).is_file()


@contextmanager
def store() -> Iterator[Store]:
    """Give the store, made if need be; raises RoundsError."""
    with open_store() as opened:
        yield opened
