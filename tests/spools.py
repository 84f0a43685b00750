"""Text put by on the disk, for tests: little at a time, in files that are closed afterwards."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from survey.readings import spooling
from survey.readings.spooling import Spill


@pytest.fixture
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Put text by so little at a time that every file is many blocks."""
    monkeypatch.setattr(spooling, "_BLOCK_BYTES", 1000)
    monkeypatch.setattr(spooling, "_CHUNK_BYTES", 7)


@pytest.fixture
def spill() -> Iterator[Spill]:
    """Open nameless files for text to be put by in; they are closed after the test."""
    with ExitStack() as room:
        yield lambda: room.enter_context(tempfile.TemporaryFile())
