"""Where a request says it goes and comes from: Host, Origin, and the peer's address."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable

from starlette.datastructures import Headers

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")
_FORWARDERS = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
_HTTP_PORT = 80


def hosts_of(names: Iterable[str], port: int) -> frozenset[str]:
    """Return what a Host header may say for these names or addresses (IPv6 with or without brackets)."""
    hosts = set()
    for name in names:
        bracketed = f"[{name}]" if ":" in name and not name.startswith("[") else name
        hosts.add(f"{bracketed.lower()}:{port}")
        if port == _HTTP_PORT:
            hosts.add(bracketed.lower())
    return frozenset(hosts)


def host_of(headers: Headers) -> str | None:
    """Return what the Host header says, None unless there is exactly one."""
    given = headers.getlist("host")
    return given[0].lower() if len(given) == 1 else None


def is_own_origin(headers: Headers, host: str) -> bool:
    """Whether the Origin header names the very page that the Host header does: not `null`, not another name."""
    return headers.getlist("origin") == [f"http://{host}"]


def comes_from_elsewhere(headers: Headers, host: str) -> bool:
    """Whether a reading request was made by another site's page: by its Origin, or as its browser says itself.

    Following a link from elsewhere is not: that only opens the page.
    """
    if "origin" in headers:
        return not is_own_origin(headers, host)
    if headers.get("sec-fetch-site", "none") in ("none", "same-origin"):
        return False
    return headers.get("sec-fetch-mode") != "navigate" or headers.get("sec-fetch-dest") != "document"


def is_forwarded(headers: Headers) -> bool:
    """Whether something stands in between that passes requests on: its peer address is then not the viewer's."""
    return any(name in headers for name in _FORWARDERS)


def is_loopback(address: str) -> bool:
    """Whether a peer's address is this computer's own loopback."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return False
    mapped = parsed.ipv4_mapped if isinstance(parsed, ipaddress.IPv6Address) else None
    return (mapped or parsed).is_loopback
