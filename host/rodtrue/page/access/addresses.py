"""By which addresses other devices of the shop reach this computer."""

from __future__ import annotations

import ipaddress
import socket

_DOCUMENTATION_ADDRESS = "192.0.2.1"  # RFC 5737: belongs to nobody
_DISCARD_PORT = 9


def shop_addresses() -> list[str]:
    """Return this computer's IPv4 addresses and its name, the likeliest first; empty where it has no network.

    Asks this computer only; nothing is sent.
    """
    found = [address for address in (_address_of_default_route(), *_addresses_of_name()) if address is not None]
    reachable = [address for address in found if not ipaddress.ip_address(address).is_loopback]
    return list(dict.fromkeys([*reachable, socket.gethostname().lower()])) if reachable else []


def _address_of_default_route() -> str | None:
    """Return the address that packets to the outside would bear: connecting a datagram socket sends none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((_DOCUMENTATION_ADDRESS, _DISCARD_PORT))
            return str(probe.getsockname()[0])
        except OSError:
            return None


def _addresses_of_name() -> list[str]:
    try:
        return [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        return []
