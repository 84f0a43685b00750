"""Many at once, and killed half-way: nothing is lost, nothing is half there."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from survey.rounds.repairs import add_note, notes
from survey.rounds.store import open_store
from survey.rounds.units import units

ROOT = Path(__file__).resolve().parents[2]


def started(address: str, who: str, count: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.rounds.adding", address, who, str(count)],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def test_people_who_add_at_once_lose_nothing(address: str) -> None:
    people = [started(address, who, 4) for who in ("ann", "bob", "cyd")]
    said = [person.communicate(timeout=240) for person in people]
    assert [person.returncode for person in people] == [0, 0, 0], said
    assert all(out.count("kept") == 4 for out, _ in said)
    with open_store(address) as store:
        kept = store.rounds()
        assert sorted(one.number for one in kept) == list(range(1, 13))
        assert {one.name for one in kept} == {f"{w} {n}" for w in ("ann", "bob", "cyd")
                                              for n in range(4)}  # fmt: skip
        assert len(units(store)) == 90
        assert len(notes(store)) == 12
        assert all(len(store.findings(one.number).table) == 30 for one in kept)


def test_two_who_add_the_same_round_at_once_keep_it_once(address: str) -> None:
    people = [started(address, "same", 3) for _ in range(2)]
    said = [person.communicate(timeout=240) for person in people]
    assert [person.returncode for person in people] == [0, 0], said
    words = " ".join(out for out, _ in said).split()
    assert (words.count("kept"), words.count("again")) == (3, 3)
    with open_store(address) as store:
        assert len(store.rounds()) == 3


@pytest.mark.thorough
def test_killed_at_any_moment_leaves_what_was_kept_whole(address: str, tmp_path: Path) -> None:
    chance = random.Random(7)
    confirmed = 0
    for turn in range(4):
        person = started(address, f"turn{turn}", 30)
        assert person.stdout is not None
        first = person.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.25))
        person.kill()
        confirmed += (first + person.communicate()[0]).count("kept")
        with open_store(address) as store:
            kept = store.rounds()
            assert all(len(store.findings(one.number).table) == one.devices for one in kept)
            assert all(len(store.tags(one.number)) == one.devices for one in kept)
            # What was said to be kept is; one more may have been kept before it could be said.
            assert confirmed <= len(kept) <= confirmed + turn + 1
            add_note(store, "what a killed program left is gone with the next thing written")
    assert sorted(p.name for p in tmp_path.iterdir()) in (["rounds.sqlite"], [])
