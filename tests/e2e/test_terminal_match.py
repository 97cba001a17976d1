"""A match as a person in a terminal sees it."""

import sys

import pytest
from stand import wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]


@pytest.fixture
def seats(tmp_path):
    """Take seats; all of them are left at the end."""
    from seat import Seat  # pseudo-terminals are POSIX only

    taken = []

    def take(*arguments):
        taken.append(Seat(tmp_path, *arguments))
        return taken[-1]

    yield take
    for seat in taken:
        seat.close()


def test_a_call_given_by_hand_is_counted_down_to_no_more(seats):
    """The bundled plan calls home 24 s before the end."""
    seat = seats("--from", "driver.end-45s", "--start", "now")
    wait_for(lambda: "HOME in " in seat.text, 60)
    seat.press("h")
    wait_for(lambda: "\u2502  HOME  " in seat.shown)
    called = len(seat.shown)
    wait_for(lambda: seat.shown[called:].count("next KEEP OFF in ") >= 2, 30)
    assert seat.shown[called:].count("next HOME in ") <= 1         # what was on its way as the key was pressed
