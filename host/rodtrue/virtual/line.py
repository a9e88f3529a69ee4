"""The outer end of the virtual fixture's serial line: a pseudo-terminal, or a port on the loopback."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import socket
import tty
from typing import Protocol

from rodtrue.model.errors import FixtureError


class Line(Protocol):
    """What the host opens. One listener at a time."""

    port: str

    def listener(self) -> int | None:
        """Return the file descriptor to the listener, None where nobody listens."""

    def waits_on(self) -> int | None:
        """Return a file descriptor on which a listener would show, None where only asking tells."""

    def read(self) -> bytes:
        """Return bytes that have come, from a listener gone since too; b"" for none."""

    def write(self, data: bytes) -> int:
        """Write what goes without waiting; return how many bytes."""

    def close(self) -> None:
        """Take the line away: the host sees an unplugged fixture."""


class PtyLine:
    """A pseudo-terminal, raw; a listener is whoever holds its far side open."""

    def __init__(self) -> None:
        self._fd, far_side = pty.openpty()
        # Set raw before anybody opens it, or the first read would wait for a line end.
        tty.setraw(far_side)
        self.port = os.ttyname(far_side)
        os.close(far_side)
        os.set_blocking(self._fd, False)
        self._poll = select.poll()
        self._poll.register(self._fd, 0)

    def listener(self) -> int | None:
        return None if self._poll.poll(0) else self._fd

    def waits_on(self) -> int | None:
        return None

    def read(self) -> bytes:
        try:
            return os.read(self._fd, 4096)
        except OSError:
            return b""

    def write(self, data: bytes) -> int:
        try:
            return os.write(self._fd, data)
        except OSError:
            return 0

    def close(self) -> None:
        os.close(self._fd)


class SocketLine:
    """A TCP port on the loopback, for hosts that open `socket://`.

    Raises: FixtureError where the port is taken.
    """

    def __init__(self, tcp_port: int = 0) -> None:
        try:
            self._server = socket.create_server(("127.0.0.1", tcp_port), backlog=1)
        except OSError as error:
            raise FixtureError(
                f"the virtual fixture cannot serve TCP port {tcp_port}: {error.strerror}",
                "Name another port, or 0 for any free one.",
            ) from error
        self._server.setblocking(False)
        self._peer: socket.socket | None = None
        self.port = f"socket://127.0.0.1:{self._server.getsockname()[1]}"

    def listener(self) -> int | None:
        if self._peer is None:
            with contextlib.suppress(BlockingIOError):
                self._peer, _ = self._server.accept()
                self._peer.setblocking(False)
                self._peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return None if self._peer is None else self._peer.fileno()

    def waits_on(self) -> int | None:
        return self._server.fileno() if self._peer is None else None

    def read(self) -> bytes:
        if self._peer is None:
            return b""
        try:
            data = self._peer.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def write(self, data: bytes) -> int:
        if self._peer is None:
            return 0
        try:
            return self._peer.send(data)
        except BlockingIOError:
            return 0
        except OSError:
            self._hang_up()
            return 0

    def close(self) -> None:
        self._hang_up()
        self._server.close()

    def _hang_up(self) -> None:
        if self._peer is not None:
            self._peer.close()
            self._peer = None
