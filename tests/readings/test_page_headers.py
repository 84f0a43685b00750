"""Page headers of a Parquet file, stepped over whatever stands in them."""

from __future__ import annotations

import io
import struct
from types import SimpleNamespace

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.readings.pages import unpacked_page_bytes

NO_LIMIT = 10**18
TRUE, FALSE, BYTE, I16, I32, I64, DOUBLE, BINARY, LIST, SET, STRUCT = (
    1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12)


def varint(value: int) -> bytes:
    out = b""
    while value > 127:
        out, value = out + bytes([value & 127 | 128]), value >> 7
    return out + bytes([value])


def number(value: int) -> bytes:
    return varint(value << 1 if value >= 0 else (-value << 1) - 1)


def field(kind: int, step: int, body: bytes = b"", name: int | None = None) -> bytes:
    """Return a field: by its step from the last, or by its own number where that is given."""
    head = bytes([kind]) + number(name) if name is not None else bytes([step << 4 | kind])
    return head + body


def items(kind: int, bodies: list[bytes]) -> bytes:
    count = len(bodies)
    head = bytes([count << 4 | kind]) if count < 15 else bytes([15 << 4 | kind]) + varint(count)
    return head + b"".join(bodies)


STOP = b"\0"
OTHERS = {
    "none": b"",
    "true and false": field(TRUE, 1) + field(FALSE, 1),
    "byte": field(BYTE, 1, b"\x00"),
    "full byte": field(BYTE, 1, b"\xff"),
    "whole numbers": field(I16, 1, number(-5)) + field(I64, 1, number(2**62)),
    "double": field(DOUBLE, 1, struct.pack("<d", 1.5)),
    "text": field(BINARY, 1, varint(300) + b"\x00" * 300),
    "no text": field(BINARY, 1, varint(0)),
    "list": field(LIST, 1, items(I32, [number(7)] * 3)),
    "long list": field(LIST, 1, items(I32, [number(700)] * 40)),
    "list of truths": field(LIST, 1, items(TRUE, [b"\x01", b"\x02"])),
    "set of texts": field(SET, 1, items(BINARY, [varint(2) + b"ab"] * 2)),
    "list of lists": field(LIST, 1, items(LIST, [items(I32, [number(1)])] * 2)),
    "record": field(STRUCT, 1, field(I32, 2, number(9)) + field(TRUE, 1) + STOP),
    "record in a record": field(STRUCT, 1, field(STRUCT, 1, field(I32, 3, b"\x12") + STOP) + STOP),
    "list of records": field(LIST, 1, items(STRUCT, [field(I32, 2, number(9)) + STOP] * 2)),
}  # fmt: skip


def header(unpacked: int, packed: int, other: bytes = b"") -> bytes:
    """Return a page's header: its kind, its two sizes, and something that means nothing here."""
    sizes = field(I32, 1, number(unpacked)) + field(I32, 1, number(packed))
    return field(I32, 1, number(0)) + sizes + other + STOP


def pages(sizes: list[tuple[int, int]], other: bytes = b"", before: bytes = b"PAR1") -> bytes:
    return before + b"".join(header(*size, other) + b"\x55" * size[1] for size in sizes)


def walked(raw: bytes, limit: int = NO_LIMIT, start: int = 4, **told: int) -> int:
    chunk = {"dictionary_page_offset": None, "data_page_offset": start,
             "total_compressed_size": len(raw) - start} | told
    return unpacked_page_bytes(io.BytesIO(raw), SimpleNamespace(**chunk), limit)


@pytest.mark.parametrize("other", OTHERS.values(), ids=OTHERS.keys())
def test_whatever_else_a_header_holds_the_next_page_is_found(other: bytes) -> None:
    sizes = [(1000, 30), (70_000, 5), (3, 0), (2**31 - 1, 12)]
    assert walked(pages(sizes, other)) == sum(size for size, _ in sizes)


