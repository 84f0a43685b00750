"""Bytes of a text file to UTF-8: byte order mark, UTF-16 by its pattern, else Windows-1252."""

from __future__ import annotations

import codecs
from pathlib import Path

from survey.readings.kinds import unmarked_utf16, unreadable

_CHUNK = 1 << 20
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def to_utf8(path: Path, limit: int | None = None) -> tuple[bytes, list[str]]:
    """Return a file's text as UTF-8 with no mark and no NUL, and notes on what was done.

    Parameters
    ----------
    path
        The file.
    limit
        Read this many bytes only (None: all).
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(limit)
    except (OSError, MemoryError) as error:
        raise unreadable(
            path,
            getattr(error, "strerror", None) or "a file that cannot be read",
            do="check that you may read it",
        ) from None
    encoding, raw = _encoding_of(raw, whole=limit is None or len(raw) < limit)
    notes = []
    if encoding == "utf-8":
        text = raw
    else:
        text = _decode(raw, encoding).encode("utf-8", "replace")
        notes.append(f"read as {_WORDS[encoding]}")
    if b"\x00" in text:
        notes.append(f"{text.count(0):,} NUL characters dropped")
        text = text.replace(b"\x00", b"")
    return text, notes


_WORDS = {"utf-16-le": "UTF-16", "utf-16-be": "UTF-16", "cp1252": "Windows-1252"}


def _encoding_of(raw: bytes, *, whole: bool) -> tuple[str, bytes]:
    for mark, encoding in _BOMS:
        if raw.startswith(mark):
            raw = raw[len(mark) :]
            if encoding == "utf-8" and not _is_utf8(raw, whole=whole):
                return "cp1252", raw
            return encoding, raw
    encoding = unmarked_utf16(raw) or ("utf-8" if _is_utf8(raw, whole=whole) else "cp1252")
    return encoding, raw


def _is_utf8(raw: bytes, *, whole: bool) -> bool:
    if raw.isascii():
        return True
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for start in range(0, len(raw), _CHUNK):
            decoder.decode(raw[start : start + _CHUNK])
    except UnicodeDecodeError:
        return False
    # A letter begun at the very end was cut off, unless it is the only one in all that there is.
    begun = decoder.getstate()[0]
    return not (whole and begun and raw[: -len(begun)].isascii())


def _decode(raw: bytes, encoding: str) -> str:
    if encoding != "cp1252":
        return raw.decode(encoding, "replace")
    # Five bytes that Windows-1252 leaves undefined stand for themselves, as browsers have it.
    return "".join(
        raw[i : i + _CHUNK].decode("cp1252", "_as_latin1") for i in range(0, len(raw), _CHUNK)
    )


def _as_latin1(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("_as_latin1", _as_latin1)
