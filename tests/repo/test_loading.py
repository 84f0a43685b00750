"""What is loaded when: a command pays for what it needs and for nothing else."""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUND = ROOT / "sample_data" / "nursery_round.csv"
SITE = ROOT / "sample_data" / "nursery_site.toml"
HEAVY = {"streamlit", "plotly", "scipy", "jinja2", "starlette", "uvicorn", "CoolProp", "iapws"}
HELP_TIMES_BARE = 8.0

# Third-party packages that a command may load, by the name they are imported by.
HELP_MAY_LOAD = {"click"}
ANALYZE_MAY_LOAD = HELP_MAY_LOAD | {
    "numpy", "pandas", "pyarrow", "dateutil", "six", "pytz", "tzdata",  # tables
    "cloudpickle",  # which pyarrow loads where something else has brought it
    "seuif97",  # steam
    "pydantic", "pydantic_core", "annotated_types", "typing_extensions", "typing_inspection",
    "python_calamine", "xlsxwriter",  # workbooks
}


def loaded_by(code: str) -> set[str]:
    """Return the top-level names of the modules that some code has loaded when it ends."""
    probe = (
        "import sys, contextlib, io\n"
        "before = set(sys.modules)\n"
        "with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()):\n"
        f"    {code}\n"
        "import json\n"
        "print(json.dumps(sorted({name.partition('.')[0] for name in set(sys.modules) - before})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(json.loads(done.stdout))


def third_party(names: set[str]) -> set[str]:
    """Return the names that are neither the standard library's nor our own."""
    ours = set(sys.stdlib_module_names) | {"survey", "__main__", "cython_runtime"}
    return {name for name in names if name not in ours and not name.startswith("_")}


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert third_party(loaded_by("import survey")) == set()


def test_the_public_names_load_no_screens_and_no_charts() -> None:
    names = loaded_by("from survey import Findings, Round, Site, SurveyError, analyze, read_round")
    assert not HEAVY & names
    assert "pandas" in names


def test_help_loads_click_alone() -> None:
    names = loaded_by("from survey.cli import main; main(['--help'])")
    assert third_party(names) == HELP_MAY_LOAD


def test_analyze_loads_what_it_needs() -> None:
    names = loaded_by(
        f"from survey.cli import main; main(['analyze', {str(ROUND)!r}, '--site', {str(SITE)!r}])"
    )
    assert "pandas" in names, "the round was not judged"
    assert third_party(names) <= ANALYZE_MAY_LOAD
    assert not HEAVY & names


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["analyze", "--help"]])
def test_help_answers_at_once(arguments: list[str]) -> None:
    def seconds(*command: str) -> float:
        # Of the processor: by the clock, what else the machine does is counted too.
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *command], check=True, capture_output=True, cwd=ROOT)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    run = ("-c", f"from survey.cli import main; main({arguments!r})")
    seconds(*run)  # once for the caches
    # Taken in pairs, so that a busy moment of the machine slows both.
    ratios = [seconds(*run) / seconds("-c", "pass") for _ in range(7)]
    assert statistics.median(ratios) < HELP_TIMES_BARE
