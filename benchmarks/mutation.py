"""How much of a wrong change do the tests notice? A seeded sample of mutants of each package.

Run: ``python benchmarks/mutation.py`` (an hour; ``--sample 20`` for a look, ``--packages physics``
for one). Each mutant is put into a copy of the project and meets only the tests of its own
package, which stop at the first failure; those that need nginx or a browser are left out. Under
85 % in any package, the exit code is 1.

A runner of our own: mutmut 3.8 keeps every variant of a function in the module itself, where
``tests/physics`` finds public functions that it does not know and fails before any mutant is tried;
it also leaves tables of coefficients alone, and those are most of the physics.
"""

from __future__ import annotations

import argparse
import importlib
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from mutants import Mutant, count_of, mutant_of

ROOT = Path(__file__).resolve().parents[1]
JUDGED = Path(__file__).with_name("mutation_survivors.md")
PACKAGES = ("physics", "losses", "sharing", "readings")
BAR = 0.85
# Loaded once, before the fork, so that a mutant costs its tests and little more.
HEAVY = ("numpy", "pandas", "pyarrow.parquet", "scipy.optimize", "CoolProp.CoolProp", "iapws",
         "seuif97", "hypothesis", "pytest", "pydantic", "openpyxl", "xlsxwriter", "python_calamine",
         "fsspec", "s3fs", "moto.server", "starlette.applications", "uvicorn", "httpx", "click",
         "jinja2")


def tests_hold(copy: Path, package: str, timeout_s: float, near: str) -> bool:
    """Run one package's tests in a child; a child that outlives its time has failed.

    Test modules that speak of ``near``, the module that was changed, come first: they fail soonest.
    """
    folder = copy / "tests" / package
    first = [path for path in sorted(folder.glob("test_*.py"))
             if near and near in path.read_text(encoding="utf-8")]
    asked = [str(path.relative_to(copy)) for path in first] + [f"tests/{package}"]
    child = os.fork()
    if child == 0:
        _be_the_child(copy, asked)
    ends = time.monotonic() + timeout_s
    while time.monotonic() < ends:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _be_the_child(copy: Path, asked: list[str]) -> None:
    os.setpgid(0, 0)  # so that servers that tests start are ended with it
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    os.chdir(copy)
    os.environ |= {"CI": "1", "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(copy)}
    sys.dont_write_bytecode = True
    sys.path.insert(0, str(copy))
    code = 3
    try:
        import pytest

        code = int(pytest.main([
            "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-W", "ignore:Module already imported",
            "-m", "not nginx and not browser", *asked,
        ]))
    finally:
        os._exit(code)


def sample_of(package: str, number: int, seed: int) -> list[Mutant]:
    """Return a seeded sample of a package's mutants, spread over its modules by their size."""
    sources = {
        str(path.relative_to(ROOT)): path.read_text(encoding="utf-8")
        for path in sorted((ROOT / "survey" / package).rglob("*.py"))
    }
    every = [(name, at) for name, text in sources.items() for at in range(count_of(text))]
    chosen = random.Random(f"{seed} {package}").sample(every, min(number, len(every)))
    print(f"{package}: {len(chosen)} of {len(every)} mutants", flush=True)
    return [mutant_of(name, sources[name], at) for name, at in sorted(chosen)]


def try_package(package: str, number: int, seed: int, judged: str) -> float:
    """Return the share killed, telling each survivor and whether it has been judged."""
    chosen = sample_of(package, number, seed)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "survey"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(
            ".git", ".venv", "build", "artefacts", "__pycache__", ".*_cache", ".hypothesis"))
        start = time.monotonic()
        if not tests_hold(copy, package, 600.0, near=""):
            raise SystemExit(f"{package}: its tests fail before anything is changed")
        timeout_s = 4 * (time.monotonic() - start) + 10
        survivors = []
        for done, mutant in enumerate(chosen):
            if sys.stderr.isatty():
                print(f"\r{done} of {len(chosen)}", end=" ", file=sys.stderr, flush=True)
            if _lives(mutant, copy, package, timeout_s):
                survivors.append(mutant)
                said = "judged" if mutant.name in judged else "NOT JUDGED"
                print(f"  lives, {said}: line {mutant.line} of {mutant.name}", flush=True)
    share = 1 - len(survivors) / len(chosen)
    print(f"{package}: {len(chosen) - len(survivors)} of {len(chosen)} killed, {share:.1%} "
          f"(seed {seed})", flush=True)
    return share


def _lives(mutant: Mutant, copy: Path, package: str, timeout_s: float) -> bool:
    place = copy / mutant.module
    kept = place.read_bytes()
    place.write_text(mutant.source, encoding="utf-8")
    try:
        return tests_hold(copy, package, timeout_s, near=Path(mutant.module).stem)
    finally:
        place.write_bytes(kept)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--packages", nargs="+", default=list(PACKAGES), choices=PACKAGES)
    parser.add_argument("--sample", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for name in HEAVY:
        importlib.import_module(name)
    os.nice(5)
    judged = JUDGED.read_text(encoding="utf-8") if JUDGED.exists() else ""
    shares = [try_package(name, asked.sample, asked.seed, judged) for name in asked.packages]
    raise SystemExit(0 if min(shares) >= BAR else 1)


if __name__ == "__main__":
    main()
