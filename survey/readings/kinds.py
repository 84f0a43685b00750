"""What a file is, told by its content; its name only helps to say so."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

from survey.errors import UnreadableFile
from survey.paths import NOT_PLAIN
from survey.readings.limits import MAX_FILE_BYTES

FileKind = Literal["text", "workbook", "parquet"]

_HEAD_BYTES = 4096
_WANTED = "A round as CSV, XLSX or Parquet was expected"
_SAVE_AS = "save the round as .csv, .xlsx or .parquet and give that"
_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"SQLite format 3", "a database (SQLite)"),
    (b"ARROW1", "an Arrow file"),
    (b"FEA1", "an Arrow file"),
    (b"{\\rtf", "a rich text document"),
    (b"\x7fELF", "a program"),
)
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_MARKUP = re.compile(rb"^\s*<(?:!doctype|html|head|body|table|\?xml|svg|!--|div|meta)", re.I)
_JSON = re.compile(rb'^\s*(?:\{\s*["}]|\[\s*[\[{\]"\d])')


def tell_kind(path: Path) -> FileKind:
    """Say what a file is.

    Raises
    ------
    UnreadableFile
        It cannot be opened, is empty, too large, or not a table of a kind that is read.
    """
    try:
        if not path.is_file():
            other = NOT_PLAIN if path.exists() else "no such file"
            raise unreadable(path, "a folder" if path.is_dir() else other, do="check the name")
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    except (OSError, ValueError) as error:
        raise unreadable(
            path,
            getattr(error, "strerror", None) or "a file that cannot be opened",
            do="check the name, and that you may read it",
        ) from None
    if size > MAX_FILE_BYTES:
        raise unreadable(
            path,
            f"{size / 1e6:,.0f} MB, over the limit of {MAX_FILE_BYTES / 1e6:,.0f} MB",
            do="split the round by area",
        )
    return _kind_of(path, head)


def _kind_of(path: Path, head: bytes) -> FileKind:
    if head.startswith(b"PAR1"):
        return "parquet"
    if head.startswith(b"PARE"):
        raise unreadable(path, "an encrypted Parquet file", do="save it without encryption")
    if head.startswith(b"PK"):
        return "workbook"
    if head.startswith(_OLE):
        raise _old_workbook(path)
    for signature, words in _SIGNATURES:
        if head.startswith(signature):
            raise unreadable(path, words)
    return _text(path, head)


def _text(path: Path, head: bytes) -> FileKind:
    if not head.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise unreadable(path, "an empty file", do="give a file with a header line and readings")
    bare = head.removeprefix(b"\xef\xbb\xbf")
    if head[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in head[:400]:
        bare = bare.replace(b"\x00", b"").lstrip(b"\xff\xfe")  # UTF-16: enough to know markup by
    if _MARKUP.match(bare):
        raise unreadable(path, "a web page or XML, whatever its name")
    if _JSON.match(bare):
        raise unreadable(path, "JSON")
    letters = _letters(head, bare)
    odd = sum(letter < " " and letter not in "\t\r\n\x0b\x0c" for letter in letters)
    if odd > max(8, 0.03 * len(letters)):
        raise unreadable(path, "binary content that is not a table")
    return "text"


def _letters(head: bytes, bare: bytes) -> str:
    """Return the letters of a head: in UTF-16 half of a Greek one would pass for a control.

    NULs at its end are what a copy that broke off leaves.
    """
    marked = head[:2] in (b"\xff\xfe", b"\xfe\xff")
    encoding = "utf-16" if marked else unmarked_utf16(head)
    text = head.decode(encoding, "replace") if encoding else bare.decode("latin-1")
    return text.rstrip("\x00")


def unmarked_utf16(raw: bytes) -> str | None:
    """Return 'utf-16-le' or 'utf-16-be' where the NULs of a text say so; None elsewhere."""
    head = raw[:_HEAD_BYTES]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if max(even, odd) > 0.3 * len(head) / 2 and min(even, odd) < 0.2 * max(even, odd):
        return "utf-16-be" if even > odd else "utf-16-le"
    return None


def _old_workbook(path: Path) -> UnreadableFile:
    with path.open("rb") as stream:
        start = stream.read(1_000_000)
    if "EncryptedPackage".encode("utf-16-le") in start:
        return unreadable(
            path,
            "a workbook locked with a password",
            do="take the password off, save it as .xlsx and give that",
        )
    return unreadable(
        path,
        "a workbook or document of the old kind (.xls, .doc)",
        do="open it, save it as .xlsx and give that",
    )


def unreadable(path: Path, found: str, *, do: str = _SAVE_AS) -> UnreadableFile:
    """Make the error for a file that is not a readable round."""
    return UnreadableFile(_WANTED, found=found, where=str(path), do=do)
