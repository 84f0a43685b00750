"""The one edge where an error becomes words on stderr and an exit code."""

from __future__ import annotations

import contextlib
import io
import os
import sys
import traceback
from collections.abc import Iterator, Sequence
from typing import Any, NoReturn, TextIO

import click

from survey.errors import OutputError, SurveyError, UsageError

FAULT_CODE = 2
INTERRUPTED_CODE = 130  # common practice of shells: 128 + the number of the signal
DEBUG_SWITCH = "SURVEY_DEBUG"
_LONGEST_PARAGRAPH = 2000


class Edge(click.Group):
    """A group of commands that never lets a traceback out.

    Every way of running it, as a program, as a function or through click's test runner,
    goes through `main`, so the words and the exit codes are the same in all of them.
    """

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        """Read the arguments; --help and --version print on the way."""
        with _printing_told():
            return super().make_context(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what stops its printing is caught before click names it an error."""
        with _printing_told():
            result = super().invoke(ctx)
            _flush_stdout()
            return result

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,  # noqa: ARG002  its errors are ours to say, always
        **extra: Any,
    ) -> NoReturn:
        """Run one command and leave with its exit code."""
        _open_closed_streams()
        _write_what_can_be_written()
        try:
            code = super().main(
                args, prog_name=prog_name or self.name, complete_var=complete_var,
                standalone_mode=False, **extra,
            )
        except (KeyboardInterrupt, click.Abort):
            _say("Stopped before the end; no file was left half-written.")
            sys.exit(INTERRUPTED_CODE)
        except Exception as error:  # whatever it is, the user gets words
            if debugging():
                raise
            _say(paragraph_for(error))
            sys.exit(getattr(error, "exit_code", FAULT_CODE))
        finally:
            _leave_nothing_unwritten()
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

    with contextlib.suppress(OSError):  # nobody can be told; the exit code still says it
        click.echo(f"survey: {tidy(paragraph, _LONGEST_PARAGRAPH)}", err=True)


def _write_what_can_be_written() -> None:
    # A terminal that lacks the sign for a degree gets a question mark, not an error.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


@contextlib.contextmanager
def _printing_told() -> Iterator[None]:
    """Turn what stops printing into an end in words, or a quiet one where the reader left."""
    try:
        yield
    except OSError as error:
        if not _while_printing(error):
            raise
        # click itself would leave with 1 where a reader, head for one, has seen enough.
        if isinstance(error, BrokenPipeError):
            raise click.exceptions.Exit(0) from None
        raise OutputError(
            "Standard output that can be written was expected",
            found=error.strerror or str(error),
            do="free some space, or send what is printed elsewhere",
        ) from None


def _while_printing(error: OSError) -> bool:
    printing = (click.echo.__code__, _flush_stdout.__code__)
    return any(frame.f_code in printing for frame, _ in traceback.walk_tb(error.__traceback__))


def _flush_stdout() -> None:
    sys.stdout.flush()


class _Nowhere(io.TextIOWrapper):
    """Stands in for a stream that was closed before the command began."""


def nobody_sees_output() -> bool:
    """Tell whether standard output was closed before the command began."""
    return isinstance(sys.stdout, _Nowhere)


def _open_closed_streams() -> None:
    # Left closed, its number would go to the next file opened, and what is printed into that.
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            with contextlib.suppress(OSError):
                _point_nowhere(number)
                raw = open(number, "r+b", buffering=0, closefd=False)  # noqa: SIM115
                setattr(sys, name, _Nowhere(raw, encoding="utf-8", write_through=True))


def _point_nowhere(number: int) -> None:
    handle = os.open(os.devnull, os.O_RDWR)
    if handle == number:
        os.set_inheritable(handle, True)
    else:
        os.dup2(handle, number)
        os.close(handle)


def _leave_nothing_unwritten() -> None:
    # The interpreter flushes both as it leaves; where that fails it would say so, with code 120.
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            _drop(stream)


def _drop(stream: TextIO) -> None:
    with contextlib.suppress(OSError):
        _point_nowhere(stream.fileno())
