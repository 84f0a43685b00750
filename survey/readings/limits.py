"""How much a file may ask for before it is refused, in one place.

A refusal costs a clear sentence; reading a hostile file costs the machine. Every limit is
checked before the memory it guards is taken.
"""

from __future__ import annotations

MEGABYTE = 1_000_000

MAX_FILE_BYTES = 1_500 * MEGABYTE
"""Largest file read at all. (Uploads have a lower limit of their own.)"""

MAX_WORKBOOK_BYTES = 60 * MEGABYTE
"""Largest XLSX file; 250,000 rows of readings are some 40 MB."""

MAX_WORKBOOK_UNPACKED_BYTES = 300 * MEGABYTE
"""Most that the parts of an XLSX file may unpack to: some 250,000 rows of readings."""

MAX_COLUMNS = 1_000
"""Most columns in one table."""

MAX_ROWS = 20_000_000
"""Most rows in one table."""

MAX_SET_ASIDE = 1_500_000
"""Most rows set aside; with more, the file is not taken for a round at all."""

MAX_UNPACKED_BYTES = 1_000 * MEGABYTE
"""Most that a packed file (Parquet) may unpack to, where it is small itself."""

MAX_UNPACKED_RATIO = 12
"""A large packed file may unpack to this many times its own size."""

MAX_SHEET_CELLS = 6_000_000
"""Most cells in the rectangle that a sheet spans, empty ones counted: they take memory too."""

MAX_SHEETS = 100
"""Most sheets in a workbook."""

MAX_ZIP_ENTRIES = 5_000
"""Most parts inside an XLSX file."""

MAX_CELL_CHARACTERS = 1_000_000
"""Longest cell, in bytes of UTF-8; a row with a longer one is set aside, whole."""

MAX_NAME_CHARACTERS = 200
"""Longest tag, equipment, area or station; a row with a longer one is set aside."""

MAX_VALUE_SHOWN = 200
"""A faulty value is shown up to here; the whole cell stands in the row beside it."""

MAX_HEADER_CHARACTERS = 200
"""Longest header; the rest is cut."""

SAMPLE_ROWS = 200
"""Rows looked at to understand a table."""

SAMPLE_BYTES = 1 * MEGABYTE
"""Bytes looked at to understand a text file."""

HEADER_SEARCH_ROWS = 60
"""The header is looked for in this many rows from the top."""


def most_rows(text_bytes: int) -> int:
    """Return how many lines a text of this size may have: a reading takes some 12 bytes."""
    return min(MAX_ROWS, max(3_000_000, text_bytes // 12))


def most_unpacked(file_bytes: int) -> int:
    """Return how many bytes a packed file of this size may unpack to."""
    return max(MAX_UNPACKED_BYTES, MAX_UNPACKED_RATIO * file_bytes)


def most_packed_rows(file_bytes: int) -> int:
    """Return how many rows a packed file of this size may have, to be read in one piece.

    Packed well, a reading takes some 14 bytes. Rows of nothing take next to none, and yet some
    300 bytes of memory each once they are taken apart.
    """
    return min(MAX_ROWS, max(3_000_000, file_bytes // 8))
