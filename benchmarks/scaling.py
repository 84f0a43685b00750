"""How a folder of Parquet files is judged by more workers, as Markdown.

    python benchmarks/scaling.py [--rows 1000000] [--files 4] [--runs 1]

One process with so many threads, then Dask on this machine with 1, 2, ... worker processes of one
thread, up to the cores there are; each from the start of its cluster to the written file, in turn.
The findings of all must be the same, bit for bit, or it fails.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import tempfile
import time
from pathlib import Path

import pyarrow.parquet as pq
from speed import make_round

from survey.site import Site
from survey.streaming.analyzing import analyze_to_file

ROW_GROUP = 262_144
Way = tuple[str, str | None, int]


def main() -> None:
    """Make the round, judge it in every way, print the table."""
    options = _options()
    cores = os.cpu_count() or 1
    ways: list[Way] = [("one process, 1 thread", None, 1)]
    ways += [(f"one process, {cores} threads", None, cores)]
    ways += [(f"Dask, workers: {count}", "local", count) for count in range(1, cores + 1)]
    with tempfile.TemporaryDirectory() as name:
        folder = make_folder(Path(name), options.rows, options.files)
        seconds: dict[str, list[tuple[float, float]]] = {words: [] for words, _, _ in ways}
        for _ in range(options.runs):
            for way in ways:
                seconds[way[0]].append(timed(folder, way))
        same = [pq.read_table(_out(folder, words)) for words, _, _ in ways]
        assert all(table.equals(same[0]) for table in same), "the findings differ"
    print(_markdown(seconds, options.rows, options.files))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--files", type=int, default=4)
    parser.add_argument("--runs", type=int, default=1)
    return parser.parse_args()


def make_folder(place: Path, rows: int, files: int) -> Path:
    """Write a round of so many rows in so many files of one folder."""
    whole = pq.read_table(make_round(place / "whole.parquet", rows))
    folder = place / "round"
    folder.mkdir()
    each = -(-rows // files)
    for number in range(files):
        part = whole.slice(number * each, each)
        pq.write_table(part, folder / f"part-{number:03}.parquet", row_group_size=ROW_GROUP)
    return folder


def timed(folder: Path, way: Way) -> tuple[float, float]:
    """Judge the round; return seconds from start to end, and of that pass one with the start."""
    words, cluster, workers = way
    started = time.perf_counter()
    begun: list[float] = []

    def note(done: int, _: int) -> None:
        if done == 0:
            begun[:] = [time.perf_counter() - started]

    told = analyze_to_file(
        [folder], _out(folder, words), site=Site(), workers=workers, cluster=cluster, progress=note
    )
    assert told is not None
    return time.perf_counter() - started, begun[0]


def _out(folder: Path, words: str) -> Path:
    return folder.parent / f"{''.join(filter(str.isalnum, words))}.parquet"


def _markdown(seconds: dict[str, list[tuple[float, float]]], rows: int, files: int) -> str:
    lines = [
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, "
        f"{rows:,} rows in {files} files.",
        "",
        "| way | seconds | of them until pass one was done |",
        "|---|---|---|",
    ]
    for words, each in seconds.items():
        whole, first = (statistics.median(column) for column in zip(*each, strict=True))
        lines.append(f"| {words} | {whole:.1f} | {first:.1f} |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
