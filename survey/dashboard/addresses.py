"""Addresses to listen on: whom they let in, whether they are free, how they are written."""

from __future__ import annotations

import ipaddress
import json
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from survey.dashboard.wording import opening_words
from survey.errors import SurveyError, UsageError
from survey.sharing.addresses import PAGES_FILE
from survey.sharing.home import home
from survey.writing import replacing


def is_local(host: str) -> bool:
    """Tell whether an address is reached from this machine only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_free(host: str, port: int, option: str) -> None:
    """Raise UsageError unless this address can be listened on."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
            probe.listen(1)
        except (OSError, OverflowError) as error:
            raise UsageError(
                opening_words.FREE_PORT,
                found=getattr(error, "strerror", None) or str(error),
                where=opening_words.FREE_PORT_WHERE.format(host=host, port=port),
                do=opening_words.FREE_PORT_DO.format(option=option),
            ) from None


def url(host: str, port: int) -> str:
    """Return the address as a person on this machine opens it."""
    reached = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104  compared
    return f"http://[{reached}]:{port}/" if ":" in reached else f"http://{reached}:{port}/"


@contextmanager
def announced(pages: str) -> Iterator[None]:
    """Leave word in the data folder where the owner's pages answer, for as long as they do.

    `survey share` in another window can then print a link to the port they really have.
    """
    place = home() / PAGES_FILE
    with suppress(SurveyError, OSError):  # where no word can be left, links name the usual port
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with replacing(place) as temporary:
            temporary.write_text(json.dumps({"address": pages, "process": os.getpid()}))
    try:
        yield
    finally:
        with suppress(OSError, ValueError, KeyError):
            if json.loads(place.read_text())["process"] == os.getpid():  # not another's since
                place.unlink()
