"""The door to the screens when they are opened to more than this machine: one password.

The password is kept as an Argon2 hash. Who gives it gets a cookie that holds for a working day;
without it no page, no upload and no live connection is served.
"""

from __future__ import annotations

import hashlib
import html
import secrets
import time
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

import anyio
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from survey.dashboard.wording import opening_words, screen_words
from survey.errors import UsageError

ENTRANCE_VARIABLE = "SURVEY_ENTRANCE_HASH"
PASSWORD_VARIABLE = "SURVEY_PASSWORD"  # noqa: S105  the name of the variable, not a password
SHORTEST_PASSWORD = 10
_COOKIE = "survey_entrance"
_HOLDS_S = 12 * 3600
_LARGEST_FORM_BYTES = 4096
_OPEN_PATHS = ("/_stcore/health",)
_FORM = """<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>{name}</title>
<style>body{{font:1.1rem system-ui,sans-serif;max-width:24rem;margin:15vh auto;padding:0 1rem;
color-scheme:light dark}}input,button{{font:inherit;width:100%;min-height:3rem;margin:.4rem 0;
box-sizing:border-box}}</style></head><body><h1>{name}</h1><form method="post" action="{action}">
<label for="password">{label}</label>
<input id="password" name="password" type="password" autocomplete="current-password" required
autofocus><button>{press}</button></form><p role="alert">{words}</p></body></html>"""


def no_password(host: str) -> UsageError:
    """Return the refusal to open the screens at an address that others reach."""
    return UsageError(
        opening_words.DOOR_NONE,
        found=opening_words.DOOR_NONE_FOUND,
        where=opening_words.DOOR_NONE_WHERE.format(host=host),
        do=opening_words.DOOR_NONE_DO.format(variable=PASSWORD_VARIABLE),
    )


def hashed(password: str) -> str:
    """Return the Argon2 hash of a password; raises UsageError where it is too short."""
    if len(password) < SHORTEST_PASSWORD:
        raise UsageError(
            opening_words.DOOR_SHORT.format(least=SHORTEST_PASSWORD),
            found=opening_words.DOOR_SHORT_FOUND.format(count=len(password)),
            do=opening_words.DOOR_SHORT_DO,
        )
    return PasswordHasher().hash(password)


class Entrance:
    """ASGI middleware that lets in only who gave the password."""

    def __init__(self, app: ASGIApp, password_hash: str) -> None:
        self._app = app
        self._hash = password_hash
        self._let_in: dict[str, float] = {}  # SHA-256 of the cookie's value -> when it ends
        self._one_guess_at_a_time = anyio.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve the request, the form, or a refusal."""
        if scope["type"] == "lifespan" or scope.get("path") in _OPEN_PATHS or self._known(scope):
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            response = await self._answer(Request(scope, receive))
            await response(scope, receive, send)

    def _known(self, scope: Scope) -> bool:
        headers = dict(scope.get("headers", []))
        try:
            morsel = SimpleCookie(headers.get(b"cookie", b"").decode("latin-1")).get(_COOKIE)
        except CookieError:
            return False
        ends = self._let_in.get(_digest(morsel.value), 0.0) if morsel else 0.0
        return ends > time.monotonic()

    async def _answer(self, request: Request) -> Response:
        if request.method != "POST":
            return _form("")
        if not await self._right(await _password_in(request)):
            return _form(opening_words.DOOR_WRONG)
        token, now = secrets.token_urlsafe(32), time.monotonic()
        self._let_in = {key: ends for key, ends in self._let_in.items() if ends > now}
        self._let_in[_digest(token)] = now + _HOLDS_S
        response = RedirectResponse("./", status_code=303)
        response.set_cookie(
            _COOKIE,
            token,
            max_age=_HOLDS_S,
            httponly=True,
            samesite="strict",
            secure=request.url.scheme == "https",
        )
        return response

    async def _right(self, password: str) -> bool:
        async with self._one_guess_at_a_time:  # hashing is dear on purpose; guesses queue for it
            return await anyio.to_thread.run_sync(self._verified, password)

    def _verified(self, password: str) -> bool:
        try:
            return PasswordHasher().verify(self._hash, password)
        except (VerificationError, InvalidHashError):
            return False


async def _password_in(request: Request) -> str:
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > _LARGEST_FORM_BYTES:
            return ""
    return parse_qs(body.decode("utf-8", "replace")).get("password", [""])[0]


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _form(words: str) -> HTMLResponse:
    said = {
        "name": screen_words.NAME,
        "label": opening_words.DOOR,
        "press": opening_words.DOOR_OPEN,
        "words": words,
    }
    escaped = {field: html.escape(text) for field, text in said.items()}
    page = _FORM.format(action="/entrance", **escaped)
    return HTMLResponse(page, status_code=401, headers={"cache-control": "no-store"})
