"""Every error leaves as one paragraph on standard error and one exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from survey import errors
from survey.cli import main
from survey.commands.edge import DEBUG_SWITCH, Edge, paragraph_for
from survey.findings import Findings

from .conftest import SAMPLE

ROUND = SAMPLE / "nursery_round.csv"

ADVICE = (
    "What to do: run the same command again with SURVEY_DEBUG=1 set and send what it prints, "
    "with the version (survey --version), to whoever maintains survey for you; your files are "
    "as they were."
)


def failing_with(error: BaseException) -> click.Group:
    """Return a command line whose only command raises an error."""

    @click.group(cls=Edge)
    def group() -> None:
        """Group."""

    @group.command()
    def fail() -> None:
        raise error

    return group


def outcome(*arguments: str, group: click.Command = main) -> tuple[int, str, str]:
    """Return exit code, standard output and standard error of one run."""
    done = CliRunner().invoke(group, list(arguments))
    return done.exit_code, done.stdout, done.stderr


@pytest.mark.parametrize(
    "kind", errors.SurveyError.__subclasses__(), ids=lambda kind: kind.__name__
)
def test_an_error_of_our_own_is_its_paragraph(kind: type[errors.SurveyError]) -> None:
    error = kind("A round was expected", found="a picture", where="a.png", do="give a round")
    assert outcome("fail", group=failing_with(error)) == (
        kind.exit_code, "",
        "survey: A round was expected. Found: a picture. Where: a.png. What to do: give a round.\n",
    )


def test_a_fault_in_the_tool_says_so_without_a_traceback() -> None:
    code, out, err = outcome("fail", group=failing_with(ZeroDivisionError("division by zero")))
    assert (code, out) == (2, "")
    assert err == (
        "survey: This is a fault in survey itself, not in your file or your command. "
        f"Found: ZeroDivisionError: division by zero. {ADVICE}\n"
    )


def test_the_debug_switch_lets_the_traceback_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(DEBUG_SWITCH, "1")
    with pytest.raises(ZeroDivisionError):
        CliRunner().invoke(
            failing_with(ZeroDivisionError()), ["fail"], catch_exceptions=False
        )


def test_too_little_memory_is_not_called_a_fault() -> None:
    assert paragraph_for(MemoryError()) == (
        "There is not enough memory for this file. "
        "What to do: split the round by area, or use a larger machine."
    )


def test_stopping_by_hand() -> None:
    code, _, err = outcome("fail", group=failing_with(KeyboardInterrupt()))
    assert code == 130
    assert err.strip() == "survey: Stopped before the end; no file was left half-written."


def test_what_a_terminal_would_obey_is_dropped_from_an_error() -> None:
    hostile = "\x1b[31mred\x1b[0m \u202etxt.exe\u2066 \x07bell\r\nnext\u200b line\x9b2J"
    error = errors.UnreadableFile("A round was expected", found=hostile)
    _, _, err = outcome("fail", group=failing_with(error))
    assert err == "survey: A round was expected. Found: [31mred[0m txt.exe bell next line2J.\n"


@pytest.mark.parametrize(
    ("arguments", "paragraph"),
    [
        (["judge"], "One of survey's commands was expected. Found: No such command 'judge'. "
                    "What to do: run survey --help."),
        (["analyze"], "A command in the form that 'survey analyze' takes was expected. "
                      "Found: Missing argument 'ROUND...'. What to do: run survey analyze --help."),
        (["share", "f.parquet", "--days", "0"],
         "A command in the form that 'survey share' takes was expected. Found: Invalid value for "
         "'--days': 0 is not in the range 1<=x<=3650. What to do: run survey share --help."),
        (["dashboard", "--port", "high"],
         "A command in the form that 'survey dashboard' takes was expected. Found: Invalid value "
         "for '--port': 'high' is not a valid integer range. "
         "What to do: run survey dashboard --help."),
    ],
)
def test_wrong_usage_has_the_same_shape(arguments: list[str], paragraph: str) -> None:
    assert outcome(*arguments) == (2, "", f"survey: {paragraph}\n")


def test_an_unknown_option_names_the_nearest() -> None:
    code, out, err = outcome("analyze", "round.csv", "--ou", "f.csv")
    assert (code, out) == (2, "")
    assert "Found: No such option '--ou'." in err
    assert "'--out'" in err


def test_no_command_at_all_shows_help_and_counts_as_wrong_usage() -> None:
    code, out, err = outcome()
    assert (code, out) == (2, "")
    assert err.startswith("Usage: survey [OPTIONS]")


def test_help_reads_well() -> None:
    code, out, _ = outcome("--help")
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= 80
    assert "..." not in out.replace("[ARGS]...", ""), "a command's help is cut short"
    for name in main.commands:
        code, out, _ = outcome(name, "--help")
        assert code == 0
        assert "Traceback" not in out


def test_version() -> None:
    from survey import __version__

    assert outcome("--version") == (0, f"survey {__version__}\n", "")


def test_a_reader_that_stops_early_is_no_error() -> None:
    code = "from survey.cli import main; main(['analyze', '--help'])"
    run = subprocess.Popen(
        [sys.executable, "-c", f"import time; time.sleep(0.2); {code}"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )
    assert run.stdout is not None
    run.stdout.close()
    assert run.stderr is not None
    with run.stderr:
        said = run.stderr.read()
    assert (run.wait(), said) == (0, b"")


def in_shell(arguments: str, redirected: str, home: Path) -> tuple[int, str, str]:
    """Return exit code, standard output and standard error of a run with streams redirected."""
    done = subprocess.run(
        ["bash", "-c", f'"$0" -m survey.cli {arguments} {redirected}', sys.executable],
        capture_output=True, text=True, check=False,
        env=os.environ | {"SURVEY_HOME": str(home), "PYTHONPATH": ":".join(sys.path)},
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.thorough
@pytest.mark.parametrize("arguments", ["--help", "--version", "rounds list"])
@pytest.mark.parametrize("closed", [">&-", "<&-", ">&- 2>&-", "2>/dev/full"])
def test_a_closed_stream_is_no_fault(tmp_path: Path, arguments: str, closed: str) -> None:
    code, out, err = in_shell(arguments, closed, tmp_path)
    assert (code, err) == (0, "")
    assert (out == "") == closed.startswith(">&-")


@pytest.mark.parametrize("closed", ["2>&-", "2>/dev/full", ">&- 2>&-", "2>&1 >&-"])
def test_a_file_that_is_not_there_counts_so_even_where_nobody_is_told(
    tmp_path: Path, closed: str
) -> None:
    code, out, err = in_shell("analyze nosuch.csv", closed, tmp_path)
    assert (code, err) == (2, "")
    assert out == "" or "no such file" in out


def test_what_is_printed_never_lands_in_a_file_of_the_command(tmp_path: Path) -> None:
    """A stream left closed would give its number to the next file that is opened."""
    out = tmp_path / "findings.parquet"
    code, _, err = in_shell(f"analyze '{ROUND}' --out '{out}'", ">&- <&-", tmp_path)
    assert (code, err) == (0, "")
    assert len(Findings.load(out).table) > 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no such device")
@pytest.mark.parametrize("arguments", ["--help", "analyze --help", f"analyze '{ROUND}'"])
def test_output_that_cannot_be_written_is_told(tmp_path: Path, arguments: str) -> None:
    assert in_shell(arguments, ">/dev/full", tmp_path) == (
        2, "",
        "survey: Standard output that can be written was expected. Found: No space left on "
        "device. What to do: free some space, or send what is printed elsewhere.\n",
    )


@pytest.mark.thorough
@pytest.mark.parametrize("arguments", ["--help", "--version", "rounds list"])
def test_help_and_lists_may_be_read_in_part(tmp_path: Path, arguments: str) -> None:
    code, _, err = in_shell(arguments, "| true; exit ${PIPESTATUS[0]}", tmp_path)
    assert (code, err) == (0, "")


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), BrokenPipeError()])
def test_an_error_of_files_that_is_not_about_printing_is_not_taken_for_it(error: OSError) -> None:
    code, _, err = outcome("fail", group=failing_with(error))
    assert code == 2
    assert "a fault in survey itself" in err


def test_a_terminal_that_lacks_a_character_gets_a_question_mark() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "survey.cli", "analyze", "round → 21°.csv"],
        capture_output=True, check=False,
        env={"PYTHONIOENCODING": "latin-1", "PYTHONPATH": ":".join(sys.path)},
    )
    assert done.returncode == 2
    assert "round ? 21°.csv" in done.stderr.decode("latin-1")
    assert b"Traceback" not in done.stderr
