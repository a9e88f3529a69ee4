"""Who is let in: the access code, entry links, sessions, and who a request's viewer is.

At this computer, through its loopback and a loopback name, nobody is asked. Anyone else needs a session. A
forwarded request is never local, whatever its peer address.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.types import Scope

from rodtrue.page.access import origins
from rodtrue.page.access.attempts import Attempts
from rodtrue.page.access.codes import Codes
from rodtrue.page.access.rights import Viewer
from rodtrue.page.access.sessions import Sessions

ENTRY_PATH = "/enter"


@dataclass(frozen=True)
class AccessSettings:
    """Where the page is served.

    shop_names: addresses and names by which the shop's network may ask for it; empty: this computer only.
    """

    port: int
    shop_names: tuple[str, ...] = ()

    @property
    def bind_address(self) -> str:
        """The address to listen on."""
        return "0.0.0.0" if self.shop_names else "127.0.0.1"


class Gate:
    """What the page and the terminal need of access: code, entry links, sessions.

    clock: seconds that never go back. random: the system's own, except in a test.
    """

    def __init__(self, settings: AccessSettings, clock: Callable[[], float], random: Random) -> None:
        self.settings = settings
        self.codes = Codes(clock, random)
        self.attempts = Attempts(clock)
        self.sessions = Sessions(clock, random)
        self.cookie = f"rodtrue_session_{settings.port}"  # cookies know no ports: two pages shall not share one
        self._loopback_hosts = origins.hosts_of(origins.LOOPBACK_NAMES, settings.port)
        self._hosts = self._loopback_hosts | origins.hosts_of(settings.shop_names, settings.port)

    @property
    def code(self) -> str:
        """The access code, for a person at this computer only."""
        return self.codes.code

    @property
    def addresses(self) -> list[str]:
        """The page's addresses on the shop's network; empty where it does not listen there."""
        return [f"http://{host}/" for host in self._shop_hosts()]

    def entry_link(self) -> str:
        """Return a link for a QR code: opens the page once, within ten minutes, without the code.

        Raises: IndexError where the page does not listen on the shop's network.
        """
        return f"http://{self._shop_hosts()[0]}{ENTRY_PATH}#{self.codes.new_token()}"

    def shut_out_all(self) -> None:
        """End every session, and replace code and entry links."""
        self.codes.renew()
        self.sessions.end_all()

    def knows_host(self, host: str | None) -> bool:
        """Whether a Host header names this page."""
        return host in self._hosts

    def viewer_of_scope(self, scope: Scope) -> Viewer | None:
        """Return who makes this request, None where they have not been let in."""
        headers, address = Headers(scope=scope), peer_of(scope)
        direct = origins.is_loopback(address) and not origins.is_forwarded(headers)
        if direct and origins.host_of(headers) in self._loopback_hosts:
            return Viewer(local=True, address=address)
        if not self.settings.shop_names or not self.sessions.see(self.session_of(scope)):
            return None
        return Viewer(local=False, address=address)

    def session_of(self, scope: Scope) -> str:
        """Return the session's name from the cookie, empty where there is none."""
        return HTTPConnection(scope).cookies.get(self.cookie, "")

    def _shop_hosts(self) -> list[str]:
        return [next(iter(origins.hosts_of((name,), self.settings.port))) for name in self.settings.shop_names]


def peer_of(scope: Scope) -> str:
    """Return the address of the peer the server itself sees."""
    client = scope.get("client")
    return str(client[0]) if client else ""
