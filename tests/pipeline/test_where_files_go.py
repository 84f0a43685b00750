"""What a file that is written may take the place of, and who may read it."""

from __future__ import annotations

import contextlib
import os
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from survey.errors import OutputError
from survey.writing import replacing

pytestmark = pytest.mark.skipif(os.name != "posix", reason="devices and modes are POSIX's")


@contextlib.contextmanager
def umask(mask: int) -> Iterator[None]:
    before = os.umask(mask)
    try:
        yield
    finally:
        os.umask(before)


def write(path: Path, text: str = "new", *, mode: int | None = None) -> None:
    with replacing(path, mode=mode) as temporary:
        temporary.write_text(text)


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def refused(path: Path, found: str) -> None:
    with pytest.raises(OutputError, match="A plain file, or the name of a new one") as error:
        write(path)
    assert f"Found: {found}. Where: {path}." in str(error.value)


def test_a_folder_is_never_written_over(tmp_path: Path) -> None:
    place = tmp_path / "folder"
    place.mkdir()
    refused(place, "a folder")
    assert place.is_dir()
    assert list(tmp_path.iterdir()) == [place]


def test_a_named_pipe_is_neither_replaced_nor_waited_for(tmp_path: Path) -> None:
    place = tmp_path / "pipe"
    os.mkfifo(place)
    refused(place, "a named pipe")
    assert place.is_fifo()


def test_a_socket_is_never_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # a socket's name may be 100 characters long at most
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("socket")
        refused(Path("socket"), "a socket")
    assert Path("socket").is_socket()


def test_a_disk_is_never_written_over(tmp_path: Path) -> None:
    place = tmp_path / "disk"
    try:
        os.mknod(place, stat.S_IFBLK | 0o600, os.makedev(7, 255))
    except PermissionError:
        pytest.skip("only root makes devices")
    refused(place, "a disk")
    assert place.is_block_device()


def test_a_device_is_written_to_and_stays() -> None:
    before = Path(os.devnull).stat()
    write(Path(os.devnull))
    after = Path(os.devnull).stat()
    assert stat.S_ISCHR(after.st_mode)
    assert (after.st_ino, after.st_mode) == (before.st_ino, before.st_mode)


def test_a_device_that_takes_nothing_says_so() -> None:
    place = Path("/dev/full")
    if not place.is_char_device():
        pytest.skip("this system has no such device")
    with pytest.raises(OutputError, match=r"No space left on device\. Where: /dev/full"):
        write(place)
    assert place.is_char_device()


@pytest.mark.parametrize("name", ["/dev/stdout", "/dev/fd/1"])
@pytest.mark.parametrize("into", ["pipe", "file"])
def test_an_open_stream_is_written_on_with(tmp_path: Path, name: str, into: str) -> None:
    code = (
        "from pathlib import Path; from survey.writing import replacing\n"
        "print('before', flush=True)\n"
        f"with replacing(Path('{name}')) as path: path.write_text('content\\n')\n"
        "print('after')"
    )
    place = tmp_path / "shown.txt"
    with place.open("wb") as file:
        done = subprocess.run(
            [sys.executable, "-c", code], stdout=subprocess.PIPE if into == "pipe" else file,
            check=True,
        )
    shown = done.stdout if into == "pipe" else place.read_bytes()
    assert shown == b"before\ncontent\nafter\n"


def test_a_link_stays_and_its_file_is_replaced(tmp_path: Path) -> None:
    kept, elsewhere = tmp_path / "kept", tmp_path / "elsewhere"
    kept.mkdir()
    elsewhere.mkdir()
    real, link = kept / "findings.csv", elsewhere / "latest.csv"
    real.write_text("old")
    link.symlink_to(Path("..") / "kept" / "findings.csv")
    write(link)
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert [path.name for path in kept.iterdir()] == ["findings.csv"]
    assert [path.name for path in elsewhere.iterdir()] == ["latest.csv"]


def test_a_link_to_nothing_yet_makes_the_file(tmp_path: Path) -> None:
    link = tmp_path / "latest.csv"
    link.symlink_to(tmp_path / "findings.csv")
    write(link)
    assert link.is_symlink()
    assert (tmp_path / "findings.csv").read_text() == "new"


def test_a_link_to_itself_is_told(tmp_path: Path) -> None:
    link = tmp_path / "latest.csv"
    link.symlink_to(link)
    with pytest.raises(OutputError, match="A file that can be written was expected"):
        write(link)
    assert link.is_symlink()


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o444])
def test_a_file_that_is_replaced_keeps_its_mode(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "findings.csv"
    path.write_text("old")
    path.chmod(mode)
    with umask(0o022), replacing(path) as temporary:
        assert mode_of(temporary) & ~(mode | 0o600) == 0  # open to nobody new meanwhile
        temporary.write_text("new")
    assert (path.read_text(), mode_of(path)) == ("new", mode)


@pytest.mark.parametrize("mask", [0o022, 0o027, 0o077, 0o002])
def test_a_new_file_is_as_the_user_has_it(tmp_path: Path, mask: int) -> None:
    path = tmp_path / "findings.csv"
    with umask(mask):
        write(path)
    assert mode_of(path) == 0o666 & ~mask


@pytest.mark.parametrize("before", [None, 0o644])
def test_a_private_file_is_private_from_its_first_byte(tmp_path: Path, before: int | None) -> None:
    path = tmp_path / "round.zip"
    if before is not None:
        path.write_text("old")
        path.chmod(before)
    with umask(0), replacing(path, mode=0o600) as temporary:
        assert mode_of(temporary) == 0o600
        temporary.write_text("new")
    assert mode_of(path) == 0o600
