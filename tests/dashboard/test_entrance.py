"""The password at the door, and what every answer carries."""

from __future__ import annotations

import asyncio
import tomllib
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket

from survey.dashboard import entrance, served
from survey.dashboard.settings import SETTINGS, flags
from survey.errors import UsageError

from .conftest import ROOT

PASSWORD = "four unrelated words here"


def inside(_request: object) -> PlainTextResponse:
    return PlainTextResponse("inside " * 500)


async def live(socket: WebSocket) -> None:
    await socket.accept()
    await socket.send_text("inside")
    await socket.close()


def app(*layers: Middleware) -> Starlette:
    routes = [Route("/", inside), Route("/_stcore/health", inside), WebSocketRoute("/live", live)]
    return Starlette(routes=routes, middleware=list(layers))


class Client:
    """A browser that keeps its cookies."""

    def __init__(self, application: Starlette, address: str = "192.0.2.7") -> None:
        self.application, self.address, self.cookies = application, address, httpx.Cookies()

    def ask(self, method: str, path: str, **how: Any) -> httpx.Response:
        async def asked() -> httpx.Response:
            transport = httpx.ASGITransport(self.application, client=(self.address, 50_000))
            async with httpx.AsyncClient(
                transport=transport, base_url="http://screens", cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, **how)
                self.cookies = client.cookies
                return answer

        return asyncio.run(asked())

    def live(self) -> list[str]:
        """Return the kinds of messages that a live connection is answered with."""
        sent: list[str] = []
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        scope = {
            "type": "websocket",
            "path": "/live",
            "query_string": b"",
            "subprotocols": [],
            "headers": [(b"cookie", cookie.encode())],
        }

        async def receive() -> dict[str, str]:
            return {"type": "websocket.connect"}

        async def send(message: dict[str, Any]) -> None:
            sent.append(message["type"])

        asyncio.run(self.application(scope, receive, send))  # type: ignore[arg-type]
        return sent


@pytest.fixture
def door() -> Client:
    layer = Middleware(entrance.Entrance, password_hash=entrance.hashed(PASSWORD))
    return Client(app(layer))


def test_without_the_password_nothing_is_served(door: Client) -> None:
    for method in ("GET", "PUT", "DELETE", "OPTIONS"):
        answer = door.ask(method, "/")
        assert answer.status_code == 401
        assert "inside" not in answer.text
    assert door.live() == ["websocket.close"]


def test_the_password_opens_pages_and_live_connections(door: Client) -> None:
    answer = door.ask("POST", "/entrance", data={"password": PASSWORD})
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert door.ask("GET", "/").text.startswith("inside")
    assert door.live() == ["websocket.accept", "websocket.send", "websocket.close"]


@pytest.mark.parametrize("guess", ["", "wrong", PASSWORD + " ", PASSWORD.upper(), "x" * 10_000])
def test_a_wrong_password_opens_nothing(door: Client, guess: str) -> None:
    answer = door.ask("POST", "/entrance", data={"password": guess})
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers
    assert 'role="alert">That was not the password' in answer.text
    assert door.ask("GET", "/").status_code == 401


@pytest.mark.parametrize("cookie", [b"survey_entrance=guess", b"survey_entrance=", b"=;;=\x80"])
def test_a_made_up_cookie_opens_nothing(door: Client, cookie: bytes) -> None:
    assert door.ask("GET", "/", headers=[(b"cookie", cookie)]).status_code == 401


def test_a_cookie_ends_with_the_working_day(door: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    door.ask("POST", "/entrance", data={"password": PASSWORD})
    later = entrance.time.monotonic() + 13 * 3600
    monkeypatch.setattr(entrance.time, "monotonic", lambda: later)
    assert door.ask("GET", "/").status_code == 401


def test_the_health_check_needs_no_password(door: Client) -> None:
    assert door.ask("GET", "/_stcore/health").status_code == 200


def test_a_short_password_is_refused_and_the_hash_is_not_the_password() -> None:
    with pytest.raises(UsageError, match="at least 10 characters"):
        entrance.hashed("short")
    assert PASSWORD not in entrance.hashed(PASSWORD)
    assert entrance.hashed(PASSWORD).startswith("$argon2id$")


def test_every_answer_forbids_the_browser_to_fetch_from_elsewhere() -> None:
    client = Client(app(Middleware(served.SecurityHeaders)))
    for path in ("/", "/absent"):
        headers = client.ask("GET", path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "img-src 'self' data: blob:" in policy
        assert "http" not in policy
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(("client", "packed"), [("127.0.0.1", False), ("192.0.2.7", True)])
def test_answers_are_packed_only_for_other_machines(client: str, packed: bool) -> None:
    layers = Middleware(served.CompressedAfar, compresslevel=6)
    answer = Client(app(layers), client).ask("GET", "/", headers={"accept-encoding": "gzip"})
    assert (answer.headers.get("content-encoding") == "gzip") is packed
    assert (int(answer.headers["content-length"]) < 500) is packed
    assert answer.text.startswith("inside")


def test_the_settings_file_says_what_the_command_says() -> None:
    raw = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    flat = dict(_flat("", raw))
    assert flat.pop("server.address") == "127.0.0.1"
    assert flat == SETTINGS
    assert "--browser.gatherUsageStats=false" in flags({})


def _flat(lead: str, table: dict[str, object]):
    for name, value in table.items():
        if isinstance(value, dict):
            yield from _flat(f"{lead}{name}.", value)
        elif isinstance(value, list):
            yield f"{lead}{name}", "[" + ", ".join(f'"{each}"' for each in value) + "]"
        else:
            yield f"{lead}{name}", str(value).lower() if isinstance(value, bool) else str(value)
