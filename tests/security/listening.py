"""A really running `rodtrue page --listen`, and what no well-behaved browser would send it.

The tests speak to it from this computer's own network address, so that it sees a peer that is not loopback.
"""

from __future__ import annotations

import json
import os
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from websockets.sync.client import connect

from bench.study.page_driver import PageProcess, page_process
from rodtrue.page.access import shop_addresses

PATIENCE_S = 30.0


@dataclass
class Bench:
    """A running page. code: what its terminal said. network: address and port as the shop sees them."""

    process: PageProcess
    code: str
    network: tuple[str, int]

    @property
    def loopback(self) -> tuple[str, int]:
        return "127.0.0.1", self.network[1]

    def said(self) -> str:
        """What it has written on standard error so far."""
        return self.process.log.read_text()


@contextmanager
def listening(folder: Path, *arguments: str) -> Iterator[Bench]:
    """Run a page open to the network. Without a network address the test is skipped, aloud."""
    if not shop_addresses():
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail("this computer has no network address, and RODTRUE_REQUIRE_REAL=1")
        pytest.skip("this computer has no network address: the page was not attacked over one")
    with page_process(folder / "out", "--port", "virtual", "--listen", *arguments) as process:
        code = next(found.group(1) for line in process.said if (found := re.search(r"code: (\S+)", line)))
        port = int(process.address.rstrip("/").rpartition(":")[2])
        yield Bench(process, code, (shop_addresses()[0], port))


@dataclass
class Answer:
    """What came back. head: the status line and headers as they stand."""

    status: int
    head: str
    body: str

    def header(self, name: str) -> str:
        found = re.search(rf"^{name}: (.*)$", self.head, re.IGNORECASE | re.MULTILINE)
        return found.group(1).strip() if found else ""


def send(address: tuple[str, int], content: bytes) -> Answer:
    """Send these bytes and read to the end of the connection, or of an answer of known length."""
    with socket.create_connection(address, timeout=PATIENCE_S) as line:
        line.sendall(content)
        got = b""
        while piece := line.recv(1 << 16):
            got += piece
            if _whole(got):
                break
    head, _, body = got.decode("utf-8", "replace").partition("\r\n\r\n")
    status = int(head.split()[1]) if head else 0
    return Answer(status, head.replace("\r\n", "\n"), body)


def _whole(got: bytes) -> bool:
    head, separator, body = got.partition(b"\r\n\r\n")
    length = re.search(rb"content-length: (\d+)", head, re.IGNORECASE)
    return bool(separator) and length is not None and len(body) >= int(length.group(1))


def ask(address: tuple[str, int], target: str, *headers: str, method: str = "GET", body: str = "") -> Answer:
    """Send one request with just these headers."""
    lines = [f"{method} {target} HTTP/1.1", *headers, "Connection: close"]
    if body:
        lines += ["Content-Type: application/x-www-form-urlencoded", f"Content-Length: {len(body)}"]
    return send(address, ("\r\n".join(lines) + "\r\n\r\n" + body).encode("latin-1"))


def host(address: tuple[str, int]) -> str:
    return f"Host: {address[0]}:{address[1]}"


def origin(address: tuple[str, int]) -> str:
    return f"Origin: http://{address[0]}:{address[1]}"


def enter(bench: Bench, **fields: str) -> Answer:
    """Post the entry form over the network, as its own page would."""
    there = bench.network
    return ask(there, "/enter", host(there), origin(there), method="POST", body=urlencode(fields))


def cookie_of(answer: Answer) -> str:
    """Return the Cookie header that a browser would send from now on."""
    return "Cookie: " + answer.header("set-cookie").partition(";")[0]


@dataclass
class Hand:
    """One who holds the page's own socket and sends events by hand. elements: as the page describes them."""

    socket: Any
    client: str
    elements: dict[str, dict[str, Any]] = field(default_factory=dict)

    def texts(self) -> str:
        return " ".join(str(element.get("text") or "") for element in self.elements.values())

    def fire(self, element: str, listener: str, *arguments: object) -> None:
        """Send an event as the page's script would, whether or not anything of it is to be seen."""
        self.emit(
            "event",
            {
                "id": int(element),
                "client_id": self.client,
                "listener_id": listener,
                "args": [json.dumps(argument) for argument in arguments],
            },
        )

    def press(self, text: str) -> bool:
        """Press the key of these words. Returns whether there is one."""
        for number, element in self.elements.items():
            if element.get("text") == text and element.get("events"):
                self.fire(number, element["events"][0]["listener_id"])
                return True
        return False

    def emit(self, name: str, content: object) -> None:
        """Send anything under any name."""
        self.socket.send("42" + json.dumps([name, content]))

    def hear(self, seconds: float = 0.5) -> None:
        """Take in what the server says until it is silent for so long."""
        while True:
            try:
                said = self.socket.recv(timeout=seconds)
            except TimeoutError:
                return
            if said == "2":
                self.socket.send("3")
            elif said.startswith('42["update"'):
                for number, element in json.loads(said[2:])[1].items():
                    if element is None:
                        self.elements.pop(number, None)
                    elif not number.startswith("_"):
                        self.elements[number] = element


@contextmanager
def hand(address: tuple[str, int], *headers: str) -> Iterator[Hand]:
    """Load the page and hold its socket. headers: a Cookie header, for one who has been let in."""
    page = ask(address, "/", host(address), *headers)
    assert page.status == 200, page.head
    client = re.search(r"'client_id': '([^']+)'|\"client_id\": ?\"([^\"]+)\"", page.body)
    described = re.search(r"String\.raw`(\{.*?\})`", page.body, re.DOTALL)
    assert client is not None and described is not None
    escaped = {"&#36;": "$", "&#96;": "`", "&gt;": ">", "&lt;": "<", "&amp;": "&"}
    text = described.group(1)
    for entity, character in escaped.items():
        text = text.replace(entity, character)
    name = client.group(1) or client.group(2)
    query = urlencode(
        {
            "client_id": name,
            "next_message_id": 0,
            "implicit_handshake": "true",
            "tab_id": "tab",
            "document_id": "document",
            "EIO": 4,
            "transport": "websocket",
        }
    )
    url = f"ws://{address[0]}:{address[1]}/_nicegui_ws/socket.io/?{query}"
    own = f"http://{address[0]}:{address[1]}"
    given = dict(header.split(": ", 1) for header in headers)
    with connect(url, origin=own, additional_headers=given, open_timeout=PATIENCE_S, max_size=None) as line:
        assert line.recv(timeout=PATIENCE_S).startswith("0")
        line.send("40")
        assert line.recv(timeout=PATIENCE_S).startswith("40")
        yield Hand(line, name, json.loads(text))


def encoded(text: str) -> str:
    """Return it as it stands in a path, everything encoded that may be."""
    return quote(text, safe="")
