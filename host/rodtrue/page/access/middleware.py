"""The middleware in front of the page: Host, Origin, session, and who the viewer is.

In this order, for every request and every websocket handshake: the Host header is one of ours (else a foreign
name that resolves to this computer could be used to reach it); what changes anything, and every websocket, has
this page's own Origin; then who it is, which the gate says.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from random import Random, SystemRandom
from typing import Any

from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rodtrue.page.access import entry, origins
from rodtrue.page.access.gate import AccessSettings, Gate, peer_of
from rodtrue.page.access.plain_log import keep_logs_plain
from rodtrue.page.access.rights import Viewer

SERVER_OPTIONS: dict[str, Any] = {
    "access_log": False,
    "proxy_headers": False,
    "server_header": False,
    "http": "rodtrue.page.access.connections:RationedConnection",
    "ws_max_size": 1 << 20,
}
"""What the server must be started with, and a log level of `warning`: what was asked for stands in no log, no
header is believed to name the peer, and nobody holds more connections, or sends larger words, than the page needs."""

_VIEWER = "rodtrue.viewer"
_READING = ("GET", "HEAD")
_SESSION_OVER = 4401
_PAGE_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws://{host}; object-src 'none'; "
    "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
"""The page's own framework needs inline scripts and eval; nothing may come from or go to anywhere else."""


def install_access(
    app: Starlette,
    settings: AccessSettings,
    clock: Callable[[], float] = time.monotonic,
    random: Random | None = None,
) -> Gate:
    """Put the gate in front of an application (before it has started) and return it."""
    keep_logs_plain()
    gate = Gate(settings, clock, random or SystemRandom())
    app.add_middleware(AccessMiddleware, gate=gate)
    return gate


def viewer_of(connection: HTTPConnection) -> Viewer:
    """Return who makes a request or holds a websocket.

    Raises: KeyError where it did not come through the gate.
    """
    viewer: Viewer = connection.scope[_VIEWER]
    return viewer


def viewer_of_client(client: Any) -> Viewer:
    """Return who sits before one of NiceGUI's clients: local only if both its page and its socket are.

    Raises: KeyError where it did not come through the gate.
    """
    viewer = viewer_of(client.request)
    scope = (client.environ or {}).get("asgi.scope")
    return viewer if scope is None or scope[_VIEWER].local else scope[_VIEWER]


class AccessMiddleware:
    """Lets through whom the gate lets through. Plain ASGI: websockets pass it as well."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        self._app = app
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse or hand on one connection."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._websocket(scope, receive, send)
        else:
            await self._request(scope, receive, send)

    async def _request(self, scope: Scope, receive: Receive, send: Send) -> None:
        host = origins.host_of(Headers(scope=scope))
        guarded_send = _with_headers(send, _PAGE_POLICY.format(host=host))
        refusal = self._refusal(scope, host)
        if refusal is not None:
            await refusal(scope, receive, guarded_send)
            return
        viewer = self._gate.viewer_of_scope(scope)
        if viewer is None or scope["path"] in entry.PATHS:
            answer = await entry.answer(self._gate, scope, receive, peer_of(scope), viewer)
            await answer(scope, receive, guarded_send)
            return
        await self._app({**scope, _VIEWER: viewer}, receive, guarded_send)

    def _refusal(self, scope: Scope, host: str | None) -> Response | None:
        if host is None or not self._gate.knows_host(host):
            return PlainTextResponse("This computer does not serve a page by that name.", 421)
        headers = Headers(scope=scope)
        if scope["method"] in _READING:
            foreign = origins.comes_from_elsewhere(headers, host)
        else:
            foreign = not origins.is_own_origin(headers, host)
        return PlainTextResponse("Asked for by another site's page.", 403) if foreign else None

    async def _websocket(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        host = origins.host_of(headers)
        known = host is not None and self._gate.knows_host(host) and origins.is_own_origin(headers, host)
        viewer = self._gate.viewer_of_scope(scope) if known else None
        if viewer is None:
            await send({"type": "websocket.close", "code": _SESSION_OVER})
            return
        inner = {**scope, _VIEWER: viewer}
        if viewer.local:
            await self._app(inner, receive, send)
        else:
            watched = _WatchedSocket(self._gate, self._gate.session_of(scope), receive, send)
            await self._app(inner, watched.receive, watched.send)


class _WatchedSocket:
    """A remote viewer's websocket: nothing goes through it either way once their session is over."""

    def __init__(self, gate: Gate, session: str, receive: Receive, send: Send) -> None:
        self._gate, self._session = gate, session
        self._receive, self._send = receive, send
        self._closed = False

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "websocket.receive" and not self._gate.sessions.see(self._session):
            await self._close()
            return {"type": "websocket.disconnect", "code": _SESSION_OVER}
        return message

    async def send(self, message: Message) -> None:
        if self._closed:
            return
        if message["type"] == "websocket.close" or self._gate.sessions.is_open(self._session):
            await self._send(message)
        else:
            await self._close()

    async def _close(self) -> None:
        if not self._closed:
            self._closed = True
            await self._send({"type": "websocket.close", "code": _SESSION_OVER})


def _with_headers(send: Send, policy: str) -> Send:
    """Return a `send` that adds what every answer says, and takes away any leave for other sites to read it."""

    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name in [name for name in headers if name.startswith("access-control-")]:
                del headers[name]
            headers.setdefault("content-security-policy", policy)
            headers["x-content-type-options"] = "nosniff"
            headers["x-frame-options"] = "DENY"
            # Not `no-referrer`: with it a browser sends the Origin of a form as `null`.
            headers["referrer-policy"] = "same-origin"
        await send(message)

    return guarded
