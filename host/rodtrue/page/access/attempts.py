"""How often a wrong code may be tried: a wait that doubles, for each address and for all together."""

from __future__ import annotations

import ipaddress
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

FREE_FOR_ADDRESS, LONGEST_FOR_ADDRESS_S = 2, 900.0
FREE_FOR_ALL, LONGEST_FOR_ALL_S = 10, 60.0
"""Wrong tries without a wait, and the longest wait. In all it stays short: nobody shall lock the shop out."""

FORGOTTEN_AFTER_S = 3600.0
MOST_ADDRESSES = 1024


@dataclass
class _Tries:
    wrong: int = 0
    last_s: float = 0.0
    not_before_s: float = 0.0

    def add(self, now_s: float, free: int, longest_s: float) -> None:
        if now_s - self.last_s > FORGOTTEN_AFTER_S:
            self.wrong = 0
        self.wrong, self.last_s = self.wrong + 1, now_s
        doublings = self.wrong - free
        # The power is bounded before it is taken: the count has no bound.
        self.not_before_s = now_s + (min(longest_s, 2.0 ** min(doublings, 20)) if doublings >= 0 else 0.0)


class Attempts:
    """Counts wrong tries. clock: seconds that never go back."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._all = _Tries()
        self._by_address: OrderedDict[str, _Tries] = OrderedDict()

    def __len__(self) -> int:
        """How many addresses are remembered."""
        return len(self._by_address)

    def wait_s(self, address: str, *, alone: bool = False) -> float:
        """Return the seconds before this address may try again, 0 where it may now.

        alone: for its own wrong tries only, not for those of all together.
        """
        one = self._by_address.get(_network_of(address), _Tries())
        until_s = one.not_before_s if alone else max(one.not_before_s, self._all.not_before_s)
        return max(0.0, until_s - self._clock())

    def wrong(self, address: str) -> None:
        """Count a wrong try."""
        now_s, network = self._clock(), _network_of(address)
        one = self._by_address.setdefault(network, _Tries())
        self._by_address.move_to_end(network)
        one.add(now_s, FREE_FOR_ADDRESS, LONGEST_FOR_ADDRESS_S)
        self._all.add(now_s, FREE_FOR_ALL, LONGEST_FOR_ALL_S)
        if len(self._by_address) > MOST_ADDRESSES:
            self._by_address.popitem(last=False)

    def right(self, address: str) -> None:
        """Forget an address's wrong tries. Those of all together stay: others may have made them."""
        self._by_address.pop(_network_of(address), None)


def _network_of(address: str) -> str:
    """Return what one guesser can be held to: an IPv4 address, but of IPv6 the whole /64 one host has."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(parsed, ipaddress.IPv6Address):
        if parsed.ipv4_mapped is not None:
            return str(parsed.ipv4_mapped)
        return str(ipaddress.ip_network((parsed, 64), strict=False))
    return str(parsed)
