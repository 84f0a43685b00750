"""Every error leaves as one paragraph on standard error and one exit code."""

from __future__ import annotations

import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from survey import errors
from survey.cli import main
from survey.commands.edge import DEBUG_SWITCH, Edge, paragraph_for

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


def test_a_terminal_that_lacks_a_character_gets_a_question_mark() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "survey.cli", "analyze", "round → 21°.csv"],
        capture_output=True, check=False,
        env={"PYTHONIOENCODING": "latin-1", "PYTHONPATH": ":".join(sys.path)},
    )
    assert done.returncode == 2
    assert "round ? 21°.csv" in done.stderr.decode("latin-1")
    assert b"Traceback" not in done.stderr
