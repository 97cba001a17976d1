"""A match as a person in a terminal sees it."""

import sys

import pytest

from tests.support.stands.stand import wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]


@pytest.fixture
def seats(tmp_path):
    """Take seats; all of them are left at the end."""
    from tests.support.people.seat import Seat  # pseudo-terminals are POSIX only

    taken = []

    def take(*arguments, **keywords):
        taken.append(Seat(tmp_path, *arguments, **keywords))
        return taken[-1]

    yield take
    for seat in taken:
        seat.close()


def test_a_call_given_by_hand_is_counted_down_to_no_more(seats):
    """The bundled plan calls home 22 s before the end."""
    seat = seats("--from", "driver.end-33s", "--start", "now")
    wait_for(lambda: "HOME in " in seat.text, 60)
    seat.press("h")
    wait_for(lambda: "\u2502  HOME  " in seat.shown)
    called = len(seat.shown)
    wait_for(lambda: seat.shown[called:].count("next NO TOUCH in ") >= 2, 30)
    assert seat.shown[called:].count("next HOME in ") <= 1         # what was on its way as the key was pressed


def test_preflight_shows_on_the_terminal_and_names_what_it_tries(seats):
    """The rig for a first look has a loudspeaker, here SDL's disk driver, and the terminal in place of a window."""
    seat = seats("--from", "driver.end-45s")
    wait_for(lambda: "Press " in seat.shown, 60)
    seat.press("t")
    wait_for(lambda: "│  TEST  " in seat.shown)
    wait_for(lambda: "trying screen, sound: seen, heard?" in seat.shown)
    before = len(seat.shown)
    seat.press("s")
    wait_for(lambda: seat.shown[before:].count("Match begins in") >= 3)
    counting = seat.shown[seat.shown.index("Match begins in", before) :]
    assert "trying" not in counting
    assert "TEST" not in counting


def test_marks_are_read_back(seats):
    seat = seats("--from", "driver.end-100s", "--start", "now")
    wait_for(lambda: "Hands on" in seat.shown, 60)
    seat.press("7")
    wait_for(lambda: "contact noted" in seat.shown)
    seat.press("a")
    wait_for(lambda: "undone: contact" in seat.shown)


def test_a_refusal_goes_with_what_it_is_about(seats):
    seat = seats("--from", "driver.end-100s", "--start", "key")
    wait_for(lambda: "Press " in seat.shown, 60)
    wait_for(lambda: seat.press("s") or "Match begins in" in seat.shown)
    seat.press("q")
    wait_for(lambda: "cancel the match before you leave" in seat.shown)
    seat.press("x")
    wait_for(lambda: "press x again within 2 s to cancel" in seat.shown)
    seat.press("xx")
    wait_for(lambda: "Match cancelled." in seat.shown)
    assert "cancel the match" not in seat.shown.split("Cancelled", 1)[1]


def test_each_nudge_says_how_far_the_clock_has_been_moved(seats):
    """Left: the match began earlier, the clock goes on by 0.2 s. Right: it goes back."""
    seat = seats("--from", "driver.end-100s", "--start", "now")
    wait_for(lambda: "Hands on" in seat.shown, 60)
    forward, back = ("D", "forward"), ("C", "back")
    steps = [(*forward, "+0.2"), (*forward, "+0.4"), (*back, "+0.2"), (*back, "+0.0"), (*back, "-0.2")]
    for key, way, whole in steps:
        seat.press(f"\x1b[{key}")
        wait_for(lambda way=way, whole=whole: f"clock 0.2 s {way}, {whole} s in all" in seat.shown)


def test_what_a_no_was_answered_goes_with_the_next_answer(seats):
    """The safety questions of a drill: a no says why no round begins, the yes that follows takes that away."""
    seat = seats("turn", command="drill")
    wait_for(lambda: "n: no" in seat.shown, 60)
    wait_for(lambda: seat.press("n") or "fix it, then answer yes" in seat.shown)
    said = len(seat.shown)
    wait_for(lambda: seat.press("y") or "Nobody on the field?" in seat.shown[said:])
    assert "fix it, then answer yes" not in seat.shown.split("Nobody on the field?", 1)[1]


def test_a_drill_in_a_terminal_says_before_and_in_a_round_that_it_marks_no_spans(seats):
    seat = seats("break_off", command="drill")
    told = "Press 7 as a contact begins; its end only a phone or a video tells"
    wait_for(lambda: told in seat.shown, 60)
    wait_for(lambda: seat.press("y") or "Nobody on the field?" in seat.shown)
    wait_for(lambda: seat.press("f") or "count-in" in seat.shown)
    said = len(seat.shown)
    wait_for(lambda: seat.press("s") or "begins in" in seat.shown[said:])
    wait_for(lambda: told in seat.shown[said:])
    assert "7 Contact    8 Turned    9 Home" in seat.shown[said:]
