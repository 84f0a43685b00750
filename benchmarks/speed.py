"""How fast the package is: whole processes in turn, medians and ratios of one run, as Markdown.

    python benchmarks/speed.py [--rows 1000000] [--runs 3] [--largest 5000000] [--json FILE]

Every command is a process of its own, timed from start to end with its peak memory. Each turn runs
every command once, so that what else the machine does falls on all of them.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
SAMPLE = HERE.parent / "sample_data" / "nursery_round.parquet"
LOOPS = {
    "row loop with a steam library (from 5,000 rows)": "loop",
    "the same, the return's saturation as well": "both",
}
GROWTH_ROWS = (10_000, 100_000, 1_000_000)


def main() -> None:
    """Make the rounds, time everything, print the table."""
    options = _options()
    results: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        results |= _cold(folder, options.runs)
        results |= _large(folder, options.rows, options.runs)
        results |= _growth(folder, options.largest)
    print(_markdown(results, options.rows))
    if options.json:
        Path(options.json).write_text(json.dumps(results, indent=2) + "\n", encoding="utf-8")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--largest", type=int, default=5_000_000)
    parser.add_argument("--json")
    return parser.parse_args()


def make_round(path: Path, rows: int, *, pressures: bool = False, stations: int = 2) -> Path:
    """Write a round of so many rows: the sample again and again, each reading a little off.

    Parameters
    ----------
    pressures
        Give every row a supply pressure of its own.
    stations
        Stations to spread it over.
    """
    sample = pd.read_parquet(SAMPLE)
    copies = -(-rows // len(sample))
    table = pd.concat([sample] * copies, ignore_index=True).iloc[:rows].copy()
    copy = np.repeat(np.arange(copies), len(sample))[:rows]
    rng = np.random.default_rng(1)
    for name in ("tag", "equipment"):
        table[name] = table[name].astype(str) + "-" + pd.Series(copy).astype(str)
    if stations > 2:
        table["station"] = "Station " + pd.Series(copy % stations).astype(str)
    for name in ("inlet_temp_f", "outlet_temp_f", "sound_db", "background_db"):
        table[name] = (table[name] + rng.normal(0.0, 1.0, rows)).round(1)
    if pressures:
        table["supply_psig"] = table["supply_psig"].fillna(15.0) + rng.uniform(-0.5, 0.5, rows)
    table.to_parquet(path, index=False)
    return path


def made(path: Path, rows: int, *, pressures: bool = False, stations: int = 2) -> Path:
    """Write such a round from a process of its own.

    A process counts the memory of the one that started it as its own peak, so this one stays
    small.
    """
    code = f"import speed; speed.make_round(speed.Path({str(path)!r}), {rows}, "
    code += f"pressures={pressures}, stations={stations})"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=HERE)
    return path


def timed(*command: str | Path) -> tuple[float, float]:
    """Run a command to its end; return its seconds and its peak memory, MB."""
    # An installed package is compiled once; without this, a checkout may be at every start.
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    started = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *map(str, command)],
        stdout=subprocess.DEVNULL, cwd=HERE.parent, env=environment,
    )  # fmt: skip
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{command} failed")
    return time.perf_counter() - started, used.ru_maxrss / 1000.0


def in_turn(commands: dict[str, tuple[str | Path, ...]], runs: int) -> dict[str, dict[str, float]]:
    """Time commands in turn; return the median seconds and the highest memory of each."""
    seen: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
    for _ in range(runs):
        for name, command in commands.items():
            seen[name].append(timed(*command))
    return {
        name: {
            "seconds": statistics.median(seconds for seconds, _ in each),
            "peak_mb": max(peak for _, peak in each),
        }
        for name, each in seen.items()
    }


def _cold(folder: Path, runs: int) -> dict[str, dict[str, float]]:
    small = made(folder / "small.parquet", 200)
    return in_turn(
        {
            "bare Python": ("-c", "pass"),
            "import pandas, pyarrow.parquet": ("-c", "import pandas, pyarrow.parquet"),
            "survey --help": ("-m", "survey.cli", "--help"),
            "survey analyze, 200 rows": (
                "-m", "survey.cli", "analyze", small, "--out", folder / "small_out.parquet",
            ),
        },
        2 * runs + 1,
    )  # fmt: skip


def _large(folder: Path, rows: int, runs: int) -> dict[str, dict[str, float]]:
    given = made(folder / "given.parquet", rows)
    distinct = made(folder / "distinct.parquet", rows, pressures=True)
    many = made(folder / "many.parquet", rows, stations=200)
    out = folder / "out.parquet"
    first = in_turn({"survey analyze": ("-m", "survey.cli", "analyze", given, "--out", out)}, 1)
    del first
    beside = HERE / "beside.py"
    few = made(folder / "few.parquet", 5_000)
    results = in_turn(
        {
            "survey analyze": ("-m", "survey.cli", "analyze", given, "--out", folder / "o.parquet"),
            "pyarrow reads and writes the findings": (
                beside, "copy", out, folder / "copy.parquet",
            ),
            "pandas and CoolProp, fixed thresholds": (
                beside, "thresholds", given, folder / "thresholds.parquet",
            ),
            "every pressure different": (
                "-m", "survey.cli", "analyze", distinct, "--out", folder / "o.parquet",
            ),
            "200 stations": ("-m", "survey.cli", "analyze", many, "--out", folder / "o.parquet"),
        },
        runs,
    )  # fmt: skip
    loops = in_turn({n: (beside, way, few, folder / "l.parquet") for n, way in LOOPS.items()}, runs)
    empty = in_turn({"imports": (beside, "loop", "none", "none")}, runs)["imports"]
    for name, loop in loops.items():
        per_row = (loop["seconds"] - empty["seconds"]) / 5_000
        results[name] = {"seconds": per_row * rows, "peak_mb": loop["peak_mb"]}
    return results


def _growth(folder: Path, largest: int) -> dict[str, dict[str, float]]:
    results = {}
    for rows in (*GROWTH_ROWS, largest):
        given = made(folder / "grown.parquet", rows)
        command = ("-m", "survey.cli", "analyze", given, "--out", folder / "o.parquet")
        results[f"{rows:,} rows"] = in_turn({"it": command}, 1)["it"]
    return results


def _markdown(results: dict[str, dict[str, float]], rows: int) -> str:
    lines = [
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"{rows:,} rows where nothing else is said.",
        "",
        "| process | seconds | peak memory, MB |",
        "|---|---|---|",
    ]
    for name, each in results.items():
        lines.append(f"| {name} | {each['seconds']:.3g} | {each['peak_mb']:,.0f} |")
    lines += ["", *_ratios(results)]
    return "\n".join(lines)


def _ratios(results: dict[str, dict[str, float]]) -> list[str]:
    def ratio(one: str, other: str, what: str = "seconds") -> float:
        return results[one][what] / results[other][what]

    ours = "survey analyze"
    copy = "pyarrow reads and writes the findings"
    loop, both = LOOPS
    sizes = [name for name in results if name.endswith(" rows") and name[0].isdigit()]
    counts = [int(name.split()[0].replace(",", "")) for name in sizes]
    logs = np.log(counts), np.log([results[name]["seconds"] for name in sizes])
    slope = float(np.polyfit(*logs, 1)[0])
    marginal = math.log(ratio(sizes[-1], sizes[-2])) / math.log(counts[-1] / counts[-2])
    return [
        "| ratio | value |",
        "|---|---|",
        f"| analyze / pyarrow's read and write | {ratio(ours, copy):.2f} |",
        "| analyze / fixed thresholds | "
        f"{ratio(ours, 'pandas and CoolProp, fixed thresholds'):.2f} |",
        f"| row loop / analyze | {ratio(loop, ours):.0f} |",
        f"| row loop, both saturations / analyze | {ratio(both, ours):.0f} |",
        f"| every pressure different / analyze | {ratio('every pressure different', ours):.2f} |",
        f"| 200 stations / analyze | {ratio('200 stations', ours):.2f} |",
        "| 200 rows / import pandas, pyarrow.parquet | "
        f"{ratio('survey analyze, 200 rows', 'import pandas, pyarrow.parquet'):.2f} |",
        f"| --help / bare Python | {ratio('survey --help', 'bare Python'):.1f} |",
        f"| growth exponent, {sizes[0]} to {sizes[-1]} | {slope:.2f} |",
        f"| growth exponent, {sizes[-2]} to {sizes[-1]} | {marginal:.2f} |",
        f"| peak memory, {sizes[-1]} / {sizes[-2]} | "
        f"{ratio(sizes[-1], sizes[-2], 'peak_mb'):.2f} |",
    ]


if __name__ == "__main__":
    main()
