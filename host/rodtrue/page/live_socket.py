"""The live picture's own websocket: short messages, as many as a browser takes and no more."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

import msgspec
from fastapi import FastAPI, WebSocket, WebSocketDisconnect

from rodtrue.page.engine import Engine
from rodtrue.page.feed import Cursor
from rodtrue.page.scene import scene_of

MOST_AHEAD = 3
"""Messages under way to a browser that it has not yet taken; then it gets the rest in one."""

LOOK_AGAIN_S = 1.0


class Bell:
    """Rung by the engine's thread; whoever waits in the server's loop hears it."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._waiting: set[asyncio.Event] = set()

    def ring(self) -> None:
        """Wake all who wait. From any thread."""
        loop = self._loop
        if loop is not None and self._waiting:
            with contextlib.suppress(RuntimeError):  # the loop has ended: nobody is left to hear
                loop.call_soon_threadsafe(self._wake)

    def hear(self) -> asyncio.Event:
        """Return an event that is set at every ring, until `leave`."""
        self._loop = asyncio.get_running_loop()
        event = asyncio.Event()
        self._waiting.add(event)
        return event

    def leave(self, event: asyncio.Event) -> None:
        """Wait no more."""
        self._waiting.discard(event)

    def _wake(self) -> None:
        for event in self._waiting:
            event.set()


def serve_live(app: FastAPI, engine: Engine) -> None:
    """Serve the live picture at `/live`."""
    bell = Bell()
    engine.on_change = bell.ring

    @app.websocket("/live")
    async def live(socket: WebSocket) -> None:
        await socket.accept()
        rung = bell.hear()
        reader = _Reader(engine, socket, rung)
        sending = asyncio.create_task(reader.send())
        try:
            while True:
                await socket.receive_text()
                reader.taken()
        except WebSocketDisconnect:
            pass
        finally:
            bell.leave(rung)
            sending.cancel()
            with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                await sending


class _Reader:
    """One browser: how far it has got, and how much is on its way."""

    def __init__(self, engine: Engine, socket: WebSocket, rung: asyncio.Event) -> None:
        self._engine, self._socket, self._rung = engine, socket, rung
        self._cursor = Cursor()
        self._scene: dict[str, Any] | None = None
        self._version = -1
        self._ahead = 0

    def taken(self) -> None:
        """The browser has taken a message."""
        self._ahead = max(0, self._ahead - 1)
        self._rung.set()

    async def send(self) -> None:
        """Send what is new for ever."""
        last: dict[str, Any] = {}
        while True:
            self._rung.clear()
            if self._ahead < MOST_AHEAD:
                await self._send_scene()
                message = self._engine.feed.since(self._cursor)
                if message["xy"] or message.get("t") != last.get("t") or message["series"] != last.get("series"):
                    last = message
                    await self._send(message)
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._rung.wait(), LOOK_AGAIN_S)

    async def _send_scene(self) -> None:
        shown = self._engine.shown
        if shown.version == self._version:
            return
        self._version = shown.version
        scene = scene_of(shown)
        if scene != self._scene:
            self._scene = scene
            await self._send({"scene": scene})

    async def _send(self, message: dict[str, Any]) -> None:
        self._ahead += 1
        await self._socket.send_text(msgspec.json.encode(message).decode())
