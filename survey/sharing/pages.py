"""The owner's side: a small read-only web application that answers a valid link with its page.

Everything that is not a valid link gets one and the same answer, after one and the same work:
other paths, other methods, malformed, guessed, expired and revoked links. There is no start
page, no form, no cookie, no error text and no route to anything else.
"""

from __future__ import annotations

import gzip
import re

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from survey.errors import ShareError
from survey.sharing.addresses import PAGE_FOLDER
from survey.sharing.guesses import Guesses
from survey.sharing.links import FrozenPage
from survey.sharing.store import LinkStore

HEADERS = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": (
        "accelerometer=(), browsing-topics=(), camera=(), display-capture=(), geolocation=(), "
        "gyroscope=(), magnetometer=(), microphone=(), midi=(), payment=(), usb=()"
    ),
    "Referrer-Policy": "no-referrer",
    "Vary": "Accept-Encoding",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
}
NOTHING_POLICY = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
NOTHING_HERE = (
    b'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
    b'<meta name="viewport" content="width=device-width, initial-scale=1">'
    b'<title>Nothing here</title><link rel="icon" href="data:,"></head><body><main>'
    b"<h1>Nothing here</h1><p>There is no page at this address, or it is no longer shown. "
    b"If you were sent a link, ask whoever sent it for a new one.</p></main></body></html>\n"
)
_ICON_POLICY = "; img-src data:"
_LONGEST_PATH = 2_000
_TAKES_GZIP = re.compile(r"(?i)\bgzip\b(?!\s*;\s*q\s*=\s*0(?:\.0*)?\s*(?:,|$))")


def owner_app(
    store: LinkStore, *, prefix: str = "", guesses: Guesses | None = None
) -> Starlette:
    """Return the application.

    Parameters
    ----------
    store
        Where the links are.
    prefix
        A path that a server in front may leave on each request, such as '/steam'.
    guesses
        The brake on guessing; None makes one with its defaults.
    """
    pages = _Pages(store, prefix, guesses or Guesses())
    app = Starlette()
    # Not a route: a path with a line's end in it, or a whole address for one, matches none.
    app.router.default = pages
    return app


class _Pages:
    def __init__(self, store: LinkStore, prefix: str, guesses: Guesses) -> None:
        self._store, self._prefix, self._guesses = store, prefix, guesses

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        request = Request(scope)
        response = await self._answer(request)
        if request.method == "HEAD":
            response.body = b""  # its length header stays that of the page
        await response(scope, receive, send)

    async def _answer(self, request: Request) -> Response:
        try:
            page = await run_in_threadpool(self._store.lookup, self._token(request))
        except ShareError:
            page = None  # an unreadable store shows nothing, and tells nobody so
        if page is not None and request.method in ("GET", "HEAD"):
            return _page(page, request)
        await self._guesses.miss(request.client.host if request.client else "")
        return _nothing()

    def _token(self, request: Request) -> str:
        path = request.scope["path"][:_LONGEST_PATH]
        for lead in (self._prefix, request.scope.get("root_path", "")):
            if lead and path.startswith(f"{lead}/"):
                path = path[len(lead) :]
        lead = f"/{PAGE_FOLDER}/"
        return path.removeprefix(lead) if path.startswith(lead) else ""


def _page(page: FrozenPage, request: Request) -> Response:
    headers = HEADERS | {"Content-Security-Policy": f"{page.policy}; frame-ancestors 'none'"}
    if _TAKES_GZIP.search(request.headers.get("accept-encoding", "")):
        return _html(page.gzipped, headers | {"Content-Encoding": "gzip"}, 200)
    return _html(gzip.decompress(page.gzipped), headers, 200)


def _nothing() -> Response:
    policy = NOTHING_POLICY + _ICON_POLICY
    return _html(NOTHING_HERE, HEADERS | {"Content-Security-Policy": policy}, 404)


def _html(body: bytes, headers: dict[str, str], status: int) -> Response:
    return Response(body, status, headers, media_type="text/html")
