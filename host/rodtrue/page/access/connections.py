"""How many connections the shop's network may hold open: never so many that none is left for the computer itself.

Every open connection takes one of the process's file descriptors, of which a desktop system grants as few as 256,
and the capture being written needs one too. This comes before the gate: a connection can be held open without ever
finishing a request that the gate could refuse.
"""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from rodtrue.page.access.origins import is_loopback

MOST_OF_ONE_ADDRESS = 32
"""A browser holds six and two websockets a tab."""

MOST_OF_THE_NETWORK = 96
REQUEST_WITHIN_S = 10.0
"""From a connection's or a request's first byte to the end of its head."""


class Connections:
    """The open connections of the shop's network, by address; this computer's own are not counted."""

    def __init__(self) -> None:
        self._open: dict[str, set[asyncio.BaseTransport]] = {}

    def admit(self, address: str, transport: asyncio.BaseTransport) -> bool:
        """Count a connection and say whether it may stay."""
        self._forget_closed()
        held = self._open.get(address, set())
        if len(held) >= MOST_OF_ONE_ADDRESS or sum(map(len, self._open.values())) >= MOST_OF_THE_NETWORK:
            return False
        self._open[address] = held | {transport}
        return True

    def _forget_closed(self) -> None:
        still = {
            address: {transport for transport in held if not transport.is_closing()}
            for address, held in self._open.items()
        }
        self._open = {address: held for address, held in still.items() if held}


_of_the_network = Connections()


class RationedConnection(HttpToolsProtocol):
    """A connection that is one of not too many, and whose requests do not take for ever to be made."""

    _deadline: asyncio.TimerHandle | None = None
    _rationed = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take it up, or drop it at once where there are too many from the network."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        self._rationed = not is_loopback(address)
        if self._rationed and not _of_the_network.admit(address, transport):
            transport.abort()
            return
        self._await_request()

    def on_message_begin(self) -> None:
        """The first byte of a request has come."""
        super().on_message_begin()
        self._await_request()

    def on_headers_complete(self) -> None:
        """The head of a request is whole: from here on the application decides."""
        self._stop_waiting()
        super().on_headers_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is over."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _await_request(self) -> None:
        self._stop_waiting()
        if self._rationed:
            self._deadline = self.loop.call_later(REQUEST_WITHIN_S, self.transport.close)

    def _stop_waiting(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None
