"""Judge who may come in: tokens, names of this laptop, pages of others, and how often."""

import hmac
from collections import OrderedDict
from collections.abc import Hashable, Iterable

from tocsin.units import NS_PER_S

MOST_PEERS = 1000                      # whoever invents peers must not fill the memory


class Buckets:
    """Room for ``size`` things a peer, of which one comes back each ``each_ns``. Time is an argument."""

    def __init__(self, size: int, each_ns: int) -> None:
        self._size = size
        self._each_ns = each_ns
        self._full_ns: OrderedDict[Hashable, int] = OrderedDict()      # when a peer has all its room again

    def wait_s(self, peer: Hashable, now_ns: int) -> int:
        """Return after how many whole seconds a peer has room again, 0 if it has now."""
        until_ns = self._full_ns.get(peer, now_ns) - (self._size - 1) * self._each_ns
        return max(0, -(-(until_ns - now_ns) // NS_PER_S))

    def take(self, peer: Hashable, now_ns: int) -> int:
        """Take one from a peer's room, if there is any; return as ``wait_s``."""
        wait_s = self.wait_s(peer, now_ns)
        if not wait_s:
            self._full_ns[peer] = max(now_ns, self._full_ns.get(peer, now_ns)) + self._each_ns
            self._full_ns.move_to_end(peer)
            if len(self._full_ns) > MOST_PEERS:
                self._full_ns.popitem(last=False)
        return wait_s


def which(shown: str, secrets: Iterable[str]) -> int | None:
    """Return the place of the secret that was shown, None for none; it takes as long for each, right or wrong."""
    found = None
    given = shown.encode("utf-8", "replace")
    for place, secret in enumerate(secrets):
        if hmac.compare_digest(given, secret.encode()) and secret:
            found = place
    return found


def host_name(host: str) -> str:
    """Return the name in a ``Host`` header in lower case, without port and brackets; empty if it is none."""
    name, port = host, ""
    if host.startswith("["):
        name, bracket, rest = host[1:].partition("]")
        if not bracket or (rest and not rest.startswith(":")):
            return ""
        port = rest[1:]
    elif ":" in host:
        name, _, port = host.partition(":")
    return name.lower() if not port or (port.isascii() and port.isdigit()) else ""


def is_own_page(origin: str, host: str) -> bool:
    """Return whether a request's ``Origin`` is the board that this service itself gave out."""
    return origin.lower() == f"http://{host.lower()}"
