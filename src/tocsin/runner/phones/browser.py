"""Open the board in this laptop's own browser, for who has no phone at hand.

The address goes into the browser's command line, where others on this laptop can read it: so it carries a secret that
works once and not for long, never a token.
"""

import os
import secrets
import sys
import threading
import webbrowser
from collections.abc import Callable

from tocsin.runner.phones.boards import Boards
from tocsin.service.messages import Grant
from tocsin.translation import tr
from tocsin.units import NS_PER_S

LOADS_NS = 60 * NS_PER_S               # so long a browser may take that has to be started first
_SECRET_BYTES = 16
_NONE = tr("no browser of this laptop opens by itself: `tocsin board --address steer` gives the address for one")


class Browser:
    """Opens the board once. ``opens`` takes an address and returns whether a browser took it; it may take long."""

    def __init__(self, opens: Callable[[str], bool] | None = None) -> None:
        self._opens = opens or open_in_window
        self._begun = False
        self._news: list[str] = []

    def turn(self, boards: Boards, now_ns: int) -> str:
        """Open the board as soon as there is one; return what is new for people, or an empty text."""
        if boards.address and not self._begun:
            self._begun = True
            grant = Grant(secret=secrets.token_urlsafe(_SECRET_BYTES), right="steer", until_ns=now_ns + LOADS_NS)
            boards.send(grant)
            threading.Thread(
                target=self._open, args=(f"{boards.address}#g={grant.secret}",), name="browser", daemon=True
            ).start()
        return self._news.pop() if self._news else ""

    def _open(self, address: str) -> None:
        try:
            taken = self._opens(address)
        except (OSError, webbrowser.Error):
            taken = False
        self._news.append(tr("the board opens in the browser of this laptop") if taken else _NONE)


def open_in_window(address: str) -> bool:
    """Open an address in the system's browser; return whether one took it. One that would take this terminal is none,
    unless BROWSER names it."""
    named = bool(os.environ.get("BROWSER"))
    windows = sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )
    if not (windows or named):
        return False
    found = webbrowser.get()
    in_terminal = isinstance(found, webbrowser.GenericBrowser) and not isinstance(found, webbrowser.BackgroundBrowser)
    return found.open(address) if named or not in_terminal else False
