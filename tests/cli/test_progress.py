"""The progress bar: to a terminal only, and only where the wait is long."""

from __future__ import annotations

import io
import time

from survey.commands.progress import Progress


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_nothing_is_drawn_to_anything_but_a_terminal() -> None:
    stream = io.StringIO()
    with Progress(stream, quiet_seconds=0.0) as progress:
        progress(1, 2)
        time.sleep(0.4)
    assert stream.getvalue() == ""


def test_nothing_is_drawn_where_the_work_is_short() -> None:
    stream = Terminal()
    with Progress(stream) as progress:
        progress(1, 2)
    assert stream.getvalue() == ""


def test_the_bar_shows_the_share_done_and_clears_itself() -> None:
    stream = Terminal()
    with Progress(stream, quiet_seconds=0.0) as progress:
        progress(1, 4)
        time.sleep(0.5)
    drawn = stream.getvalue()
    assert "Judging [########......................]  25%" in drawn
    assert drawn.endswith("\r\x1b[2K")


def test_a_share_beyond_the_whole_is_held_at_the_whole() -> None:
    progress = Progress(io.StringIO())
    progress(9, 4)
    assert "] 100%" in progress.bar()
    progress(0, 0)
    assert "]   0%" in progress.bar()
