"""Run as a program: add rounds to a store, and say after each that it is kept."""

from __future__ import annotations

import sys

from survey.errors import RoundsError
from survey.rounds.repairs import add_note
from survey.rounds.store import open_store
from tests.rounds.build import findings, trap


def round_of(who: str, number: int, devices: int = 30):
    """Return a round whose readings no other one has."""
    rows = [trap(f"{who}-{i}", inlet_temp_f=200.0 + number, note=who) for i in range(devices)]
    return findings(*rows)


def main(address: str, who: str, count: int) -> None:
    for number in range(count):
        with open_store(address) as store:
            try:
                kept = store.add(round_of(who, number), name=f"{who} {number}")
            except RoundsError as error:
                if "same readings" not in str(error):
                    raise
                print("again", number, flush=True)
                continue
            add_note(store, f"by {who}", round_number=kept.number)
        print("kept", number, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
