"""Settings of the process: changed by the first of several rounds, put back by the last."""

from __future__ import annotations

import pyarrow as pa
import pytest

from survey.streaming.process_wide import WhileAnyIsJudged, memory_of_the_system


def test_rounds_that_overlap_put_back_what_was_before_the_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("ARROW_DEFAULT_MEMORY_POOL", raising=False)
    before = pa.default_memory_pool().backend_name
    memory_of_the_system.__enter__()
    memory_of_the_system.__enter__()
    memory_of_the_system.__exit__()
    assert pa.default_memory_pool().backend_name == "system"
    memory_of_the_system.__exit__()
    assert pa.default_memory_pool().backend_name == before


def test_a_pool_that_the_user_chose_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    before = pa.default_memory_pool().backend_name
    monkeypatch.setenv("ARROW_DEFAULT_MEMORY_POOL", before)
    with memory_of_the_system:
        assert pa.default_memory_pool().backend_name == before


def test_it_is_changed_once_for_all_rounds_at_once_and_anew_after_them() -> None:
    done: list[str] = []

    def change():
        done.append("changed")
        return lambda: done.append("put back")

    held = WhileAnyIsJudged(change)
    with held, held:
        assert done == ["changed"]
    with held:
        pass
    assert done == ["changed", "put back"] * 2
