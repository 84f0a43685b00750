"""A brake on guessing that cannot shut anybody out.

Only answers that find nothing are counted and slowed; a valid link is never looked at here, so
no number of wrong ones, from whatever address, keeps an owner from a right one. It saves work
and noise; what makes guessing hopeless is the 256 bits of the token.
"""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable

import anyio

FREE = 20
PER_SECONDS = 60.0
WAIT_SECONDS = 1.0
MOST_WAITING = 100
MOST_CLIENTS = 10_000


class Guesses:
    """Counts misses by client and makes those past a limit wait.

    Parameters
    ----------
    free
        Misses in a minute that are answered at once.
    wait_seconds
        How long each further miss waits. At most `MOST_WAITING` wait at a time, so that
        waiting cannot itself be used to fill the server.
    monotonic, sleep
        Clock and sleep, to be replaced in tests.
    """

    def __init__(
        self,
        *,
        free: int = FREE,
        wait_seconds: float = WAIT_SECONDS,
        monotonic: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = anyio.sleep,
    ) -> None:
        self._free, self._wait = free, wait_seconds
        self._monotonic, self._sleep = monotonic, sleep
        self._clients: OrderedDict[str, tuple[float, int]] = OrderedDict()
        self._waiting = 0

    async def miss(self, client: str) -> None:
        """Count a miss, and wait if this client has had too many of late."""
        if self._count(_network(client)) <= self._free or self._waiting >= MOST_WAITING:
            return
        self._waiting += 1
        try:
            await self._sleep(self._wait)
        finally:
            self._waiting -= 1

    def _count(self, client: str) -> int:
        now = self._monotonic()
        since, count = self._clients.pop(client, (now, 0))
        if now - since > PER_SECONDS:
            since, count = now, 0
        self._clients[client] = (since, count + 1)
        while len(self._clients) > MOST_CLIENTS:
            self._clients.popitem(last=False)
        return count + 1


def _network(client: str) -> str:
    try:
        address = ipaddress.ip_address(client)
    except ValueError:
        return client[:64]
    if address.version == 6:  # one household has a whole /64 to guess from
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)
