"""The tables of the store, as they are after every step in `migrations`.

Times are text in ISO 8601, UTC, and days are text as YYYY-MM-DD: both sort as they read, and both
databases keep them alike. A round's findings stand whole in it, as the bytes of a Parquet file:
so one transaction keeps or drops a round, and the store is one file to back up.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

METADATA = MetaData()

SCHEMA_VERSION = Table(
    "schema_version",
    METADATA,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("applied_at", String(40), nullable=False),
)
COUNTERS = Table(
    "counters",
    METADATA,
    Column("name", String(40), primary_key=True),
    Column("last", Integer, nullable=False),
)
"""The last number given to each kind of thing: a number is never given twice. Whoever writes
locks one row of it first, so that writers take turns."""

ROUNDS = Table(
    "rounds",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("read_on", String(10), nullable=False),
    Column("added_at", String(40), nullable=False),
    Column("source", Text, nullable=False),
    Column("devices", Integer, nullable=False),
    Column("summary", Text, nullable=False),
    Column("content", String(64), nullable=False),
    UniqueConstraint("content", name="one_round_for_one_content"),
)
FINDINGS = Table(
    "findings",
    METADATA,
    Column("round_number", Integer, ForeignKey("rounds.number"), primary_key=True),
    Column("parquet", LargeBinary, nullable=False),
)
UNITS = Table(
    "units",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("device", String(40), nullable=False),
    Column("joined_to", Integer, ForeignKey("units.number")),
    CheckConstraint("joined_to <> number", name="not_joined_to_itself"),
)
READINGS = Table(
    "readings",
    METADATA,
    Column("round_number", Integer, ForeignKey("rounds.number"), primary_key=True),
    Column("tag", Text, primary_key=True),
    Column("unit", Integer, ForeignKey("units.number"), nullable=False),
    UniqueConstraint("round_number", "unit", name="one_reading_of_a_unit_in_a_round"),
    Index("readings_of_a_unit", "unit"),
)
REPAIRS = Table(
    "repairs",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("unit", Integer, ForeignKey("units.number"), nullable=False),
    Column("done_on", String(10), nullable=False),
    Column("what", Text, nullable=False),
    Column("cost", Float),
    Column("made_at", String(40), nullable=False),
)
NOTES = Table(
    "notes",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("unit", Integer, ForeignKey("units.number")),
    Column("round_number", Integer, ForeignKey("rounds.number")),
    Column("words", Text, nullable=False),
    Column("made_at", String(40), nullable=False),
)
ANSWERS = Table(
    "answers",
    METADATA,
    Column("earlier", Integer, ForeignKey("units.number"), primary_key=True),
    Column("later", Integer, ForeignKey("units.number"), primary_key=True),
    Column("moved_in", Integer, primary_key=True, autoincrement=False),
    Column("accepted", Integer, nullable=False),
    Column("made_at", String(40), nullable=False),
)
"""What the user said when asked whether two units are one, or, where ``earlier`` is ``later``,
whether a unit has moved to another place in the round ``moved_in`` (else 0). What has been answered
is not asked again."""

IN_ORDER_OF_NEED = (COUNTERS, ROUNDS, FINDINGS, UNITS, READINGS, REPAIRS, NOTES, ANSWERS)
"""Every table of content, each after those that it refers to."""
COUNTED = ("rounds", "units", "repairs", "notes")
