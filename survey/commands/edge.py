"""The one edge where an error becomes words on stderr and an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from survey.errors import SurveyError, UsageError

FAULT_CODE = 2
INTERRUPTED_CODE = 130  # common practice of shells: 128 + the number of the signal
DEBUG_SWITCH = "SURVEY_DEBUG"
_LONGEST_PARAGRAPH = 2000


class Edge(click.Group):
    """A group of commands that never lets a traceback out.

    Every way of running it, as a program, as a function or through click's test runner,
    goes through `main`, so the words and the exit codes are the same in all of them.
    """

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; the reader of our pipe, head for one, may have seen enough."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:  # caught here: click would leave with 1, which has a meaning
            _drop_stdout()
            ctx.exit(0)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,  # noqa: ARG002  its errors are ours to say, always
        **extra: Any,
    ) -> NoReturn:
        """Run one command and leave with its exit code."""
        _write_what_can_be_written()
        try:
            code = super().main(
                args, prog_name=prog_name or self.name, complete_var=complete_var,
                standalone_mode=False, **extra,
            )
            sys.stdout.flush()
        except BrokenPipeError:
            _drop_stdout()
            sys.exit(0)
        except (KeyboardInterrupt, click.Abort):
            _say("Stopped before the end; no file was left half-written.")
            sys.exit(INTERRUPTED_CODE)
        except Exception as error:  # whatever it is, the user gets words
            if debugging():
                raise
            _say(paragraph_for(error))
            sys.exit(getattr(error, "exit_code", FAULT_CODE))
        sys.exit(code if isinstance(code, int) else 0)


def debugging() -> bool:
    """Tell whether the environment asks for tracebacks."""
    return os.environ.get(DEBUG_SWITCH, "") not in ("", "0")


def paragraph_for(error: Exception) -> str:
    """Return the one paragraph that tells a user about an error of any kind."""
    if isinstance(error, SurveyError):
        return error.paragraph()
    if isinstance(error, click.UsageError):
        return _from_usage(error).paragraph()
    if isinstance(error, click.ClickException):
        return UsageError("A command that can be carried out was expected",
                          found=error.format_message()).paragraph()
    if isinstance(error, MemoryError):
        return ("There is not enough memory for this file. "
                "What to do: split the round by area, or use a larger machine.")
    return (
        "This is a fault in survey itself, not in your file or your command. "
        f"Found: {type(error).__name__}: {str(error)[:300] or 'no more is known'}. "
        f"What to do: run the same command again with {DEBUG_SWITCH}=1 set and send what it "
        "prints, with the version (survey --version), to whoever maintains survey for you; "
        "your files are as they were."
    )


def _from_usage(error: click.UsageError) -> UsageError:
    path = error.ctx.command_path if error.ctx is not None else "survey"
    return UsageError(
        f"A command in the form that 'survey {path.partition(' ')[2]}' takes was expected"
        if " " in path else "One of survey's commands was expected",
        found=error.format_message().replace("?", ""),
        do=f"run {path} --help",
    )


def _say(paragraph: str) -> None:
    from survey.reports.words import tidy

    click.echo(f"survey: {tidy(paragraph, _LONGEST_PARAGRAPH)}", err=True)


def _write_what_can_be_written() -> None:
    # A terminal that lacks the sign for a degree gets a question mark, not an error.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _drop_stdout() -> None:
    # The interpreter flushes stdout as it leaves; onto a broken pipe that would fail aloud.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
