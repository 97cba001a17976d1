"""A match at a terminal ends with its result: in the picture, behind it, and in the list of runs alike."""

import sys

import pytest

from tests.support.stands.stand import wait_for
from tocsin.cli.main import main
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]

TOUCHED = "Not clean: a touch in No-touch time."


@pytest.fixture
def seat(tmp_path):
    from tests.support.people.seat import Seat  # pseudo-terminals are POSIX only

    taken = Seat(tmp_path, "--from", "driver.end-16s", "--rate", "2", "--screen", "terminal")
    wait_for(lambda: "Standby" in taken.shown)
    yield taken
    taken.close()


def test_a_match_that_a_person_marked_ends_with_its_result(seat, tmp_path, capsys):
    def journal():
        folders = run_folders(tmp_path / "runs")
        return read(folders[0]) if folders else None

    seat.press("s")
    wait_for(lambda: "0:14" in seat.shown)             # off the edge: the window was open as this began
    seat.press("7")
    wait_for(lambda: [mark.label for mark in journal().marks] == ["contact"])
    seat.press("9")
    wait_for(lambda: journal().end is not None)
    wait_for(lambda: "NOT COUNTED" in seat.shown)
    seen = len(seat.shown)
    seat.press("i")
    wait_for(lambda: TOUCHED in seat.shown[seen:])
    seat.press("q")
    code, _, behind = seat.end()
    assert code == 0
    head = "NOT COUNTED: the clock ran at 2 times its speed."
    told = behind[behind.index(head) :].replace("\n", " ")
    assert "Home " in told
    assert told.index(head) < told.index(TOUCHED)
    assert main(["runs", "--runs", str(tmp_path / "runs"), "--show", ""]) == 0
    shown = [line.strip() for line in capsys.readouterr().out.splitlines()]
    assert TOUCHED in shown
    assert all(line in told for line in shown[shown.index(TOUCHED) : shown.index(TOUCHED) + 4])
