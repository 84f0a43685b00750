"""The address that a link begins with, and who can reach it."""

from __future__ import annotations

import ipaddress
import json
import os
from urllib.parse import urlsplit

from survey.errors import ShareError
from survey.sharing.home import home

PAGE_FOLDER = "f"
PORT = 8700
HOST = "127.0.0.1"
PAGES_FILE = "pages.json"
"""Left in the data folder by a running dashboard: where its owner's pages answer."""
_USUAL = f"http://{HOST}:{PORT}"
_LOCAL_ENDINGS = (".local", ".localhost", ".lan", ".internal", ".home.arpa", ".test", ".invalid")


def base_url(given: str | None = None) -> str:
    """Return what links begin with, no slash at the end.

    Parameters
    ----------
    given
        As set by the user; else SURVEY_BASE_URL; else where the pages of this user's running
        dashboard answer; else this machine itself.

    Raises
    ------
    ShareError
        It is no plain http or https address.
    """
    text = (given or os.environ.get("SURVEY_BASE_URL") or _running() or _USUAL).strip()
    try:
        parts = urlsplit(text)
        fits = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        fits = False
    odd = any(mark in text for mark in "?#@\\\"'<>") or not text.isascii() or not text.isprintable()
    if not fits or odd or any(mark.isspace() for mark in text):
        raise ShareError(
            "A base address such as https://findings.example.com/steam was expected",
            found=ascii(text[:80]),
            do="correct --base-url or SURVEY_BASE_URL: no name, password, ? or # in it",
        )
    return text.rstrip("/")


def _running() -> str:
    """Return where a running dashboard said that its pages answer; '' where none did."""
    try:
        said = json.loads((home() / PAGES_FILE).read_text(encoding="utf-8"))
        os.kill(said["process"], 0)  # asks only whether it still runs
        return str(said["address"])
    except (OSError, OverflowError, ValueError, KeyError, TypeError):
        return ""


def page_url(base: str, token: str) -> str:
    """Return the whole link for a token."""
    return f"{base}/{PAGE_FOLDER}/{token}"


def prefix_of(base: str) -> str:
    """Return the path that a base address carries, '' or '/steam'."""
    return urlsplit(base).path.rstrip("/")


def warning_about(base: str) -> str:
    """Return in words who cannot reach an address, or could listen in; '' if all is well."""
    parts = urlsplit(base)
    host = (parts.hostname or "").rstrip(".").lower()
    if _only_this_machine(host):
        return _cannot("This link opens on this machine only: nobody else can reach it.")
    if _only_this_network(host):
        return _cannot("This link opens inside this network only: nobody outside can reach it.")
    if parts.scheme == "http":
        return (
            "This link is not encrypted: whoever sits on the way can read the page and the link. "
            "Put a server with TLS in front and set --base-url to its https address."
        )
    return ""


def _cannot(said: str) -> str:
    return (
        f"{said} To show the findings outside, e-mail the page as one file (survey report FINDINGS "
        "--out report.html), or run the pages on a server with a public address and give that "
        "address with --base-url or SURVEY_BASE_URL."
    )


def _only_this_machine(host: str) -> bool:
    if host == "localhost" or host.endswith(".localhost"):
        return True
    address = _address(host)
    return address is not None and (address.is_loopback or address.is_unspecified)


def _only_this_network(host: str) -> bool:
    address = _address(host)
    if address is not None:
        return not address.is_global
    return "." not in host or host.endswith(_LOCAL_ENDINGS)


def _address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        address = ipaddress.ip_address(host.split("%")[0])
    except ValueError:
        return None
    mapped = getattr(address, "ipv4_mapped", None)
    return mapped or address
