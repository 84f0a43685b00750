"""Run the owner's pages: no access log, no server name, and no token in any log line."""

from __future__ import annotations

import contextlib
import logging
import traceback
from typing import Any

from survey.errors import ShareError
from survey.sharing.addresses import HOST, PORT, base_url, prefix_of
from survey.sharing.hiding import hidden
from survey.sharing.share import opened
from survey.sharing.store import LinkStore


class HideLinks(logging.Filter):
    """Rewrites each record, its traceback too, so that nothing in it could open a page."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Hide what could be a token; every record passes."""
        record.msg, record.args = hidden(_message(record)), None
        if record.exc_info:
            record.exc_text = hidden("".join(traceback.format_exception(*record.exc_info)))
            record.exc_info = None
        if record.stack_info:
            record.stack_info = hidden(record.stack_info)
        return True


def log_config() -> dict[str, Any]:
    """Return the logging of the pages' server: warnings and worse, to stderr, links hidden."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"hide": {"()": HideLinks}},
        "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(message)s"}},
        "handlers": {
            "stderr": {
                "class": "logging.StreamHandler", "stream": "ext://sys.stderr",
                "formatter": "plain", "filters": ["hide"],
            }
        },
        "loggers": {
            name: {"handlers": ["stderr"], "level": "WARNING", "propagate": False}
            for name in ("uvicorn", "asyncio", "starlette")
        },
    }


def serve_pages(
    host: str = HOST, port: int = PORT, *, base: str | None = None, store: LinkStore | None = None
) -> None:
    """Serve the owner's pages until stopped.

    Parameters
    ----------
    host, port
        Where to listen. This machine only, unless another host is given.
    base
        What links begin with; its path is taken off requests if a server in front leaves it on.
    store
        Where the links are; None is the user's own store.

    Raises
    ------
    ShareError
        The port cannot be listened on, or the store cannot be opened.
    """
    import uvicorn

    from survey.sharing.pages import owner_app

    with opened(store) as kept:
        app = owner_app(kept, prefix=prefix_of(base_url(base)))
        config = uvicorn.Config(
            app, host=host, port=port, access_log=False, server_header=False,
            log_level="warning", log_config=log_config(), lifespan="off", ws="none",
            timeout_keep_alive=10, http="h11", h11_max_incomplete_event_size=16_384,
        )
        try:
            with contextlib.suppress(KeyboardInterrupt):  # how a person stops it
                uvicorn.Server(config).run()
        except SystemExit:
            raise ShareError(
                "A port that is free to listen on was expected", found=f"{host}:{port}",
                do="give another --port, or stop what is using it",
            ) from None


def _message(record: logging.LogRecord) -> str:
    try:
        return record.getMessage()
    except (TypeError, ValueError):
        return f"{record.msg} {record.args}"
