"""Who may ask: tokens of programs, and patience with wrong ones."""

import hmac
import ipaddress
from collections.abc import Mapping

from parchd.clock import Clock

MOST_WRONG = 10
WINDOW_S = 60.0
MOST_REMEMBERED = 1000


class Patience:
    """Counts wrong tokens and links by the address they came from.

    After ten within a minute an address is heard no more until the minute is over. An IPv6 network of 64 bits counts
    as one address: it usually has one owner.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._wrong: dict[str, tuple[float, int]] = {}

    def wait_s(self, address: str) -> float:
        """How long an address must wait; 0: it may ask."""
        began_s, count = self._wrong.get(_network(address), (0.0, 0))
        return max(0.0, began_s + WINDOW_S - self._clock.monotonic_s()) if count >= MOST_WRONG else 0.0

    def wrong(self, address: str) -> None:
        """Count something wrong."""
        network, now_s = _network(address), self._clock.monotonic_s()
        began_s, count = self._wrong.pop(network, (now_s, 0))
        if now_s - began_s >= WINDOW_S:
            began_s, count = now_s, 0
        self._wrong[network] = (began_s, count + 1)
        while len(self._wrong) > MOST_REMEMBERED:
            del self._wrong[next(iter(self._wrong))]


def who(authorization: str, tokens: Mapping[str, str]) -> str | None:
    """The name of the program whose token this is; ``None``: nobody's.

    Each token is compared, and each in the same time, whatever was sent.

    >>> who("Bearer plum", {"plc": "plum"}), who("Bearer pear", {"plc": "plum"}), who("plum", {"plc": "plum"})
    ('plc', None, None)
    """
    scheme, _, sent = authorization.partition(" ")
    given = sent.strip().encode()
    right = [name for name, token in tokens.items() if hmac.compare_digest(token.encode(), given)]
    return right[0] if right and scheme.lower() == "bearer" else None


def _network(address: str) -> str:
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(parsed, ipaddress.IPv6Address) and parsed.ipv4_mapped is None:
        return str(ipaddress.IPv6Network((parsed, 64), strict=False))
    return address
