"""The whole store in one file, and back."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from survey.errors import OutputError, RoundsError
from survey.rounds import tables
from survey.rounds.answers import answer
from survey.rounds.backup import export_round, export_store, restore
from survey.rounds.repairs import add_note, add_repair
from survey.rounds.store import Store, open_store
from survey.rounds.units import find_unit, units
from tests.rounds.build import findings, trap


def filled(store: Store) -> None:
    store.add(findings(trap("T-1"), trap("T-2")), name="Autumn")
    store.add(findings(trap("T-1", read_at="2026-01-20"), trap("T-9", read_at="2026-01-20")))
    one, other = find_unit(store, "T-2").number, find_unit(store, "T-9").number
    answer(store, one, other, accepted=True)
    add_repair(store, one, on=date(2025, 12, 1), what="new trap", cost=240.0)
    add_note(store, "behind the bench", unit=one)


def content(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store.database.reading() as connection:
        return {
            table.name: sorted(tuple(row) for row in connection.execute(select(table)))
            for table in tables.IN_ORDER_OF_NEED
        }


def test_a_backup_is_one_file_and_comes_back_the_same(
    store: Store, address: str, tmp_path: Path
) -> None:
    filled(store)
    path = tmp_path / "backup" / "b.sqlite"
    path.parent.mkdir()
    assert export_store(store, path) == 2
    assert [p.name for p in path.parent.iterdir()] == ["b.sqlite"]
    with open_store(path) as backup, open_store(tmp_path / "new.sqlite") as new:
        assert content(backup) == content(store)
        assert restore(new, path) == 2
        assert content(new) == content(store)
        assert new.add(findings(trap("T-7"))).number == 3, "numbers go on from where they were"


def test_a_backup_can_go_back_to_a_server(tmp_path: Path, store: Store) -> None:
    with open_store(tmp_path / "old.sqlite") as old:
        filled(old)
        assert export_store(old, tmp_path / "b.sqlite") == 2
        assert restore(store, tmp_path / "b.sqlite") == 2
        assert content(store) == content(old)
        assert [one.tags for one in units(store)] == [("T-1",), ("T-2", "T-9")]


def test_a_store_that_keeps_something_is_never_written_over(store: Store, tmp_path: Path) -> None:
    filled(store)
    export_store(store, tmp_path / "b.sqlite")
    before = content(store)
    with pytest.raises(RoundsError, match="An empty store was expected"):
        restore(store, tmp_path / "b.sqlite")
    assert content(store) == before


def test_what_cannot_be_written_or_read_is_told(tmp_path: Path) -> None:
    with open_store(tmp_path / "a.sqlite") as store:
        with pytest.raises(OutputError, match=r"ends in \.sqlite. Found: b\.zip"):
            export_store(store, tmp_path / "b.zip")
        with pytest.raises(OutputError, match="No such file"):
            export_store(store, tmp_path / "nowhere" / "b.sqlite")
        with pytest.raises(RoundsError, match="no such file"):
            restore(store, tmp_path / "b.sqlite")
    assert not (tmp_path / "b.sqlite").exists(), "asking for it must not make it"


def test_a_store_is_never_written_over_by_its_own_backup(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "rounds.sqlite"
    (tmp_path / "soft.sqlite").symlink_to(own)
    monkeypatch.chdir(tmp_path)
    with open_store(own) as store:
        filled(store)
        (tmp_path / "hard.sqlite").hardlink_to(own)
        before, file = content(store), own.stat().st_ino
        for name in (own, "rounds.sqlite", "./soft.sqlite", "hard.sqlite"):
            with pytest.raises(OutputError, match="Another file than the store's own"):
                export_store(store, name)
            with pytest.raises(OutputError, match="Another file than the store's own"):
                export_round(store, store.round("Autumn"), name)
        assert (content(store), own.stat().st_ino) == (before, file)


def test_one_round_alone_is_a_findings_file(store: Store, tmp_path: Path) -> None:
    filled(store)
    export_round(store, store.round("Autumn"), tmp_path / "autumn.csv")
    assert (tmp_path / "autumn.csv").read_text().count("T-") == 4  # each tag and its equipment
