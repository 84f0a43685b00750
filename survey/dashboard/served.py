"""The web application round the screens: entrance, security headers, compression.

`streamlit run` finds ``app`` here. The headers forbid the browser to load anything from
elsewhere, so that words in an uploaded file could fetch nothing even if they were taken for
markup.
"""

from __future__ import annotations

import os
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.starlette import App

from survey.dashboard import start  # noqa: F401  loaded here, so the first visitor need not wait
from survey.dashboard.addresses import is_local
from survey.dashboard.entrance import ENTRANCE_VARIABLE, Entrance, no_password
from survey.dashboard.wording import opening_words

_HERE = ("127.0.0.1", "::1")
HEADERS = {
    # Streamlit's own pages start from an inline script and style themselves inline; its tables
    # compile WebAssembly.
    "content-security-policy": (
        "default-src 'none'; script-src 'self' 'unsafe-inline' 'wasm-unsafe-eval'; "
        "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
        "connect-src 'self'; worker-src 'self' blob:; manifest-src 'self'; base-uri 'none'; "
        "form-action 'self'; frame-src 'self'; frame-ancestors 'none'"
    ),
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "x-robots-tag": "noindex, nofollow",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


class SecurityHeaders:
    """ASGI middleware that adds `HEADERS` to every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and mark its answer."""

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        await self._app(scope, receive, marked)


class CompressedAfar(GZipMiddleware):
    """Compression for other machines; on this one it would only cost time."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Compress the answer where the other end is not this machine."""
        if scope["type"] == "http" and (scope.get("client") or ("",))[0] in _HERE:
            await self.app(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)


@asynccontextmanager
async def guarded(_app: object) -> AsyncIterator[None]:
    """Refuse to start where others could reach the screens without a password."""
    from streamlit import config

    host = config.get_option("server.address") or "0.0.0.0"  # noqa: S104  what Streamlit takes
    if not os.environ.get(ENTRANCE_VARIABLE) and not is_local(host):
        refusal = no_password(host)
        print(opening_words.REFUSED.format(refusal=refusal), file=sys.stderr, flush=True)
        os._exit(refusal.exit_code)  # the server would wrap any exception in a traceback
    yield


def _middleware() -> list[Middleware]:
    layers = [Middleware(SecurityHeaders), Middleware(CompressedAfar, compresslevel=6)]
    password_hash = os.environ.get(ENTRANCE_VARIABLE, "")
    if password_hash:
        layers.append(Middleware(Entrance, password_hash=password_hash))
    return layers


SCREENS = Path(__file__).with_name("screens.py")
MIDDLEWARE = _middleware()
app = App(str(SCREENS), middleware=MIDDLEWARE, lifespan=guarded)
