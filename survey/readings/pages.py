"""Walk a Parquet column chunk by its page headers, unpacking nothing.

The sizes in a file's footer can say anything; a page's own header is what a reader takes
memory by. Layout: Apache Parquet format, PageHeader in Thrift's compact protocol.
"""

from __future__ import annotations

from typing import IO, Any

_WINDOWS = (256, 1 << 16, 1 << 24)
_MOST_PAGES = 1_000_000
_DEEPEST = 16
_STOP, _TRUE, _FALSE, _BYTE, _DOUBLE, _BINARY = 0, 1, 2, 3, 7, 8
_LIST, _SET, _STRUCT = 9, 10, 12
_UNPACKED_SIZE, _PACKED_SIZE = 2, 3


def unpacked_page_bytes(stream: IO[bytes], chunk: Any, limit: int) -> int:
    """Sum what the pages of a column chunk say they unpack to.

    Parameters
    ----------
    stream
        The file, open for reading.
    chunk
        The chunk's metadata, as pyarrow gives it.
    limit
        Stop counting once past this.

    Raises
    ------
    ValueError
        The pages do not fit the chunk.
    """
    starts = [at for at in (chunk.dictionary_page_offset, chunk.data_page_offset) if at]
    if not starts or chunk.total_compressed_size < 0:
        raise ValueError("a chunk with no pages")
    at, end = min(starts), min(starts) + chunk.total_compressed_size
    total = 0
    for _ in range(_MOST_PAGES):
        if at >= end or total > limit:
            return total
        length, unpacked, packed = _page_header(stream, at)
        if unpacked < 0 or packed < 0:
            raise ValueError("a page of negative size")
        total += unpacked
        at += length + packed
    raise ValueError("pages past counting")


def _page_header(stream: IO[bytes], at: int) -> tuple[int, int, int]:
    for window in _WINDOWS:
        stream.seek(at)
        data = stream.read(window)
        try:
            reader = _Compact(data)
            fields = reader.struct(0)
            return reader.at, fields.get(_UNPACKED_SIZE, -1), fields.get(_PACKED_SIZE, -1)
        except IndexError:
            if len(data) < window:
                break
    raise ValueError("a page header that does not end")


class _Compact:
    """Just enough of Thrift's compact protocol to step over a page header."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def varint(self) -> int:
        value = shift = 0
        while True:
            byte = self.data[self.at]
            self.at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7
            if shift > 63:
                raise ValueError("a number past 64 bits")

    def zigzag(self) -> int:
        value = self.varint()
        return (value >> 1) ^ -(value & 1)

    def struct(self, depth: int) -> dict[int, int]:
        """Read a struct; keep its whole numbers, step over the rest."""
        fields: dict[int, int] = {}
        number = 0
        while True:
            head = self.data[self.at]
            self.at += 1
            kind = head & 0x0F
            if kind == _STOP:
                return fields
            number = number + (head >> 4) if head >> 4 else self.zigzag()
            if _BYTE < kind < _DOUBLE:
                fields[number] = self.zigzag()
            elif kind not in (_TRUE, _FALSE):
                self.skip(kind, depth + 1)

    def skip(self, kind: int, depth: int) -> None:
        """Step over one value."""
        if depth > _DEEPEST:
            raise ValueError("values nested past reason")
        if kind in (_TRUE, _FALSE, _BYTE):
            self._forward(1)
        elif kind == _DOUBLE:
            self._forward(8)
        elif kind == _BINARY:
            self._forward(self.varint())
        elif kind == _STRUCT:
            self.struct(depth)
        elif kind in (_LIST, _SET):
            self._skip_list(depth)
        elif _BYTE < kind < _DOUBLE:
            self.varint()
        else:
            raise ValueError("a kind of value that page headers do not have")

    def _skip_list(self, depth: int) -> None:
        head = self.data[self.at]
        self.at += 1
        count = head >> 4 if head >> 4 < 15 else self.varint()
        for _ in range(count):
            self.skip(head & 0x0F, depth + 1)

    def _forward(self, count: int) -> None:
        self.at += count
        if self.at > len(self.data):
            raise IndexError
