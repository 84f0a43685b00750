"""`survey analyze`: what it prints, writes and exits with."""

from __future__ import annotations

import contextlib
import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.findings import Findings

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
ROUND = SAMPLE / "nursery_round.csv"
SITE = SAMPLE / "nursery_site.toml"
MESSY = SAMPLE / "nursery_messy.xlsx"
HEADER = "tag,inlet_temp_f,outlet_temp_f,sound_db\n"
TOTALS = (
    "rows_read", "rows_judged", "rows_set_aside", "states", "states_by_device", "causes",
    "steam_loss_lb_per_h", "annual_cost", "annual_cost_low", "annual_cost_high", "currency",
    "assumptions",
)
PROMISED = {  # to users' scripts: none may go missing
    "rows_read", "rows_judged", "rows_set_aside", "states", "causes", "steam_loss_lb_per_h",
    "annual_cost", "currency", "assumptions", "seconds",
}
UNSAVED = (
    "Nothing was saved. To keep the findings, run it again with --out findings.parquet "
    "(or a name ending in .csv or .xlsx).\n"
)


def run(*arguments: str | Path) -> Result:
    """Run `survey analyze`."""
    return CliRunner().invoke(main, ["analyze", *map(str, arguments)])


@pytest.fixture(scope="module")
def sample_run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    """Return one run on the sample round, and the folder of what it wrote."""
    folder = tmp_path_factory.mktemp("run")
    done = run(
        ROUND, "--site", SITE, "--out", folder / "f.parquet", "--summary", folder / "s.json"
    )
    return done, folder


def test_totals_are_those_of_the_library(
    sample_run: tuple[Result, Path], sample_findings: Findings
) -> None:
    done, folder = sample_run
    assert (done.exit_code, done.stderr) == (0, "")
    summary = json.loads((folder / "s.json").read_text(encoding="utf-8"))
    for total in TOTALS:
        assert summary[total] == sample_findings.summary[total], total
    assert set(summary) >= PROMISED
    assert summary["seconds"] > 0
    saved = Findings.load(folder / "f.parquet")
    assert saved.summary == summary
    pd.testing.assert_frame_equal(saved.table, sample_findings.table, check_dtype=False)


def test_printed_totals_are_those_of_the_summary(sample_run: tuple[Result, Path]) -> None:
    done, folder = sample_run
    summary = json.loads((folder / "s.json").read_text(encoding="utf-8"))
    printed = " ".join(done.stdout.split())
    assert f"{summary['rows_judged']} devices judged" in printed
    cost = re.search(r"costs USD ([\d,]+) \(", printed)
    assert cost is not None
    assert int(cost[1].replace(",", "")) == float(f"{summary['annual_cost']:.3g}")
    for device, name in (("trap", "steam trap"), ("check_valve", "check valve")):
        counts = summary["states_by_device"][device]
        assert f"{sum(counts.values())} {name}s: {counts['working']} working" in printed
    for assumption in summary["assumptions"]:
        assert assumption in printed


def test_where_files_went_is_said_last(sample_run: tuple[Result, Path]) -> None:
    done, folder = sample_run
    assert done.stdout.endswith(
        f"\nFindings saved to {folder / 'f.parquet'}\nSummary saved to {folder / 's.json'}\n"
    )


def test_nothing_saved_is_said() -> None:
    done = run(ROUND, "--site", SITE)
    assert done.exit_code == 0
    assert done.stdout.endswith("\n\n" + UNSAVED)


def test_output_to_a_pipe_is_plain(tmp_path: Path) -> None:
    hostile = tmp_path / "round.csv"
    hostile.write_text(
        HEADER + '"T-1\x1b[31m\u202e",240,210,50\n"T-2\x07",240,238,60\n"T-3",x\x1b[2J,1,1\n',
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, "-m", "survey.cli", "analyze", str(hostile)],
        capture_output=True, check=False, cwd=SAMPLE.parent,
    )
    assert done.returncode == 0
    assert done.stderr == b""
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", done.stdout.decode())
    assert max(len(line) for line in done.stdout.decode().splitlines() if "saved" not in line) <= 80


