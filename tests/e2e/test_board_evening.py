"""A phone through a whole evening: one line from the first drill to the last word, also while none is played."""

import json
import sys
import threading
from types import SimpleNamespace

import httpx
import pytest

from tests.support.people.evening_seat import EveningSeat, project_in
from tests.support.people.phone import Phone, kept, service_of
from tests.support.service.event_stream import events_of
from tests.support.stands.stand import wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]
LOUD = "Is the sound so low that nobody jumps?"


class Listener:
    """Who listens from now on over one connection, by the token of the state folder; ``whole`` until that is cut."""

    def __init__(self, state):
        known = kept(state)
        self.whole, self._data = True, b""
        headers = {"Authorization": f"Bearer {known['tokens']['watch']}"}
        address = f"http://127.0.0.1:{known['port']}/api/1/events"
        self._stream = httpx.stream("GET", address, headers=headers, timeout=60)
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self):
        try:
            with self._stream as answer:
                for piece in answer.iter_raw():
                    self._data += piece
        except httpx.HTTPError:
            pass                           # cut: as it ends, it is not finished in good order
        self.whole = False

    @property
    def away(self):
        """The word while nothing is played, of the newest state."""
        return [json.loads(one.data)["away"] for one in events_of(self._data) if one.kind == "state"][-1]


@pytest.fixture
def seat(tmp_path, monkeypatch):
    monkeypatch.setenv("TOCSIN_PROJECT", str(project_in(tmp_path)))
    life = EveningSeat(tmp_path, "--board")
    yield life
    life.terminal.kill()


def test_one_service_stands_through_the_evening_and_says_what_goes_on(tmp_path, seat):
    seat.answer("Who is there?", "y")
    seat.answer(LOUD, "n")
    seat.answer("What now? b: begin Push", "b")
    phone = Phone(tmp_path / "state", SimpleNamespace(poll=lambda: seat.terminal.end(0)))
    number, served = phone.state["you"]["number"], service_of(seat.terminal.pid).pid
    listener = Listener(tmp_path / "state")
    seat.play_until("Rest as long as you like")
    wait_for(lambda: listener.away == "The drill is over: all rounds are played. "
                                      "The next drill is being set up at the laptop", 30)  # fmt: skip
    assert phone.can == []
    seat.press("g")
    seat.answer("What now? b: begin Turn", "b")
    wait_for(lambda: listener.away == "", 60)
    assert (phone.state["you"]["number"], service_of(seat.terminal.pid).pid) == (number, served)
    seat.play_until("All drills are behind you")
    wait_for(lambda: "is being set up" in listener.away, 30)
    assert listener.whole
    seat.press("e")
    seat.hear("The evening is over and kept")
    assert seat.terminal.end() == 0
    wait_for(lambda: not listener.whole, 30)
    assert listener.away == "The evening is over. Tocsin has ended on the laptop"
