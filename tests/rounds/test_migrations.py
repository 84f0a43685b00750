"""The tables: every step leads to the same, with what was kept, and a failing step to nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect, text
from sqlalchemy.pool import NullPool

from survey.errors import RoundsError
from survey.rounds.database import Database
from survey.rounds.home import on_a_server, store_address
from survey.rounds.migrations import STEPS, migrate, version_of
from survey.rounds.store import open_store
from survey.rounds.tables import METADATA
from survey.rounds.units import units


def engine_of(address: str):
    full = store_address(address)
    return create_engine(full if on_a_server(full) else f"sqlite:///{full}", poolclass=NullPool)


def at_version(address: str, steps) -> None:
    with engine_of(address).begin() as connection:
        migrate(connection, where="here", steps=steps)


def shape(engine) -> dict[str, set[tuple[str, str, bool]]]:
    found = inspect(engine)
    return {
        table: {
            (column["name"], type(column["type"]).__name__.upper(), column["nullable"])
            for column in found.get_columns(table)
        }
        for table in found.get_table_names()
    }


def test_the_steps_lead_to_the_tables_that_the_code_speaks_of(address: str) -> None:
    Database(store_address(address)).close()
    engine = engine_of(address)
    found = inspect(engine)
    assert set(found.get_table_names()) == set(METADATA.tables)
    for name, table in METADATA.tables.items():
        columns = {column["name"]: column["nullable"] for column in found.get_columns(name)}
        assert columns == {column.name: column.nullable for column in table.columns}, name
        keys = set(found.get_pk_constraint(name)["constrained_columns"])
        assert keys == {column.name for column in table.primary_key}, name
        refers = {(k["constrained_columns"][0], k["referred_table"])
                  for k in found.get_foreign_keys(name)}  # fmt: skip
        expected = {(k.parent.name, k.column.table.name) for k in table.foreign_keys}
        assert refers == expected, name
        unique = {tuple(u["column_names"]) for u in found.get_unique_constraints(name)}
        assert unique == {tuple(c.name for c in u.columns) for u in table.constraints
                          if type(u).__name__ == "UniqueConstraint"}, name  # fmt: skip


@pytest.mark.parametrize("version", range(len(STEPS)))
def test_a_store_of_any_earlier_version_is_brought_up_with_what_it_keeps(
    address: str, version: int
) -> None:
    at_version(address, STEPS[:version])
    if version:
        with engine_of(address).begin() as connection:
            connection.execute(text(
                "INSERT INTO rounds VALUES (1, 'Old', '2020-01-02', '2020-01-03T00:00:00+00:00', "
                "'', 1, '{}', 'abc')"
            ))  # fmt: skip
            connection.execute(text("INSERT INTO units VALUES (1, 'trap', NULL)"))
            connection.execute(text("INSERT INTO readings VALUES (1, 'T-1', 1)"))
    with open_store(address) as store:
        assert [one.name for one in store.rounds()] == (["Old"] if version else [])
        assert [one.tags for one in units(store)] == ([("T-1",)] if version else [])
    with engine_of(address).connect() as connection:
        assert version_of(connection) == len(STEPS)


def test_a_step_that_fails_leaves_the_store_as_it_was(address: str) -> None:
    at_version(address, STEPS[:1])
    before = shape(engine_of(address))

    def fails(connection) -> None:
        connection.execute(text("CREATE TABLE halfway (number INTEGER)"))
        connection.execute(text("INSERT INTO nowhere VALUES (1)"))

    database = Database(store_address(address))  # to have the settings that the store works with
    with pytest.raises(RoundsError, match="nowhere"), database.writing() as connection:
        migrate(connection, where="here", steps=(*STEPS, fails))
    database.close()
    after = shape(engine_of(address))
    assert "halfway" not in after
    assert before.items() <= after.items()


def test_a_newer_store_is_refused_kindly_and_left_alone(address: str) -> None:
    open_store(address).close()
    with engine_of(address).begin() as connection:
        connection.execute(text("INSERT INTO schema_version VALUES (99, '2030-01-01')"))
    with pytest.raises(RoundsError, match=r"version 99, made by a newer survey.*was not touched"):
        open_store(address)


def test_the_database_of_another_program_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "links.sqlite"
    with create_engine(f"sqlite:///{path}", poolclass=NullPool).begin() as connection:
        connection.execute(text("CREATE TABLE links (number INTEGER)"))
    content = path.read_bytes()
    with pytest.raises(RoundsError, match=r"a database of another kind.*name another file"):
        open_store(path)
    assert path.read_bytes() == content
