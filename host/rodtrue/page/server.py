"""The page's server: one port, opened before anything is promised, and the run ended when it ends."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI
from nicegui import ui

from rodtrue.model.errors import InputError
from rodtrue.page.access import SERVER_OPTIONS, AccessSettings, Gate, install_access
from rodtrue.page.engine import Engine
from rodtrue.page.files import serve_files
from rodtrue.page.history_page import serve_history
from rodtrue.page.layout import TITLE, lay_out
from rodtrue.page.live_socket import serve_live

_CLOSES_WITHIN_S = 2
RECONNECT_S = 15.0
"""A browser that was out of reach for so long, a tablet behind a fender perhaps, goes on where it was."""


def open_http_port(port: int, *, shop: bool) -> socket.socket:
    """Return a listening socket: on this computer only, or with `shop` on its network. Port 0: any free one.

    Raises: InputError where it is taken.
    """
    bind = AccessSettings(port, ("",) if shop else ()).bind_address
    try:
        return socket.create_server((bind, port))
    except OSError as error:
        raise InputError(
            f"TCP port {port} cannot be opened ({error.strerror})",
            "Is a page open already? Else name another port with --http, or 0 for any free one.",
        ) from error


def make_app(engine: Engine, settings: AccessSettings) -> tuple[FastAPI, Gate]:
    """Return the page's application and the gate in front of it."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    gate = install_access(app, settings)
    serve_live(app, engine)
    serve_files(app, engine)
    lay_out(app, engine, gate)
    if engine.desk is not None:
        serve_history(app, engine, engine.desk)
    ui.run_with(
        app,
        title=TITLE,
        dark=None,
        language="en-US",
        tailwind=False,
        show_welcome_message=False,
        reconnect_timeout=RECONNECT_S,
    )
    return app, gate


class _Server(uvicorn.Server):
    """Says when it has begun to answer."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()


def serve(engine: Engine, listening: socket.socket, settings: AccessSettings, ready: Callable[[Gate], None]) -> None:
    """Serve until interrupted; `ready` is called with the gate as soon as the page can be opened."""
    app, gate = make_app(engine, settings)
    config = uvicorn.Config(
        app,
        log_level="warning",
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=_CLOSES_WITHIN_S,
        **SERVER_OPTIONS,
    )
    engine.start()
    try:
        # The server ends at Ctrl-C and then passes it on: here that is the ordinary way to end.
        with contextlib.suppress(KeyboardInterrupt):
            _Server(config, lambda: ready(gate)).run(sockets=[listening])
    finally:
        engine.stop()
        listening.close()
