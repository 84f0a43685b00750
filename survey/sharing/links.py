"""What a link is: its token, its hash, and how it stands."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

Clock = Callable[[], datetime]
Standing = Literal["open", "expired", "revoked"]

TOKEN_BYTES = 32
TOKEN_SHAPE = re.compile(r"[A-Za-z0-9_-]{43}")
_LONGEST_HASHED = 200


@dataclass(frozen=True)
class Link:
    """One link as it is listed: everything but the token, which nobody keeps.

    ``folder`` is where the page was published, '' where the pages' server shows it. A page that
    has ended but could not be taken out of its folder yet is ``still_there``.
    """

    number: int
    label: str
    made_at: datetime
    expires_at: datetime
    standing: Standing
    folder: str = ""
    still_there: bool = False


@dataclass(frozen=True)
class FrozenPage:
    """A page as it is sent: HTML in gzip, and the content policy it was made with."""

    gzipped: bytes
    policy: str


def new_token() -> str:
    """Return 256 random bits as 43 characters that need no quoting in an address."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def token_hash(token: str) -> bytes:
    """Return what is kept of a token: its SHA-256.

    The token is random and long, so a plain hash cannot be searched back; a slow one would
    only slow the pages down.
    """
    return hashlib.sha256(token[:_LONGEST_HASHED].encode("utf-8", "replace")).digest()


def utc_now() -> datetime:
    """Return the time now, in UTC."""
    return datetime.now(UTC)
