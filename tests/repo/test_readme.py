"""README: its two commands work, and it documents every command, option, column and setting."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest

from survey import analyze
from survey.cli import main
from survey.columns import FINDING_NAMES, INPUT_NAMES, STATES_BY_DEVICE, UNDECIDED
from survey.errors import SurveyError
from survey.reports.words import CAUTION_POINTS, money
from survey.site import Fuel, Site, Station

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FIRST = "python3 -m venv .venv && .venv/bin/pip install --quiet . && "
SECOND = "python3 -m venv .venv && .venv/bin/pip install --quiet '.[test]' && .venv/bin/pytest"
# The environment that runs these tests has the package installed already, so a command is run
# here from after its installation, with this interpreter in the place of .venv/bin/.
SURVEY = [sys.executable, "-m", "survey.cli"]


def commands() -> list[str]:
    """Return README's set-up commands: the content of its shell blocks."""
    return re.findall(r"```sh\n(.*?)\n```", README, flags=re.DOTALL)


def test_there_are_exactly_two_set_up_commands_of_one_line_each() -> None:
    first, second = commands()
    assert first.startswith(FIRST)
    assert second == SECOND
    assert "\n" not in first


def test_the_first_command_judges_the_sample_round(tmp_path: Path) -> None:
    words = shlex.split(commands()[0].removeprefix(FIRST))
    assert words[0] == ".venv/bin/survey"
    place = tmp_path / words[words.index("--out") + 1]
    totals = tmp_path / "totals.json"
    arguments = [str(place) if word == place.name else word for word in words[1:]]
    done = subprocess.run(
        [*SURVEY, *arguments, "--summary", str(totals)],
        cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    summary = json.loads(totals.read_text(encoding="utf-8"))
    printed = " ".join(done.stdout.split())
    assert f"{summary['site_name']}: {summary['rows_judged']} devices judged" in printed
    assert f"150 steam traps: {summary['states_by_device']['trap']['working']} working" in printed
    assert f"Findings saved to {place}" in printed
    assert place.is_file()
    shown = re.search(r"```text\n(.*?)\n```", README, flags=re.DOTALL)
    assert shown is not None
    assert shown[1] in done.stdout, "README's first look is old: run .ci/first_look.py"


def test_what_readme_says_of_the_sample_is_what_it_costs() -> None:
    site = Site.from_toml(ROOT / "sample_data" / "nursery_site.toml")
    summary = analyze(ROOT / "sample_data" / "nursery_round.csv", site=site).summary
    told = " ".join(README.split("## A round, from question")[1].split("\n## ")[0].split())
    cost = money(summary["annual_cost"], "USD")
    assert re.findall(r"USD [\d,]+", told) == [cost]
    needing = summary["devices_needing_something"]
    assert f"{summary['rows_judged']} devices, {needing} need something: about {cost}" in told


def test_continuous_integration_runs_readmes_own_test_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    pattern = re.search(r'grep -E "(.*)" README\.md', script)
    assert pattern is not None
    found = [line for line in README.splitlines() if re.search(pattern[1], line)]
    assert found == [SECOND]


def _commands(group: click.Command, path: str = "survey") -> list[tuple[str, click.Command]]:
    found = [(path, group)]
    if isinstance(group, click.Group):
        for name, command in group.commands.items():
            found += _commands(command, f"{path} {name}")
    return found


COMMANDS = _commands(main)


@pytest.mark.parametrize(("path", "command"), COMMANDS, ids=[path for path, _ in COMMANDS])
def test_every_command_and_option_is_documented(path: str, command: click.Command) -> None:
    table = README.split("## Commands and exit codes")[1]
    if path != "survey":
        assert f"| `{path}" in table
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            name = path.rpartition(" ")[2]
            rows = [line for line in table.splitlines() if f"`{parameter.opts[0]}" in line]
            assert any(f" {name}" in row.split("|")[2] for row in rows), parameter.opts[0]


@pytest.mark.parametrize("name", [*INPUT_NAMES, *FINDING_NAMES])
def test_every_column_is_documented(name: str) -> None:
    assert f"| `{name}` |" in README


@pytest.mark.parametrize(
    "key", [*Site.model_fields, "altitude_m", *Fuel.model_fields, *Station.model_fields]
)
def test_every_site_setting_is_documented(key: str) -> None:
    section = README.split("## The site file")[1].split("\n## ")[0]
    assert re.search(rf"\b{key}\b", section)


@pytest.mark.parametrize("device", STATES_BY_DEVICE)
def test_every_state_is_documented(device: str) -> None:
    section = README.split("States of a trap:")[1].split("Flags:")[0]
    for state in (*STATES_BY_DEVICE[device], UNDECIDED):
        assert re.search(rf"\b{state}\b", section)


def test_every_exit_code_is_documented() -> None:
    codes = {kind.exit_code for kind in SurveyError.__subclasses__()} | {0, 130}
    table = README.split("| exit code | meaning |")[1]
    assert codes == {int(code) for code in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)}


def test_the_site_file_shown_is_one_that_works(tmp_path: Path) -> None:
    section = README.split("## The site file")[1]
    shown = re.search(r"```toml\n(.*?)\n```", section, flags=re.DOTALL)
    assert shown is not None
    path = tmp_path / "site.toml"
    path.write_text(shown[1], encoding="utf-8")
    site = Site.from_toml(path)
    assert site.stations["North"].supply_psig == 60
    assert site.steam_cost_per_klb == 10.0


def test_the_cautions_are_those_that_the_tool_prints() -> None:
    section = README.split("## Before anyone opens")[1].split("\n## ")[0]
    points = [" ".join(point.split()) for point in section.split("\n- ")[1:]]
    assert points == list(CAUTION_POINTS)


def test_the_python_shown_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = re.search(r"```python\n(.*?)\n```", README, flags=re.DOTALL)
    assert shown is not None
    samples = {"my_round.csv": "nursery_round.csv", "my_site.toml": "nursery_site.toml"}
    for name, sample in samples.items():
        (tmp_path / name).write_bytes((ROOT / "sample_data" / sample).read_bytes())
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    exec(shown[1], names)
    assert names["findings"].summary["rows_judged"] == 318


def test_the_summary_keys_promised_are_those_listed() -> None:
    listed = README.split("`--summary` holds at least: ")[1].split(". In Python")[0]
    assert set(listed.replace("\n", " ").split(", ")) == {
        "rows_read", "rows_judged", "rows_set_aside", "states", "causes", "steam_loss_lb_per_h",
        "annual_cost", "currency", "assumptions", "seconds",
    }


def test_links_within_readme_lead_somewhere() -> None:
    headings = re.findall(r"^## (.*)$", README, flags=re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-") for heading in headings}
    assert set(re.findall(r"\]\(#([^)]*)\)", README)) <= anchors
    for target in re.findall(r"\]\((\w+\.md)\)", README):
        assert (ROOT / target).is_file()