def test_a_field_may_be_named_by_its_number() -> None:
    head = (field(I32, 0, number(500), name=2) + field(I32, 0, number(6), name=3)
            + field(I32, 0, number(9), name=77) + STOP)
    assert walked(b"PAR1" + head + b"\x55" * 6 + pages([(8, 0)], before=b"")) == 508


def test_a_header_longer_than_the_first_look_is_read_whole() -> None:
    other = field(BINARY, 1, varint(100_000) + b"\x00" * 100_000)
    assert walked(pages([(1000, 30), (7, 1)], other)) == 1007


@given(st.lists(st.integers(0, 5_000), min_size=1, max_size=6), st.integers(0, 20_000))
def test_the_count_is_over_a_limit_just_where_the_whole_is(sizes: list[int], limit: int) -> None:
    # Counting may stop early, but only where what has been counted is past the limit.
    found = walked(pages([(size, 1) for size in sizes]), limit)
    assert (found > limit) == (sum(sizes) > limit)


def test_counting_stops_once_past_the_limit() -> None:
    assert walked(pages([(10, 0), (90, 0), (1, 0), (5000, 0)]), limit=99) == 100
    # What comes then is not looked at, so that it may be anything.
    assert walked(pages([(100, 0)]) + b"\x0f" * 50, limit=99) == 100


def test_a_dictionarys_page_counts_wherever_it_stands() -> None:
    raw = pages([(40, 2), (5, 1)])
    assert walked(raw, dictionary_page_offset=4, data_page_offset=len(raw) - 5) == 45
    assert walked(raw, dictionary_page_offset=0) == 45


BAD = {
    "unpacked below nothing": header(-1, 5),
    "packed below nothing": header(5, -1),
    "no sizes": STOP,
    "no packed size": field(I32, 2, number(9)) + STOP,
    "no unpacked size": field(I32, 3, number(0)) + STOP,
    "no end": field(I32, 1, number(0)),
    "text past the end": field(BINARY, 1, varint(10**9)),
    "a number without end": bytes([1 << 4 | I64]) + b"\x80" * 40,
    "a kind that is none": bytes([1 << 4 | 13]) + STOP,
    "nested without end": bytes([1 << 4 | STRUCT]) * 4000,
    "lists in lists": bytes([1 << 4 | LIST]) + bytes([1 << 4 | LIST]) * 4000,
}


@pytest.mark.parametrize("raw", BAD.values(), ids=BAD.keys())
def test_what_is_no_page_header_is_refused(raw: bytes) -> None:
    with pytest.raises(ValueError, match=r"page|number|nested|kind of value"):
        walked(b"PAR1" + raw)


def test_a_chunk_that_is_nowhere_is_refused() -> None:
    for told in ({"data_page_offset": 0}, {"total_compressed_size": -1}):
        with pytest.raises(ValueError, match="a chunk with no pages"):
            walked(pages([(8, 0)]), **told)


@pytest.mark.parametrize("version", ["1.0", "2.0"])
@pytest.mark.parametrize("coded", [True, False])
def test_pages_that_pyarrow_wrote_come_to_what_it_says(
    tmp_path, version: str, coded: bool
) -> None:
    words = pa.array([f"remark {n % 700}" for n in range(30_000)])
    table = pa.table({"note": words, "sound_db": np.arange(30_000.0)})
    path = tmp_path / "r.parquet"
    pq.write_table(table, path, data_page_version=version, use_dictionary=coded,
                   data_page_size=4_000, row_group_size=10_000, write_page_checksum=True)
    metadata = pq.read_metadata(path)
    with path.open("rb") as stream:
        for group in range(metadata.num_row_groups):
            for column in range(2):
                chunk = metadata.row_group(group).column(column)
                # Its figure counts the headers too, some 20 to 100 bytes a page.
                found = unpacked_page_bytes(stream, chunk, NO_LIMIT)
                told = chunk.total_uncompressed_size
                assert 0.85 * told < found < told
