"""Start the screens and the owner's pages, each a process on its own port, and stop both."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import survey
from survey.dashboard import settings
from survey.dashboard.addresses import announced, check_free, is_local, url
from survey.dashboard.entrance import ENTRANCE_VARIABLE, PASSWORD_VARIABLE, hashed, no_password
from survey.dashboard.servers import await_all, running, watch
from survey.dashboard.wording import opening_words
from survey.errors import UsageError
from survey.sharing.addresses import PORT

_PACKAGE = Path(survey.__file__).parent
_SERVED = _PACKAGE / "dashboard" / "served.py"
_STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class _Stop(BaseException):
    """Told to stop: not an error, so it passes every `except Exception`."""


def launch(
    host: str = "127.0.0.1",
    port: int = 8501,
    pages_port: int = PORT,
    *,
    screens_host: str = "127.0.0.1",
    password: str | None = None,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the technician's screens and the owner's pages until told to stop.

    Returns after Ctrl-C, SIGTERM or SIGHUP, both servers stopped.

    Parameters
    ----------
    host
        Address the owner's pages listen on.
    port, pages_port
        Ports of the screens and of the owner's pages.
    screens_host
        Address the screens listen on. Anything but this machine itself needs a password.
    password
        Password of the screens; else the environment's ``SURVEY_PASSWORD``.
    say
        What to do with each line for the person.

    Raises
    ------
    UsageError
        A port is taken or the two are the same, an address is not this machine's, or the
        screens would be open to others without a password.
    SurveyError
        One of the two did not start, or stopped by itself.
    """
    environment = _environment(screens_host, password)
    environment.setdefault("SURVEY_BASE_URL", url(host, pages_port))
    check_free(screens_host, port, "port")
    check_free(host, pages_port, "pages-port")
    if port == pages_port:
        raise UsageError(
            opening_words.TWO_PORTS,
            found=opening_words.TWO_PORTS_FOUND.format(port=port),
            do=opening_words.TWO_PORTS_DO,
        )
    with contextlib.suppress(_Stop), _stop_signals_raise(), contextlib.ExitStack() as stack:
        pages, screens = url(host, pages_port), url(screens_host, port)
        servers = [
            stack.enter_context(
                running(
                    opening_words.OWNERS_PAGES,
                    _pages_command(host, pages_port),
                    environment=environment,
                    answers_at=pages,
                )
            ),
            stack.enter_context(
                running(
                    opening_words.SCREENS,
                    _screens_command(screens_host, port),
                    environment=environment,
                    answers_at=f"{screens}_stcore/health",
                )
            ),
        ]
        await_all(servers)
        stack.enter_context(announced(pages.rstrip("/")))
        say(opening_words.SCREENS_AT.format(address=screens))
        say(opening_words.PAGES_AT.format(address=pages))
        say(opening_words.CTRL_C)
        watch(servers)


def _screens_command(host: str, port: int) -> list[str]:
    options = settings.flags({"server.address": host, "server.port": str(port)})
    if is_local(host):  # so that no other name can be made to point at these screens
        names = dict.fromkeys((host, "localhost", "127.0.0.1"))
        options += [f"--server.allowedHosts={name}" for name in names]
    return [sys.executable, "-P", "-m", "streamlit", "run", str(_SERVED), *options]


def _pages_command(host: str, port: int) -> list[str]:
    start = (
        "import sys; from survey.sharing import serve_pages; "
        "serve_pages(host=sys.argv[1], port=int(sys.argv[2]))"
    )
    return [sys.executable, "-P", "-c", start, host, str(port)]


def _environment(screens_host: str, password: str | None) -> dict[str, str]:
    environment = dict(os.environ)
    given = password or environment.pop(PASSWORD_VARIABLE, "")
    known = environment.get("PYTHONPATH", "")
    environment["PYTHONPATH"] = os.pathsep.join(filter(None, [str(_PACKAGE.parent), known]))
    environment.pop(ENTRANCE_VARIABLE, None)
    if given:
        environment[ENTRANCE_VARIABLE] = hashed(given)
    elif not is_local(screens_host):
        raise no_password(screens_host)
    return environment


@contextlib.contextmanager
def _stop_signals_raise() -> Iterator[None]:
    def stop(_number: int, _frame: FrameType | None) -> None:
        for number in _STOP_SIGNALS:  # a second Ctrl-C must not break the stopping
            signal.signal(number, signal.SIG_IGN)
        raise _Stop

    before = {number: signal.signal(number, stop) for number in _STOP_SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
