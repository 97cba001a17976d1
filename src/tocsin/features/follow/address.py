"""Read the address that a follower is given: where the keeper's service listens, and the token that lets it in."""

from typing import NamedTuple
from urllib.parse import parse_qs, urlsplit

from tocsin.errors import UsageError
from tocsin.readable import readable_line
from tocsin.runner.boards.tokens import PORT
from tocsin.translation import tr

_EXAMPLE = "http://10.0.0.5:8737/#t=..."


class KeeperAddress(NamedTuple):
    """Where the keeper is, and the token."""

    host: str
    port: int
    token: str

    @property
    def place(self) -> str:
        """Where the keeper is, for people: without the token."""
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"


def address_of(text: str) -> KeeperAddress:
    """Return the address that a person typed: ``http://10.0.0.5:8737/#t=TOKEN``; ``http://`` and the port may be left
    out. Raises UsageError.

    >>> address_of("10.0.0.5#t=abc")
    KeeperAddress(host='10.0.0.5', port=8737, token='abc')
    """
    typed = text.strip()
    if "@" in typed:                                   # what stands before it may be a password: it is not printed
        raise UsageError(
            tr("a user or a password does not belong into a keeper's address"),
            hint=tr("a keeper lets in by the token behind #t=: leave out what stands before the @ and the @"),
        )
    try:
        parts = urlsplit(typed if "://" in typed else f"http://{typed}")
        host, port = parts.hostname or "", parts.port or PORT
    except ValueError:                                 # a port that is no number, half a bracket
        host, port, parts = "", 0, urlsplit("")
    if not host or parts.scheme != "http":
        raise UsageError(
            tr("'{text}' is not the address of a keeper", text=readable_line(typed.partition("#")[0])),
            hint=tr("it looks like {example}", example=_EXAMPLE),
        )
    token = next(iter(parse_qs(parts.fragment).get("t", ())), "")
    if not token:
        raise UsageError(
            tr("the address has no token behind #t="),
            hint=tr("on the keeper `tocsin board --address steer` prints the whole of it: {example}", example=_EXAMPLE),
        )
    return KeeperAddress(host, port, token)
