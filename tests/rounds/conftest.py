"""A store on each database, empty, for every test that asks for one."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.pool import NullPool

from survey.findings import Findings
from survey.pipeline import analyze
from survey.rounds.home import store_address
from survey.rounds.store import Store, open_store
from survey.site import Site
from tests.rounds.postgresql import REQUIRED_BY, server

SAMPLES = Path(__file__).resolve().parents[2] / "sample_data"


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """The address of a server, started for this worker where none is named."""
    with server() as address:
        if address is None:
            why = "PostgreSQL is not installed: apt-get install postgresql"
            if os.environ.get(REQUIRED_BY, "") not in ("", "0"):
                pytest.fail(why)
            pytest.skip(why)
        yield address


@pytest.fixture(
    params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)],
)
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An address of a store that is not there yet; a schema of its own on the server."""
    if request.param == "sqlite":
        yield str(tmp_path / "rounds.sqlite")
        return
    base = request.getfixturevalue("postgresql")
    schema = f"test_{uuid.uuid4().hex}"
    engine = create_engine(store_address(base), poolclass=NullPool, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE SCHEMA {schema}"))
    sign = "&" if "?" in base else "?"
    yield f"{base}{sign}options=-csearch_path%3D{schema}"
    with engine.connect() as connection:
        connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    with open_store(address) as opened:
        yield opened


@pytest.fixture(scope="session")
def sample_findings() -> Findings:
    return _judged("nursery_round.csv")


@pytest.fixture(scope="session")
def sample_after_repair() -> Findings:
    return _judged("nursery_after_repair.csv")


def _judged(name: str) -> Findings:
    return analyze(SAMPLES / name, site=Site.from_toml(SAMPLES / "nursery_site.toml"))
