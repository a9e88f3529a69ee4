"""A gated page as a real server in a process of its own, raw websocket handshakes, and a real browser."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

PAGE = Path(__file__).with_name("gated_page.py")
SHOP_NAME = "bench.test"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
LONGEST_S = 60.0


@dataclass
class Served:
    """A running server: what it gave out, and what it has said since."""

    port: int
    code: str
    links: list[str]
    cookie: str
    output: Path

    @property
    def here(self) -> str:
        return f"http://localhost:{self.port}"

    @property
    def shop(self) -> str:
        return f"http://{SHOP_NAME}:{self.port}"

    def said(self) -> str:
        return self.output.read_text()


@contextmanager
def served(folder: Path, **environment: str) -> Iterator[Served]:
    """Serve the page until the block ends."""
    port, given, output = _free_port(), folder / "given.json", folder / "output.txt"
    with output.open("w") as sink:
        process = subprocess.Popen(
            [sys.executable, str(PAGE), str(port), str(given)],
            cwd=folder,
            stdout=sink,
            stderr=subprocess.STDOUT,
            env={name: value for name, value in os.environ.items() if "PYTEST" not in name and "NICEGUI" not in name}
            | environment,
        )
        try:
            _wait_for(port, process)
            yield Served(port, output=output, **json.loads(given.read_text()))
        finally:
            process.terminate()
            process.wait(LONGEST_S)


def handshake(port: int, *headers: str, path: str = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket") -> int:
    """Return the status that answers a websocket handshake made by hand, with just these headers."""
    lines = [
        f"GET {path} HTTP/1.1",
        *headers,
        "Connection: Upgrade",
        "Upgrade: websocket",
        "Sec-WebSocket-Version: 13",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",  # the example of RFC 6455, 1.3
    ]
    with socket.create_connection(("127.0.0.1", port), timeout=LONGEST_S) as line:
        line.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return int(line.recv(64).split()[1])


@contextmanager
def chromium() -> Iterator:
    """A real browser, to which the shop's name means this computer. Without one the test is skipped, aloud."""
    if CHROMIUM is None:
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail("no Chromium on this computer, and RODTRUE_REQUIRE_REAL=1")
        pytest.skip("no Chromium on this computer: the page was not looked at in a real browser")
    from playwright.sync_api import sync_playwright

    quiet = ["background-networking", "component-update", "sync", "gpu"]
    arguments = ["--no-sandbox", f"--host-resolver-rules=MAP {SHOP_NAME} 127.0.0.1"]
    arguments += [f"--disable-{part}" for part in quiet]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
        try:
            yield browser
        finally:
            browser.close()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + LONGEST_S
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise AssertionError(f"the server ended with {process.returncode}")
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError("the server did not come up")
