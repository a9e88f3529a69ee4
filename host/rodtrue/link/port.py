"""The serial port: found, opened exclusively, read, written. The only module that opens one.

Every trouble leaves as a FixtureError that names the port and says what to do.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterable
from dataclasses import dataclass
from types import TracebackType

import msgspec
import serial
from serial.tools import list_ports

from rodtrue.model.errors import FixtureError
from rodtrue.resources import room

_BAUD = 115_200  # a USB port ignores it; an adapter needs one
_WRITE_TIMEOUT_S = 1.0
_POLL_S = 0.003
_CHUNK = 4096


@dataclass(frozen=True)
class FoundPort:
    """A port whose USB identity is a fixture board's."""

    device: str
    description: str
    serial_number: str | None


def known_usb_identities() -> set[tuple[int, int]]:
    """Return the (vendor, product) numbers under which fixture boards appear, from the pin map."""
    table = msgspec.json.decode((room("hardware") / "pins.json").read_bytes())
    return {(int(row["vid"], 16), int(row["pid"], 16)) for row in table["usb"]}


def find_ports() -> list[FoundPort]:
    """Return the ports that carry a fixture board's USB identity. Sends nothing to any of them."""
    known = known_usb_identities()
    return [
        FoundPort(port.device, port.description or port.device, port.serial_number)
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
        if port.vid is not None and port.pid is not None and (port.vid, port.pid) in known
    ]


AUTO = "auto"
_UNIQUE_NUMBER = re.compile(r"[0-9a-fA-F]{16}")


def choose_port(found: Iterable[FoundPort], name: str = AUTO) -> str:
    """Return the device name that `name` stands for.

    name: `auto`, the only port found; a place in the list, from 1; a board's unique number; else a device name or
    URL, returned as it is.
    Raises: FixtureError where there is none, or, with `auto`, more than one.
    """
    ports = list(found)
    by_number = {port.serial_number.lower(): port.device for port in ports if port.serial_number}
    if name.lower() in by_number:
        return by_number[name.lower()]
    if name == AUTO:
        place = 1
    elif name.isdecimal() and len(name) < 4:
        place = int(name)
    elif _UNIQUE_NUMBER.fullmatch(name):
        place = 0
    else:
        return name
    if not ports:
        raise FixtureError(
            f"port {name}: no fixture board is connected (looked at USB identities only)",
            "Connect the board, name its port with --port, or try without hardware: --port virtual",
        )
    if name == AUTO and len(ports) > 1:
        raise FixtureError(
            f"port auto: {len(ports)} fixture boards are connected: {_listed(ports)}",
            "Name one of them: --port with its place in this list, its device, or its unique number, which stays.",
        )
    if not 1 <= place <= len(ports):
        raise FixtureError(
            f"port {name}: no such board among the {len(ports)} connected: {_listed(ports)}",
            "Name one of these: --port with its place in this list, its device, or its unique number.",
        )
    return ports[place - 1].device


def _listed(ports: list[FoundPort]) -> str:
    return "; ".join(
        f"{place}: {port.device} ({port.description}), {port.serial_number or 'no unique number'}"
        for place, port in enumerate(ports, start=1)
    )


class Port:
    """One open port, held exclusively.

    name: a device name, or a URL such as `socket://127.0.0.1:8714`.

    Raises: FixtureError from every call where the port is missing, held by another program, or gone.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self._read_bytes = 0
        self.sent_bytes = 0
        """How many bytes have been sent since the port was opened."""
        try:
            self._serial = serial.serial_for_url(
                name, baudrate=_BAUD, timeout=0, write_timeout=_WRITE_TIMEOUT_S, exclusive=True
            )
        except (serial.SerialException, OSError, ValueError, re.error) as error:
            # re.error: a URL may hold a pattern to look for ports by.
            raise _opening_failed(name, error) from error

    def read(self, wait_s: float = 0.0) -> bytes:
        """Return what has arrived; wait at most `wait_s` for the first byte. Empty: nothing came."""
        deadline = time.monotonic() + wait_s
        while True:
            try:
                data = self._serial.read(_CHUNK)
            except (serial.SerialException, OSError, TypeError) as error:
                # TypeError: what pyserial runs into where the port was closed under it.
                raise self._gone(error) from error
            if data or time.monotonic() >= deadline:
                self._read_bytes += len(data)
                return data
            time.sleep(_POLL_S)

    @property
    def arrived_bytes(self) -> int:
        """How many bytes have come since the port was opened, read or still waiting to be."""
        return self._read_bytes + self.unread_bytes

    @property
    def unread_bytes(self) -> int:
        """How many bytes have come and wait to be read."""
        try:
            return int(self._serial.in_waiting)
        except (serial.SerialException, OSError) as error:
            raise self._gone(error) from error

    def write(self, data: bytes) -> None:
        """Send all of `data`."""
        try:
            self._serial.write(data)
            self.sent_bytes += len(data)
        except serial.SerialTimeoutException as error:
            raise FixtureError(
                f"port {self.name}: takes no data (waited {_WRITE_TIMEOUT_S:g} s)",
                "Unplug the fixture, plug it in again and start over.",
            ) from error
        except (serial.SerialException, OSError) as error:
            raise self._gone(error) from error

    def close(self) -> None:
        """Give the port back. Closing twice is harmless."""
        self._serial.close()

    def __enter__(self) -> Port:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _gone(self, error: Exception) -> FixtureError:
        return FixtureError(
            f"port {self.name}: the fixture went away ({error})",
            "Check the cable and plug it in again; what was captured until then is kept.",
        )


def _opening_failed(name: str, error: Exception) -> FixtureError:
    reason = str(error)
    if "exclusively lock" in reason or "busy" in reason.lower() or "Access is denied" in reason:
        return FixtureError(
            f"port {name}: is held by another program",
            "Close the other program (a second Rodtrue, a terminal, an installer) and try again.",
        )
    if "No such file" in reason or ("could not open port" in reason and "FileNotFound" in reason):
        return FixtureError(
            f"port {name}: there is no such port",
            "List the fixtures with `rodtrue fixture list`, or use --port virtual.",
        )
    return FixtureError(
        f"port {name}: cannot be opened ({reason})",
        "Check the name, the cable and your permission to use serial ports; `rodtrue fixture list` "
        "shows connected fixtures.",
    )
