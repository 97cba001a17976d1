"""The board in this laptop's own browser: opened once, by a secret that works once."""

import threading
import webbrowser

import pytest

from tocsin.runner.phones.boards import Boards
from tocsin.runner.phones.browser import LOADS_NS, Browser, open_in_window
from tocsin.service.messages import Grant, Tokens

NOW_NS = 5_000_000_000_000
ADDRESS = "http://127.0.0.1:8737/"


class Tried:
    """Boards that are served on this laptop, and a browser that does as it is told."""

    def __init__(self, outcome=True):
        self.sent, self.opened = [], []
        self.boards = Boards(wanted=True, on=True, tokens=Tokens(watch="w" * 22, mark="m" * 22, steer="s" * 22))
        self.boards.send = self.sent.append
        self.outcome = outcome
        self.browser = Browser(self.open)

    def open(self, address):
        self.opened.append(address)
        if isinstance(self.outcome, Exception):
            raise self.outcome
        return self.outcome

    def told(self):
        """Return all that is told until the browser has answered."""
        told = [self.browser.turn(self.boards, NOW_NS)]
        for thread in threading.enumerate():
            if thread.name == "browser":
                thread.join(10)
        return "".join([*told, self.browser.turn(self.boards, NOW_NS)])


def test_it_opens_once_there_is_an_address_with_a_secret_in_place_of_a_token():
    """The address stands in the browser's command line, where others on this laptop can read it."""
    tried = Tried()
    assert tried.browser.turn(tried.boards, NOW_NS) == ""
    assert (tried.sent, tried.opened) == ([], [])
    tried.boards.address = ADDRESS
    assert tried.told() == "the board opens in the browser of this laptop"
    (grant,) = tried.sent
    assert grant == Grant(secret=grant.secret, right="steer", until_ns=NOW_NS + LOADS_NS)
    assert tried.opened == [f"{ADDRESS}#g={grant.secret}"]
    assert not {"w" * 22, "m" * 22, "s" * 22} & {tried.opened[0].partition("=")[2]}
    tried.boards.address = ""
    tried.browser.turn(tried.boards, NOW_NS)
    tried.boards.address = ADDRESS         # a service that is started anew
    assert tried.told() == ""
    assert len(tried.opened) == 1


@pytest.mark.parametrize("outcome", [False, OSError("no such file"), webbrowser.Error("no runnable browser")])
def test_where_none_opens_it_is_said_how_to_go_on(outcome):
    tried = Tried(outcome)
    tried.boards.address = ADDRESS
    assert "`tocsin board --address steer` gives the address" in tried.told()


def test_without_a_window_system_none_is_started_since_it_would_take_this_terminal(monkeypatch):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr(webbrowser, "get", lambda: pytest.fail("a browser is asked for"))
    assert open_in_window(ADDRESS) is False