def test_a_terminal_gets_bold_headings_in_its_own_width(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text(f"{HEADER}T-1,240,210,50\nT-2,90,80,20\n", encoding="utf-8")
    master, slave = pty.openpty()
    environment = {k: v for k, v in os.environ.items() if k != "NO_COLOR"} | {"COLUMNS": "60"}
    with subprocess.Popen(
        [sys.executable, "-m", "survey.cli", "analyze", str(path)], cwd=SAMPLE.parent,
        stdout=slave, stderr=subprocess.PIPE, env=environment,
    ) as run:
        os.close(slave)
        printed = b""
        with contextlib.suppress(OSError):  # the terminal's end of file
            while piece := os.read(master, 65_536):
                printed += piece
        os.close(master)
    assert run.returncode == 0
    text = printed.decode()
    assert "\x1b[1mDevices by state\x1b[0m" in text
    plain = re.sub(r"\x1b\[\d*m", "", text).splitlines()
    assert 50 < max(len(line) for line in plain if not line.startswith("Nothing was")) <= 60


def test_rows_set_aside_are_written_beside_the_findings(tmp_path: Path) -> None:
    out = tmp_path / "found.csv"
    done = run(MESSY, "--out", out, "--summary", tmp_path / "s.json")
    summary = json.loads((tmp_path / "s.json").read_text(encoding="utf-8"))
    aside = pd.read_csv(tmp_path / "found-rejects.csv", dtype="str")
    assert done.exit_code == 0
    assert f"Rows set aside saved to {tmp_path / 'found-rejects.csv'}\n" in done.stdout
    assert len(aside) == summary["rows_set_aside"] > 0
    assert list(aside.columns[:4]) == ["row", "column", "value", "reason"]
    assert len(pd.read_csv(out)) == summary["rows_judged"]
    assert summary["rows_read"] == summary["rows_judged"] + summary["rows_set_aside"]
    assert f"Set aside: {len(aside)} of {summary['rows_read']} rows read" in done.stdout


def test_no_rejects_file_where_nothing_was_set_aside(sample_run: tuple[Result, Path]) -> None:
    _, folder = sample_run
    assert not (folder / "f-rejects.csv").exists()


def test_rejects_asked_for_are_written_even_if_there_are_none(tmp_path: Path) -> None:
    rejects = tmp_path / "aside.csv"
    done = run(ROUND, "--site", SITE, "--rejects", rejects)
    assert done.exit_code == 0
    assert rejects.read_text(encoding="utf-8").startswith("row,column,value,reason")


def test_nothing_to_judge(tmp_path: Path) -> None:
    path = tmp_path / "round.csv"
    path.write_text(HEADER + "T-1,hot,,\n,240,210,50\nT-3,,,\n", encoding="utf-8")
    out, rejects, summary = (tmp_path / name for name in ("f.csv", "r.csv", "s.json"))
    done = run(path, "--out", out, "--rejects", rejects, "--summary", summary)
    assert (done.exit_code, done.stdout) == (1, "")
    assert done.stderr.startswith(
        "survey: At least one row with a tag and a reading was expected. "
        "Found: 3 rows, none of them usable; most often: "
    )
    assert done.stderr.count("\n") == 1
    assert f"Where: {path}." in done.stderr
    assert f"rows set aside saved to {rejects}" in done.stderr
    assert not out.exists()
    assert len(pd.read_csv(rejects)) == 3
    assert json.loads(summary.read_text(encoding="utf-8"))["rows_set_aside"] == 3


def test_a_round_that_is_not_there(tmp_path: Path) -> None:
    done = run(tmp_path / "none.csv")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith("survey: ")
    assert str(tmp_path / "none.csv") in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_site_that_is_not_there(tmp_path: Path) -> None:
    done = run(ROUND, "--site", tmp_path / "none.toml")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == (
        "survey: A site file was expected. Found: No such file or directory. "
        f"Where: {tmp_path / 'none.toml'}. What to do: check the name after --site.\n"
    )


def test_an_unknown_site_key_names_the_nearest(tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    site.write_text("altitud_ft = 600\n", encoding="utf-8")
    done = run(ROUND, "--site", site)
    assert done.exit_code == 2
    assert done.stderr == (
        "survey: Only known settings were expected. Found: the key 'altitud_ft'. "
        f"Where: {site}. What to do: the nearest known key is 'altitude_ft'; correct it or take "
        "the line out.\n"
    )


def test_a_map_says_which_header_is_which_column(tmp_path: Path) -> None:
    path, chosen = tmp_path / "round.csv", tmp_path / "map.toml"
    path.write_text("Q1,Q2,Q3\nT-1,115,99\nT-2,114,113\n", encoding="utf-8")
    chosen.write_text(
        '[columns]\n"Q1" = "tag"\n"Q2" = "inlet_temp_c"\n"Q3" = "outlet_temp_c"\n',
        encoding="utf-8",
    )
    out = tmp_path / "f.csv"
    done = run(path, "--map", chosen, "--out", out)
    assert (done.exit_code, done.stderr) == (0, "")
    assert list(pd.read_csv(out)["inlet_temp_f"]) == pytest.approx([239.0, 237.2])


def test_a_findings_name_of_another_kind_is_refused_before_the_work(tmp_path: Path) -> None:
    done = run(tmp_path / "not-even-there.csv", "--out", tmp_path / "f.pdf")
    assert done.exit_code == 2
    assert done.stderr == (
        "survey: A findings file ends in .parquet, .csv or .xlsx. Found: f.pdf. "
        "What to do: give --out a name with one of these endings.\n"
    )


@pytest.mark.parametrize("option", ["--out", "--rejects", "--summary"])
def test_the_round_itself_is_never_overwritten(tmp_path: Path, option: str) -> None:
    path = tmp_path / "round.csv"
    path.write_bytes(ROUND.read_bytes())
    done = run(path, option, path)
    assert done.exit_code == 2
    assert f"after {option}, which is the round itself" in done.stderr
    assert path.read_bytes() == ROUND.read_bytes()


def test_two_outputs_in_one_file_are_refused(tmp_path: Path) -> None:
    done = run(ROUND, "--out", tmp_path / "f.csv", "--rejects", tmp_path / "f.csv")
    assert done.exit_code == 2
    assert "after --rejects, which is the file after --out" in done.stderr
    assert not (tmp_path / "f.csv").exists()


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    out = tmp_path / "no folder" / "f.csv"
    done = run(ROUND, "--out", out)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == (
        "survey: A file that can be written was expected. Found: No such file or directory. "
        f"Where: {out}. What to do: choose another folder, or free some space.\n"
    )


def test_several_files_are_one_round(tmp_path: Path) -> None:
    for name, tag in (("a", "T-1"), ("b", "T-2")):
        (tmp_path / f"{name}.csv").write_text(f"{HEADER}{tag},240,210,50\n", encoding="utf-8")
    done = run(tmp_path / "a.csv", tmp_path / "b.csv")
    assert done.exit_code == 0
    assert "2 devices judged" in done.stdout
