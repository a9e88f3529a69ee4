"""The way in: a page that asks for the code, and the exchange of a code or token for a session.

Served before anything else is, from files beside this one; works without a script, except for a QR code's link,
whose token stands in the fragment, which no browser sends: a small script posts it.
"""

from __future__ import annotations

import asyncio
import html
import logging
from importlib.resources import files
from math import ceil
from urllib.parse import parse_qs

from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import Receive, Scope

from rodtrue.page.access.gate import ENTRY_PATH, Gate
from rodtrue.page.access.rights import Viewer
from rodtrue.page.access.sessions import LIFE_S

LEAVE = "/leave"
_FILES = {"/enter.css": "text/css", "/enter.js": "text/javascript"}
PATHS = {ENTRY_PATH, LEAVE, *_FILES}

_MOST_BYTES = 2048
_PATIENCE_S = 10.0
_FORM = "application/x-www-form-urlencoded"
_ENTRY_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
_HEADERS = {"content-security-policy": _ENTRY_POLICY, "cache-control": "no-store"}

log = logging.getLogger(__name__)


async def answer(gate: Gate, scope: Scope, receive: Receive, address: str, viewer: Viewer | None) -> Response:
    """Return the answer to a request for the way in, or for anything else by one not let in yet.

    viewer: None for such a one. address: of the peer.
    """
    request = Request(scope, receive)
    if viewer is None and not gate.settings.shop_names:
        return PlainTextResponse("This page is open at its own computer only.", 403)
    if request.url.path in _FILES:
        return Response(_file(request.url.path), media_type=_FILES[request.url.path], headers=_HEADERS)
    if request.url.path == LEAVE and request.method == "POST":
        return _leave(gate, scope)
    if viewer is not None:
        return RedirectResponse("/", 303)
    if request.url.path == ENTRY_PATH and request.method == "POST":
        return await _exchange(gate, request, address)
    if request.url.path == ENTRY_PATH and request.method in ("GET", "HEAD"):
        return _ask()
    if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
        return RedirectResponse(ENTRY_PATH, 303)
    return PlainTextResponse("Enter the access code first.", 401)


async def _exchange(gate: Gate, request: Request, address: str) -> Response:
    """Return a session for a right code or token. Nothing is compared while the address has to wait."""
    fields = await _form(request)
    if fields is None:
        return _ask("That was not the form of this page. Try again here.", status=400)
    token = fields.get("token", "")
    # A token's 128 bits are not to be guessed: who scanned the picture need not wait for what others guess at.
    wait_s = gate.attempts.wait_s(address, alone=bool(token))
    if wait_s > 0.0:
        return _too_soon(wait_s)
    right = gate.codes.use_token(token) if token else gate.codes.is_code(fields.get("code", ""))
    if not right:
        gate.attempts.wrong(address)
        log.warning("a wrong access code was entered from %s", address)
        what = "That link has been used or is too old." if token else "That code is wrong."
        return _ask(f"{what} The code stands on the page at the computer itself.", status=403)
    gate.attempts.right(address)
    gate.sessions.end(gate.session_of(request.scope))
    answer = RedirectResponse("/", 303, headers={"cache-control": "no-store"})
    # Not `secure`: the page is served without TLS, and a browser would never send such a cookie back.
    answer.set_cookie(gate.cookie, gate.sessions.begin(), max_age=int(LIFE_S), httponly=True, samesite="strict")
    log.info("a viewer at %s was let in", address)
    return answer


def _leave(gate: Gate, scope: Scope) -> Response:
    gate.sessions.end(gate.session_of(scope))
    answer = RedirectResponse(ENTRY_PATH, 303, headers={"cache-control": "no-store"})
    answer.delete_cookie(gate.cookie, httponly=True, samesite="strict")
    return answer


async def _form(request: Request) -> dict[str, str] | None:
    """Return the form's fields; None for what is no form, too large, or does not come."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != _FORM:
        return None
    body = b""
    try:
        async with asyncio.timeout(_PATIENCE_S):
            async for chunk in request.stream():
                body += chunk
                if len(body) > _MOST_BYTES:
                    return None
    except (TimeoutError, ClientDisconnect):
        return None
    try:
        given = parse_qs(body.decode("ascii"), keep_blank_values=True, max_num_fields=4)
    except ValueError:
        return None
    return {name: values[-1] for name, values in given.items()}


def _too_soon(wait_s: float) -> Response:
    seconds = ceil(wait_s)
    answer = _ask(f"Too many wrong codes. Wait {seconds} s, then try again.", status=429)
    answer.headers["retry-after"] = str(seconds)
    return answer


def _ask(said: str = "", status: int = 200) -> Response:
    page = _file("/enter.html").replace("{said}", html.escape(said))
    return Response(page, status, headers=_HEADERS, media_type="text/html")


def _file(path: str) -> str:
    return (files("rodtrue.page.access") / path.lstrip("/")).read_text("utf-8")
