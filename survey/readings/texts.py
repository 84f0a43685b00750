"""Arrow columns as text: what a cell said, and text that is fit to show."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

_UNCLEAN = r"^[\s]|[\s]$|[\x00-\x1f\x7f]|  |[^\x00-\x7f]"
_HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb]"
)


def as_text(column: Any) -> Any:
    """Return any flat Arrow column as one string array; missing stays missing.

    Whole floats lose their '.0', so that a tag kept as a number reads as it was typed.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    array = _one_array(column)
    kind = array.type
    if pa.types.is_dictionary(kind):
        words = as_text(array.dictionary)
        return words.take(array.indices)
    if pa.types.is_string(kind):
        return array
    if pa.types.is_boolean(kind):
        return pc.if_else(array, "yes", "no")
    if pa.types.is_timestamp(kind):
        return _moments(array)
    if pa.types.is_floating(kind):
        return _numbers(array)
    return _cast_to_text(array)


def _one_array(column: Any) -> Any:
    import pyarrow as pa

    if isinstance(column, pa.ChunkedArray):
        return column.chunk(0) if column.num_chunks == 1 else _merged(column)
    return column


def _merged(column: Any) -> Any:
    import pyarrow as pa

    return pa.array([], column.type) if column.num_chunks == 0 else column.combine_chunks()


def _cast_to_text(array: Any) -> Any:
    import pyarrow as pa

    try:
        return array.cast(pa.string())
    except pa.ArrowException:
        # Binary that is no UTF-8, or a kind with no text form of its own.
        words = [None if item is None else _any_text(item) for item in array.to_pylist()]
        return pa.array(words, pa.string())


def _any_text(item: Any) -> str:
    return item.decode("utf-8", "replace") if isinstance(item, bytes) else str(item)


def _numbers(array: Any) -> Any:
    import pyarrow as pa
    import pyarrow.compute as pc

    array = array.cast(pa.float64())
    whole = pc.and_(pc.equal(pc.trunc(array), array), pc.less(pc.abs(array), 1e15))
    texts = array.cast(pa.string())
    if not pc.any(whole).as_py():
        return texts
    ints = pc.if_else(pc.fill_null(whole, False), array, None).cast(pa.int64()).cast(pa.string())
    return pc.if_else(pc.fill_null(whole, False), ints, texts)


def _moments(array: Any) -> Any:
    import pyarrow as pa

    valid = ~np.asarray(array.is_null())
    zone = "Z" if array.type.tz else ""
    moments = array.cast(pa.timestamp("us"), safe=False).to_numpy(zero_copy_only=False)
    part = moments[valid]
    whole_seconds = not len(part) or bool((part.astype(np.int64) % 1_000_000 == 0).all())
    words = np.full(len(array), None, dtype=object)
    words[valid] = [
        f"{w}{zone}" for w in np.datetime_as_string(part, unit="s" if whole_seconds else "us")
    ]
    return pa.array(words, pa.string())


def clean_text(array: Any, *, one_line: bool = True) -> Any:
    """Return a string array trimmed, with no control or direction characters; blank is missing.

    Parameters
    ----------
    array
        Arrow string array.
    one_line
        Collapse inner white space, line ends too, to single spaces.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    if _is_plain(array):
        return _blank_missing(array)
    unclean = pc.match_substring_regex(array, _UNCLEAN)
    if pc.any(unclean).as_py():
        odd = pc.if_else(unclean, array, None).dictionary_encode()
        words = pa.array(
            [clean_word(w, one_line=one_line) for w in odd.dictionary.to_pylist()], pa.string()
        )
        array = pc.if_else(pc.fill_null(unclean, False), words.take(odd.indices), array)
    return _blank_missing(array)


def _blank_missing(array: Any) -> Any:
    import pyarrow.compute as pc

    blank = pc.equal(pc.binary_length(array), 0)
    return pc.if_else(blank, None, array) if pc.any(blank).as_py() else array


def clean_word(word: str, *, one_line: bool = True) -> str:
    """Clean one text as `clean_text` does."""
    word = (
        _HIDDEN.sub("", word.replace("\r\n", "\n").replace("\r", "\n"))
        if not one_line
        else " ".join(_HIDDEN.sub("", re.sub(r"\s", " ", word)).split())
    )
    return word.strip()


def _is_plain(array: Any) -> bool:
    """Say, from the bytes alone, that nothing but printable ASCII with no space is in it."""
    import pyarrow as pa

    if not pa.types.is_string(array.type) or not len(array):
        return False
    _, offsets, data = array.buffers()
    if data is None or offsets is None:
        return True
    ends = np.frombuffer(offsets, dtype=np.int32)[array.offset : array.offset + len(array) + 1]
    used = np.frombuffer(data, dtype=np.uint8)[ends[0] : ends[-1]]
    return bool(not len(used) or (used.min() > 0x20 and used.max() < 0x7F))
