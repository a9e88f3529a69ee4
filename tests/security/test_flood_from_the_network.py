"""A device of the shop's network that floods the page: the computer itself, and who comes with a code, go on."""

import contextlib
import resource
import socket

import pytest
from websockets.exceptions import WebSocketException
from websockets.sync.client import connect

from rodtrue.page.access.connections import MOST_OF_ONE_ADDRESS
from security.listening import PATIENCE_S, ask, cookie_of, enter, hand, host, listening

pytestmark = pytest.mark.slow
FEW_FILES = 256
"""What a desktop system may grant a process."""


@contextlib.contextmanager
def few_files():
    """Let a process started meanwhile have no more open files than a desktop system grants."""
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (FEW_FILES, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, before)


@contextlib.contextmanager
def page_with_few_files(folder):
    with contextlib.ExitStack() as stack:
        with few_files():
            bench = stack.enter_context(listening(folder))
        yield bench


def is_ended(line):
    """Whether the server closes this connection, waiting for it as long as it may take."""
    try:
        return line.recv(1) == b""
    except ConnectionError:
        return True


def test_connections_held_open_without_a_request_take_no_place_from_the_computer_itself(tmp_path):
    with page_with_few_files(tmp_path) as bench, contextlib.ExitStack() as stack:
        held = []
        for _ in range(2 * FEW_FILES):
            line = stack.enter_context(socket.create_connection(bench.network, timeout=PATIENCE_S))
            with contextlib.suppress(ConnectionError):
                line.sendall(b"GET / HTTP/1.1\r\n" + host(bench.network).encode() + b"\r\nX-Slow: ")
            held.append(line)
        assert ask(bench.loopback, "/", host(bench.loopback)).status == 200
        with hand(bench.loopback) as here:
            assert here.press("Begin")
            here.hear(2.0)
            assert "Caution 1 of" in here.texts()
        assert all(is_ended(line) for line in held)
        cookie = cookie_of(enter(bench, code=bench.code))
        assert ask(bench.network, "/", host(bench.network), cookie).status == 200


def test_a_head_that_never_ends_is_not_waited_for_and_a_second_one_neither(tmp_path):
    with listening(tmp_path) as bench, contextlib.ExitStack() as stack:
        lines = [stack.enter_context(socket.create_connection(bench.network, timeout=PATIENCE_S)) for _ in range(2)]
        lines[1].sendall(b"GET /enter HTTP/1.1\r\n" + host(bench.network).encode() + b"\r\n\r\n")
        assert lines[1].recv(1 << 16).startswith(b"HTTP/1.1 200")
        for line in lines:
            line.sendall(b"GET / HTTP/1.1\r\nX-Slow: ")
        for line in lines:
            while not is_ended(line):
                pass


def test_one_address_holds_no_more_connections_than_its_browser_needs(tmp_path):
    with listening(tmp_path) as bench, contextlib.ExitStack() as stack:
        there = "{}:{}".format(*bench.network)
        own = {"Cookie": cookie_of(enter(bench, code=bench.code)).removeprefix("Cookie: ")}
        opened = 0
        for _ in range(MOST_OF_ONE_ADDRESS + 8):
            with contextlib.suppress(OSError, EOFError, WebSocketException):
                live = connect(f"ws://{there}/live", origin=f"http://{there}", additional_headers=own)
                stack.enter_context(live)
                opened += 1
        assert MOST_OF_ONE_ADDRESS - 2 <= opened <= MOST_OF_ONE_ADDRESS
        assert ask(bench.loopback, "/", host(bench.loopback)).status == 200
