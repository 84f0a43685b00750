"""A folder or an object store that frozen pages are published to, and taken away from again.

A page's name is its token, so that nobody finds it who was not sent its address. Nothing here
ever writes over a file, and nothing is taken away but a file whose name is a token that the
store of links has the hash of.
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from survey.errors import ShareError
from survey.paths import is_folder
from survey.sharing.hiding import hidden
from survey.sharing.links import TOKEN_SHAPE, token_hash
from survey.sharing.pages import NOTHING_HERE

ENDING = ".html"
INDEX = "index.html"
_PAGE = re.compile(rf"{TOKEN_SHAPE.pattern}\{ENDING}")
# Packages that open a kind of store; each is installed by whoever uses that kind.
_PACKAGES = {"s3": "s3fs", "s3a": "s3fs", "gs": "gcsfs", "gcs": "gcsfs", "az": "adlfs",
             "abfs": "adlfs", "sftp": "paramiko", "ssh": "paramiko"}
# How each store is told that browsers and caches keep nothing, for a page taken away must be gone:
# Google's else lets everybody keep what all may read for an hour (its documentation, from memory).
_S3_NO_STORE = {"CacheControl": "no-store"}
_GOOGLE_NO_STORE = {"fixed_key_metadata": {"cache_control": "no-store"}}
_NO_STORE: dict[str, dict[str, Any]] = {
    "s3": _S3_NO_STORE, "s3a": _S3_NO_STORE, "gs": _GOOGLE_NO_STORE, "gcs": _GOOGLE_NO_STORE,
}
_NOT_KEPT = ("memory",)  # gone when the command ends, and the link would lead nowhere
_WEB = ("http", "https", "ftp", "data")
_LEFTOVER = re.compile(r"\.survey-[a-z0-9_]{8}\.part")
_LEFTOVER_SECONDS = 3600.0


class Folder:
    """A place for published pages.

    Parameters
    ----------
    said
        A folder on this machine, or the address of an object store such as s3://bucket/pages.

    Raises
    ------
    ShareError
        It is no folder or store that pages can be written to, or what opens it is not installed.
    """

    def __init__(self, said: str) -> None:
        self.protocol = _protocol(said)
        self.local = self.protocol == "file"
        self.place = _local_place(said) if self.local else said.rstrip("/")
        self._files: Any = None if self.local else _files(self.protocol, self.place)

    def address_of(self, token: str) -> str:
        """Return where a page is within this folder, as this machine names it."""
        name = f"{token}{ENDING}"
        return (Path(self.place) / name).as_uri() if self.local else f"{self.place}/{name}"

    def publish(self, token: str, page: bytes) -> None:
        """Write a page under its token: whole or not at all, and never over another file.

        Where the folder has no start page yet it gets one that says nothing, since many web
        servers list a folder that has none.
        """
        assert TOKEN_SHAPE.fullmatch(token)  # so that a name is never a path
        with self._told():
            if self.local:
                _clear_leftovers(Path(self.place))
            self._write(f"{token}{ENDING}", page)
            with contextlib.suppress(FileExistsError):
                self._write(INDEX, NOTHING_HERE)

    def take_away(self, kept_hash: bytes) -> bool:
        """Remove the page whose token has this hash; tell whether one was there."""
        with self._told():
            for name in self._names():
                if _PAGE.fullmatch(name) and token_hash(Path(name).stem) == kept_hash:
                    self._remove(name)
                    return True
        return False

    def _write(self, name: str, page: bytes) -> None:
        if self.local:
            _write_new(Path(self.place) / name, page)
            return
        target = f"{self.place}/{name}"
        with tempfile.TemporaryDirectory() as folder:
            # Named as it will be named there: stores tell the kind of a file by its ending.
            whole = Path(folder) / name
            whole.write_bytes(page)
            if self._files.exists(target):
                raise FileExistsError(name)
            self._files.put_file(str(whole), target, **_NO_STORE.get(self.protocol, {}))

    def _names(self) -> list[str]:
        if self.local:
            return os.listdir(self.place)  # noqa: PTH208  names, not paths
        self._files.invalidate_cache()  # what was listed before may have changed since
        try:
            found = self._files.ls(self.place, detail=False)
        except FileNotFoundError:
            return []  # a store has no folders of its own: no page, no folder
        return [str(path).rpartition("/")[2] for path in found]

    def _remove(self, name: str) -> None:
        if self.local:
            (Path(self.place) / name).unlink(missing_ok=True)
        else:
            self._files.rm_file(f"{self.place}/{name}")

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except Exception as error:  # each store has errors of its own; none may reach a person
            raise ShareError(
                "A folder or store that pages can be written to was expected",
                found=hidden(f"{type(error).__name__}: {getattr(error, 'strerror', '') or error}"),
                where=self.place,
                do="check that it is there, and that you may list, write and remove files in it",
            ) from None


def _protocol(said: str) -> str:
    scheme, mark, rest = said.partition("://")
    odd = "::" in said or not said.isprintable() or not said.strip()
    if odd or (mark and scheme != "file" and not _plain(said, rest)):
        raise _not_a_folder(said, "give a folder, or an address such as s3://bucket/pages, with no "
                                  "name, password, .., ? or # in it")
    if mark and scheme in _WEB:
        raise _not_a_folder(said, "give --to the folder or store itself, and this address as "
                                  "--base-url")
    if mark and scheme in _NOT_KEPT:
        raise _not_a_folder(said, "give a folder or store that outlasts this command: what lies in "
                                  "this program's memory is gone when it ends")
    return scheme if mark else "file"


def _plain(said: str, rest: str) -> bool:
    try:
        parts = urlsplit(said)
    except ValueError:
        return False
    steps = rest.rstrip("/").split("/")
    return bool(steps[0] or steps[1:]) and not parts.password and not parts.username and not any(
        step in (".", "..") for step in steps
    ) and not any(mark in rest for mark in "?#\\*[]")


def _not_a_folder(said: str, do: str) -> ShareError:
    named = re.sub(r"//[^/]*@", "//", said)  # what stands before an @ may be a password
    return ShareError("A folder or an object store for the page was expected",
                      found=ascii(named[:80]), do=do)


def _local_place(said: str) -> str:
    place = Path(said.removeprefix("file://")).expanduser().resolve()
    if not is_folder(place):
        raise _not_a_folder(said, "make the folder first, or correct its name")
    return str(place)


def _files(protocol: str, place: str) -> Any:
    import fsspec

    try:
        files, _ = fsspec.core.url_to_fs(place, skip_instance_cache=True)
    except ImportError as error:
        package = _PACKAGES.get(protocol)
        raise ShareError(
            f"A package that opens {protocol}:// was expected",
            found="it is not installed",
            do=f"run: pip install {package}" if package else str(error)[:200],
        ) from None
    except ValueError:
        raise _not_a_folder(place, "give a folder, or an address that begins with s3://, gs:// "
                                   "or another kind of store that fsspec opens") from None
    return files


def _write_new(path: Path, page: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".survey-", suffix=".part")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(page)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(0o644)  # the web server reads it as somebody else
        _put_new(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


def _put_new(temporary: Path, path: Path) -> None:
    try:
        os.link(temporary, path)  # whole at once, and an error where something has this name
    except FileExistsError:
        raise
    except OSError:  # sticks and some network drives know no second name for a file
        os.close(os.open(path, os.O_CREAT | os.O_EXCL, 0o644))
        temporary.replace(path)


def _clear_leftovers(folder: Path) -> None:
    # What a killed run left half-written; a run that is still at it is younger than this.
    before = time.time() - _LEFTOVER_SECONDS
    for path in folder.glob(".survey-*.part"):
        with contextlib.suppress(OSError):
            if _LEFTOVER.fullmatch(path.name) and path.stat().st_mtime < before:
                path.unlink()
