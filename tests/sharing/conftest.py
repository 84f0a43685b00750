from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import unquote

import pytest
from starlette.types import ASGIApp, Message, Scope

from survey.sharing.store import LinkStore

PAGE = b"<!doctype html><title>Findings</title><h1>What was found</h1>" + b"<p>Row.</p>" * 500
POLICY = "default-src 'none'; style-src 'sha256-abc='"


class HandClock:
    """A clock that goes only when it is told to."""

    def __init__(self) -> None:
        self.now = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def go(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "links.sqlite"


@pytest.fixture
def store(place: Path, clock: HandClock) -> Iterator[LinkStore]:
    with LinkStore(place, clock=clock) as made:
        yield made


@dataclass(frozen=True)
class Answer:
    """What the application sent: status, headers, and the body as it went over the wire."""

    status: int
    headers: dict[str, str]
    body: bytes


@dataclass(frozen=True)
class Caller:
    """Asks an application directly, as a server would, with nothing tidied up on the way."""

    app: ASGIApp
    root_path: str = ""
    client: tuple[str, int] | None = ("192.0.2.7", 1234)  # None: a socket that is a file

    def __call__(self, method: str, path: str, **headers: str) -> Answer:
        return asyncio.run(self._call(method, path, headers))

    async def _call(self, method: str, path: str, headers: dict[str, str]) -> Answer:
        path, _, query = path.partition("?")
        sent: list[Message] = []
        scope: Scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
            "scheme": "http", "path": unquote(path), "raw_path": path.encode(),
            "query_string": query.encode(), "root_path": self.root_path,
            "headers": [(k.replace("_", "-").encode(), v.encode()) for k, v in headers.items()],
            "client": self.client, "server": ("127.0.0.1", 8700),
        }

        async def receive() -> Message:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Message) -> None:
            sent.append(message)

        await self.app(scope, receive, send)
        start = sent[0]
        pairs = [(k.decode(), v.decode()) for k, v in start["headers"]]
        assert len({name for name, _ in pairs}) == len(pairs)
        return Answer(start["status"], dict(pairs), b"".join(m.get("body", b"") for m in sent[1:]))
