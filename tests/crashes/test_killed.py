"""A few of the kills that `benchmarks/crashes.py` makes by the hundred."""

from __future__ import annotations

import os

import pytest

from benchmarks.crashes import KINDS, kill_many

KILLS = int(os.environ.get("SURVEY_KILLS", "10"))


@pytest.mark.thorough
def test_every_file_is_the_old_one_or_the_new_one() -> None:
    found = kill_many(max(KILLS, 2 * len(KINDS)), seed=int.from_bytes(os.urandom(2)))
    killed = [name for name, number in found.items() if not name.endswith("done")]
    assert killed, "every run ended before it was killed, so nothing was tried"
    assert {name.partition(",")[0] for name in found} == set(KINDS)
