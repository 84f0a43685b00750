"""A progress bar that shows itself only to a terminal, and only where the wait is long."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import TextIO

QUIET_SECONDS = 2.0
REDRAW_SECONDS = 0.2
_BAR_CELLS = 30
_CLEAR = "\r\x1b[2K"


class Progress:
    """Call it with (done, total) as work goes on; use it in a ``with`` block.

    Nothing is drawn for the first two seconds, nor ever to anything but a terminal. A thread
    draws, so that the bar keeps time while one long stage runs.

    Parameters
    ----------
    stream
        Where to draw; standard error by default, so that a piped summary stays clean.
    quiet_seconds
        How long to wait before the first drawing.
    """

    def __init__(self, stream: TextIO | None = None, *, quiet_seconds: float = QUIET_SECONDS):
        self._stream = sys.stderr if stream is None else stream
        self._quiet_seconds = quiet_seconds
        self._started = time.monotonic()
        self._share = 0.0
        self._over = threading.Event()
        self._thread: threading.Thread | None = None

    def __call__(self, done: float, total: float) -> None:
        """Take note of how far the work has come."""
        self._share = min(1.0, max(0.0, done / total)) if total else 0.0

    def __enter__(self) -> Progress:
        if self._stream.isatty():
            self._thread = threading.Thread(target=self._draw_until_over, daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def _draw_until_over(self) -> None:
        if self._over.wait(self._quiet_seconds):
            return
        while not self._over.wait(REDRAW_SECONDS):
            self._write(_CLEAR + self.bar())
        self._write(_CLEAR)

    def _write(self, text: str) -> None:
        try:
            self._stream.write(text)
            self._stream.flush()
        except (OSError, ValueError):  # the terminal went away: not worth stopping the work
            self._over.set()

    def bar(self) -> str:
        """Return the bar as it stands."""
        full = round(self._share * _BAR_CELLS)
        cells = "#" * full + "." * (_BAR_CELLS - full)
        seconds = time.monotonic() - self._started
        return f"Judging [{cells}] {self._share:4.0%}  {seconds:.0f} s"
