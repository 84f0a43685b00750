"""Links for the owner: a page frozen when the link was made, shown to whoever holds the link.

What a link keeps to: its token is random and 256 bits long; only the token's hash is stored; it
ends on its day or when it is revoked, and then its page is erased; and an ended, a guessed and
a malformed link are answered alike.
"""

from __future__ import annotations

from survey.sharing.links import Link
from survey.sharing.server import serve_pages
from survey.sharing.share import SharedLink, list_links, share, take_away_ended, unshare
from survey.sharing.store import LinkStore

__all__ = [
    "Link", "LinkStore", "SharedLink", "list_links", "serve_pages", "share", "take_away_ended",
    "unshare",
]
