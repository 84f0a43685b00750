"""Settings of the whole process that serve a large round, held while any such round is judged."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable

import pyarrow as pa

Undo = Callable[[], None]


class WhileAnyIsJudged:
    """A setting that the first round changes and the last one, of those judged at once, puts back.

    Parameters
    ----------
    change
        Changes it; returns what puts it back.
    """

    def __init__(self, change: Callable[[], Undo]) -> None:
        self._change = change
        self._lock = threading.Lock()
        self._rounds = 0
        self._undo: Undo | None = None

    def __enter__(self) -> None:
        with self._lock:
            if not self._rounds:
                self._undo = self._change()
            self._rounds += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._rounds -= 1
            if not self._rounds and self._undo is not None:
                self._undo()


def _take_turns_often() -> Undo:
    """Let threads take turns within a tenth of a millisecond.

    A thread that comes back from work on arrays waits for its turn: by the usual five
    milliseconds as long as that work took.
    """
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-4)
    return lambda: sys.setswitchinterval(before)


def _use_memory_of_the_system() -> Undo:
    """Let Arrow take its memory where NumPy does, unless the user has chosen.

    Its own pool hands memory back to the system between batches, and each fetches it anew, page by
    page: that took a tenth of all the time.
    """
    before = pa.default_memory_pool()
    if "ARROW_DEFAULT_MEMORY_POOL" not in os.environ:
        pa.set_memory_pool(pa.system_memory_pool())
    return lambda: pa.set_memory_pool(before)


turns_taken_often = WhileAnyIsJudged(_take_turns_often)
memory_of_the_system = WhileAnyIsJudged(_use_memory_of_the_system)
