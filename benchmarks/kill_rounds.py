"""Kill a program that adds rounds, many times and at any moment; nothing may be lost or half there.

``python benchmarks/kill_rounds.py [--times 200] [--store URL]`` prints how often it was killed
where, and ends with exit code 1 if a round that was said to be kept is missing or not whole.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from survey.rounds.repairs import add_note, remove_note  # noqa: E402
from survey.rounds.store import open_store  # noqa: E402


def faults(address: str, confirmed: int, turns: int) -> list[str]:
    """Return what is wrong with the store; opening it and writing once cleans up after the kill."""
    with open_store(address) as store:
        kept = store.rounds()
        wrong = [
            f"round {one.number} is not whole"
            for one in kept[-3:]
            if len(store.findings(one.number).table) != one.devices
            or len(store.tags(one.number)) != one.devices
        ]
        remove_note(store, add_note(store, "looked at").number)
    if not confirmed <= len(kept) <= confirmed + turns:
        wrong.append(f"{confirmed} said to be kept, {len(kept)} are there")
    return wrong


def leftovers(address: str) -> list[str]:
    """Return the files beside the store that nobody needs once it has been written again."""
    path = Path(address)
    return [p.name for p in path.parent.iterdir() if p != path] if path.exists() else []


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--store", help="default: a file in a folder of its own")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    chance = random.Random(given.seed)
    confirmed, in_the_middle = 0, 0
    with tempfile.TemporaryDirectory() as folder:
        address = given.store or str(Path(folder) / "rounds.sqlite")
        for turn in range(given.times):
            adding = subprocess.Popen(
                [sys.executable, "-m", "tests.rounds.adding", address, f"turn{turn}", "100"],
                cwd=ROOT, stdout=subprocess.PIPE, text=True,
            )  # fmt: skip
            assert adding.stdout is not None
            first = adding.stdout.readline()
            time.sleep(chance.uniform(0.0, 0.15))
            adding.kill()
            confirmed += (first + adding.communicate()[0]).count("kept")
            in_the_middle += Path(f"{address}-journal").exists()
            wrong = faults(address, confirmed, turn + 1) + leftovers(address)
            if wrong:
                print(f"after kill {turn + 1}: {'; '.join(wrong)}")
                return 1
    where = "" if given.store else f", {in_the_middle} of them within a transaction"
    print(f"killed {given.times} times{where}: "
          f"all {confirmed} rounds said to be kept are there and whole")
    return 0


if __name__ == "__main__":
    sys.exit(main())
