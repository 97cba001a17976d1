"""Check which names may be opened as the port of a strip.

A rig may come from strangers. Its port must be a name that systems give to serial ports: no file, no terminal, no
device of another kind and no URL. Opening those could empty a file, start a watchdog, type into a terminal, or connect
this laptop to others.
"""

import re

AUTO = "auto"

_PORTS = re.compile(
    r"(?i:COM)[1-9][0-9]{0,2}"                                             # Windows
    r"|/dev/(?:cu|tty)\.[A-Za-z0-9_.-]+"                                   # macOS
    r"|/dev/(?:tty[A-Z][A-Za-z]{0,9}|ttymxc|rfcomm)[0-9]{1,3}"             # Linux; /dev/tty1, ttys001: terminals
    r"|/dev/serial/by-(?:id|path)/[A-Za-z0-9][A-Za-z0-9_.:,@+=-]*"         # Linux, names that stay
)
_STAND_IN = re.compile(r"socket://127\.0\.0\.1:[0-9]{1,5}")


def is_port(name: str) -> bool:
    """Return whether systems give such a name to serial ports; the port need not exist."""
    return _PORTS.fullmatch(name) is not None


def is_stand_in(name: str) -> bool:
    """Return whether a name is that of our own port that stands in for a strip; no file may use it."""
    return _STAND_IN.fullmatch(name) is not None


def likely_port(text: str) -> str:
    """Return the port that was probably meant, or an empty text.

    >>> likely_port("COM 5"), likely_port("ttyUSB0"), likely_port("loop://")
    ('COM5', '/dev/ttyUSB0', '')
    """
    tidy = re.sub(r"\s+", "", text).removeprefix("\\\\.\\")
    named = (tidy.upper(), tidy, f"/dev/{tidy}", AUTO if tidy.lower() == AUTO else "")
    return next((name for name in named if name == AUTO or is_port(name)), "")
