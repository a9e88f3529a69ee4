"""A TCP port on loopback that nobody listens on."""

import socket


def free_port() -> int:
    """Return one; between asking and using it another program may take it, which a test then says."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]
