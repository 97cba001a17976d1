"""A match in a terminal: what stands in it after the picture, and that nothing is written into the picture."""

import signal
import sys

import pytest

from tests.support.stands.stand import wait_for

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]


@pytest.fixture
def seat(tmp_path):
    from tests.support.people.seat import Seat  # pseudo-terminals are POSIX only

    taken = Seat(tmp_path, "--from", "driver.end-10s", "--rate", "4")
    wait_for(lambda: "Standby" in taken.text, 60)
    yield taken
    taken.close()


def started(seat):
    """Press start until a count-in is seen that was not seen before: standby takes keys once every device is open."""
    before = len(seat.text)

    def begun():
        seat.press("s")
        return "Match begins in" in seat.text[before:]

    wait_for(begun)


def ended(tmp_path):
    """Return how many runs have an end in their journals."""
    return sum('"kind":"end"' in path.read_text("utf-8") for path in (tmp_path / "runs").glob("*/journal.jsonl"))


def only_in_the_frame(picture, words):
    """Return whether words that stand in the picture never begin a line of their own."""
    from tests.support.people.seat import plain

    return words not in [line.strip() for line in plain(picture.replace("\r", "\n")).split("\n")]


@pytest.mark.parametrize("way", ["left", "ctrl_c"])
def test_after_the_picture_the_summary_and_the_record_are_said(seat, tmp_path, way):
    started(seat)
    if way == "left":
        seat.press("xx")
        wait_for(lambda: "Match cancelled." in seat.text)
        seat.press("q")
    else:
        seat.process.send_signal(signal.SIGINT)
    code, picture, behind = seat.end()
    assert code == (0 if way == "left" else 130)
    (run,) = (tmp_path / "runs").iterdir()
    assert behind.lstrip("\n").startswith("Match cancelled.\n")
    assert f"Journal: {run}" in behind
    assert only_in_the_frame(picture, "Match cancelled.")


@pytest.mark.parametrize("way", ["q", "ctrl_c"])
def test_leaving_standby_scraps_no_match(seat, tmp_path, way):
    if way == "q":
        seat.press("q")
    else:
        seat.process.send_signal(signal.SIGINT)
    code, _, behind = seat.end()
    assert code == (0 if way == "q" else 130)
    assert behind.lstrip("\n").startswith("No match: you left in standby.\n")
    assert "scrapped" not in behind
    assert not list((tmp_path / "runs").glob("2*"))


def test_leaving_standby_by_ctrl_c_says_nothing_new_about_the_match_before_it(seat, tmp_path):
    started(seat)
    wait_for(lambda: ended(tmp_path) == 1, 30)
    wait_for(lambda: "NOT COUNTED" in seat.text, 30)
    shown = len(seat.text)
    seat.press("s")                                        # a result stands until somebody goes on
    wait_for(lambda: "Standby" in seat.text[shown:], 30)
    seat.process.send_signal(signal.SIGINT)
    code, _, behind = seat.end()
    assert code == 130
    assert behind.count("Match over. ") == 1
    assert "scrapped" not in behind
    assert "you left in standby" not in behind


def test_each_match_of_an_evening_is_summed_up(seat, tmp_path):
    for matches in (1, 2):
        started(seat)
        wait_for(lambda matches=matches: ended(tmp_path) == matches, 30)
    seat.press("q")
    code, picture, behind = seat.end()
    assert code == 0
    assert behind.count("Match over. ") == 2
    assert behind.count("Journal: ") == 2
    assert only_in_the_frame(picture, "Match over.")
