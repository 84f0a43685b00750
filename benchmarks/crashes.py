"""Kill `survey` with SIGKILL at random moments: is every file the old one or the new one?

Run: ``python benchmarks/crashes.py`` (200 kills, some minutes; ``--kills 10`` for a look).

Each kill starts `survey analyze` (into .parquet, .csv or .xlsx, over an older file, with rejects
and summary) or `survey share` (into the store of links, or to a folder), kills it, and then looks
at everything it may have touched. Half of the kills come at a random part of the time that a whole
run takes; the others wait until something begins to be written, and then for 0 to 60 ms.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
SAMPLE = ROOT / "sample_data"
KINDS = ("analyze parquet", "analyze csv", "analyze xlsx", "share", "share to a folder")
_EARLIEST, _LATEST = 0.15, 1.05  # parts of the time that a whole run takes
_WRITING_S = 0.060


@dataclass
class Bench:
    """A folder with an old file under every name that a run writes to, and what they hold."""

    folder: Path
    seconds: dict[str, float]
    old_rows: int = 12

    def fresh(self) -> None:
        """Put every old file back; the store of links and the folder of pages stay as they are."""
        from survey.findings import Findings

        small = Findings.load(self.folder / "small.parquet")
        for ending in ("parquet", "csv", "xlsx"):
            small.save(self.folder / f"out.{ending}")
        (self.folder / "rejects.csv").write_text("old,file\n", encoding="utf-8")
        (self.folder / "summary.json").write_text('{"old": true}', encoding="utf-8")

    def command(self, kind: str) -> list[str]:
        run = [sys.executable, "-m", "survey.cli"]
        if kind.startswith("analyze"):
            out = self.folder / f"out.{kind.split()[1]}"
            return [*run, "analyze", str(SAMPLE / "nursery_round.csv"), "--out", str(out),
                    "--rejects", str(self.folder / "rejects.csv"),
                    "--summary", str(self.folder / "summary.json")]
        to = ["--to", str(self.folder / "shown")] if kind.endswith("folder") else []
        return [*run, "share", str(self.folder / "small.parquet"), *to]

    def run(self, kind: str, kill: Callable[[subprocess.Popen[bytes]], None] | None = None) -> bool:
        """Run one command, killed when ``kill`` returns; tell whether that was before its end."""
        environment = os.environ | {"SURVEY_HOME": str(self.folder / "kept")}
        with tempfile.TemporaryFile() as said:
            process = subprocess.Popen(self.command(kind), cwd=ROOT, env=environment,
                                       stdout=said, stderr=said)
            if kill is not None:
                kill(process)
                process.kill()
            if process.wait() == -signal.SIGKILL:
                return True
            said.seek(0)
            assert process.returncode == 0, said.read().decode()
        return False

    def touched(self) -> set[tuple[str, int, int]]:
        """Return name, size and time of every file that a run may write."""
        found = set()
        for folder in (self.folder, self.folder / "kept", self.folder / "shown"):
            with contextlib.suppress(FileNotFoundError):
                for entry in os.scandir(folder):
                    with contextlib.suppress(FileNotFoundError):
                        state = entry.stat()
                        found.add((entry.path, state.st_size, state.st_mtime_ns))
        return found

    def at_random(self, kind: str, chance: random.Random) -> Callable[..., None]:
        """Return a killer that waits for a random part of a whole run."""
        waits = self.seconds[kind] * chance.uniform(_EARLIEST, _LATEST)

        def kill(process: subprocess.Popen[bytes]) -> None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(waits)

        return kill

    def while_writing(self, chance: random.Random) -> Callable[..., None]:
        """Return a killer that waits for the first change to a file, and a little longer."""
        before, waits = self.touched(), chance.uniform(0, _WRITING_S)

        def kill(process: subprocess.Popen[bytes]) -> None:
            while process.poll() is None and self.touched() == before:
                time.sleep(0.0005)
            time.sleep(waits)

        return kill


def prepare(folder: Path) -> Bench:
    """Make the files, and time one whole run of each kind."""
    from survey import Site, analyze

    lines = (SAMPLE / "nursery_round.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    small = folder / "small.csv"
    small.write_text("".join(lines[:13]), encoding="utf-8")
    analyze(small, site=Site()).save(folder / "small.parquet")
    (folder / "shown").mkdir()
    bench = Bench(folder, {})
    bench.fresh()
    for kind in KINDS:
        start = time.monotonic()
        bench.run(kind)
        bench.seconds[kind] = time.monotonic() - start
    return bench


def kill_once(bench: Bench, kind: str, chance: random.Random, *, aimed: bool) -> str:
    """Kill one run and return what was found: old, new or done; raises AssertionError if half."""
    bench.fresh()
    links_before, pages_before = _links(bench), _pages(bench)
    kill = bench.while_writing(chance) if aimed else bench.at_random(kind, chance)
    killed = bench.run(kind, kill)
    if kind.startswith("analyze"):
        found = _look_at_files(bench, kind.split()[1])
    else:
        found = _look_at_links(bench, links_before, pages_before, killed=killed)
    return found if killed else "done"


def _look_at_files(bench: Bench, ending: str) -> str:
    from survey.findings import Findings

    rows = len(Findings.load(bench.folder / f"out.{ending}").table)
    assert rows in (bench.old_rows, 318), f"out.{ending} has {rows} rows"
    rejects = (bench.folder / "rejects.csv").read_text(encoding="utf-8")
    assert rejects == "old,file\n" or _whole_rejects(rejects), "rejects.csv is neither"
    summary = json.loads((bench.folder / "summary.json").read_text(encoding="utf-8"))
    assert summary == {"old": True} or summary["rows_judged"] == 318
    return "old" if rows == bench.old_rows else "new"


def _whole_rejects(text: str) -> bool:
    import io

    import pandas as pd

    table = pd.read_csv(io.StringIO(text))
    return text.endswith("\n") and {"row", "column", "value", "reason"} <= set(table.columns)


def _links(bench: Bench) -> int:
    from survey.sharing import LinkStore

    with LinkStore(bench.folder / "kept" / "links.sqlite") as store:
        return len(store.links())


def _pages(bench: Bench) -> set[Path]:
    return set((bench.folder / "shown").glob("*.html"))


def _look_at_links(bench: Bench, before: int, pages: set[Path], *, killed: bool) -> str:
    from survey.sharing import LinkStore

    with LinkStore(bench.folder / "kept" / "links.sqlite") as store:
        links = store.links()
        assert len(links) in (before, before + 1)
        assert killed or len(links) == before + 1
        for page in _pages(bench) - pages:
            # A page that anybody can read is whole, and the store knows it and can end it.
            assert page.read_bytes().rstrip().endswith(b"</html>"), "half a page is shown"
            assert page.name == "index.html" or store.number_of(page.stem) is not None
        store.create(b"the store still takes links", policy="")
    return "old" if len(links) == before else "new"


def leftovers(bench: Bench) -> list[Path]:
    """Return the temporary files that killed runs have left."""
    return [path for path in bench.folder.rglob(".*.part") if path.is_file()]


def cleared(bench: Bench) -> int:
    """Age the leftovers, run everything once more, and return how many were cleared: all."""
    left = leftovers(bench)
    for path in left:
        os.utime(path, (time.time() - 4000,) * 2)
    for kind in KINDS:
        bench.run(kind)
    assert leftovers(bench) == [], "what killed runs left was not cleared"
    return len(left)


def kill_many(kills: int, seed: int, say: Callable[[str], None] = print) -> Counter[str]:
    """Kill so many runs; returns how each kind was found, raises AssertionError if any is half."""
    folder = Path(tempfile.mkdtemp())
    try:
        bench, chance = prepare(folder), random.Random(seed)
        found: Counter[str] = Counter()
        for number in range(kills):
            kind = KINDS[number % len(KINDS)]
            aimed = bool(number // len(KINDS) % 2)
            state = kill_once(bench, kind, chance, aimed=aimed)
            found[f"{kind}, {'while writing' if aimed else 'at any time'}: {state}"] += 1
        say(f"{cleared(bench)} temporary files of killed runs were cleared by later ones")
        return found
    finally:
        shutil.rmtree(folder)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    found = kill_many(asked.kills, asked.seed)
    for name, count in sorted(found.items()):
        print(f"{count:4d}  {name}")
    print(f"{asked.kills} runs, {sum(n for k, n in found.items() if 'done' not in k)} of them "
          "killed before their end: every file was the old one or the new one")


if __name__ == "__main__":
    main()
