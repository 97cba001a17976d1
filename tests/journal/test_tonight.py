"""Where an evening stands: what is kept of it, how long it holds, and that nobody who is forgotten stays in it."""

import stat

import pytest

from tocsin.cli.main import main
from tocsin.errors import JournalError
from tocsin.journal.answers import Answers
from tocsin.journal.people import People
from tocsin.journal.place import ANSWERS_NAME, EVENING_NAME
from tocsin.journal.tonight import (
    PlannedDrill,
    Seat,
    Tonight,
    forget_tonight,
    keep_tonight,
    tonight_in,
)

BEGAN = "2031-03-01T18:00:00.000Z"


def evening():
    drill = PlannedDrill(name="turn", title="Turn", trains="turning", rounds=12, key="4f", seed=7, state="on")
    seats = [Seat(crew="A", role="driver", person="ann"), Seat(crew="B", role="driver", person="ben", here=False)]
    return Tonight(
        began=BEGAN, project="Bell crew", step="drill", seats=seats, devices={"strip": "confirmed"}, drills=[drill]
    )


def at(time, day="2031-03-01"):
    return f"{day}T{time}:00.000Z"


def test_it_is_read_back_as_it_was_kept_and_is_closed_to_others(tmp_path):
    keep_tonight(tmp_path, evening(), at("18:30"))
    found = tonight_in(tmp_path, at("18:31"))
    wanted = evening()
    wanted.touched = at("18:30")
    assert found == wanted
    assert found.roster == {"A": {"driver": "ann"}}, "only who is there"
    assert found.people == {"ann"}
    assert stat.S_IMODE((tmp_path / EVENING_NAME).stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == [EVENING_NAME], "written whole, with nothing left beside it"


@pytest.mark.parametrize(
    ("now", "is_on"),
    [(at("22:29"), True), (at("22:30"), False), (at("17:00"), True), (at("18:30", "2031-03-02"), False)],
)
def test_a_new_evening_begins_once_four_hours_have_passed(tmp_path, now, is_on):
    keep_tonight(tmp_path, evening(), at("18:30"))
    assert (tonight_in(tmp_path, now) is not None) == is_on


def test_rounds_that_are_played_keep_it_on(tmp_path):
    keep_tonight(tmp_path, evening(), at("18:30"))
    (tmp_path / "2031-03-01_22-00-00.000Z").mkdir()
    assert tonight_in(tmp_path, at("01:59", "2031-03-02")) is not None
    assert tonight_in(tmp_path, at("02:00", "2031-03-02")) is None


@pytest.mark.parametrize("data", [b"", b"{}", b"\xff", b'{"began": "x", "touched": "y"}', b"[" * 9999])
def test_a_broken_file_is_no_evening(tmp_path, data):
    (tmp_path / EVENING_NAME).write_bytes(data)
    assert tonight_in(tmp_path, at("18:31")) is None
    assert not forget_tonight(tmp_path, "ann")


def test_a_place_beyond_the_drills_is_no_evening(tmp_path):
    strange = evening()
    strange.place = 2
    keep_tonight(tmp_path, strange, at("18:30"))
    assert tonight_in(tmp_path, at("18:31")) is None


def test_a_person_who_is_forgotten_has_no_seat_any_more(tmp_path):
    keep_tonight(tmp_path, evening(), at("18:30"))
    assert forget_tonight(tmp_path, "ben")
    assert "ben" not in (tmp_path / EVENING_NAME).read_text("utf-8")
    assert tonight_in(tmp_path, at("18:31")).roster == {"A": {"driver": "ann"}}
    assert not forget_tonight(tmp_path, "ben")


def test_runs_forget_takes_a_person_out_of_the_evening_and_its_answers(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    key = People(tmp_path).keep("Ann")
    kept = evening()
    kept.seats[0].person = key
    keep_tonight(tmp_path, kept, at("18:30"))
    Answers(tmp_path, [key]).keep("Glasses on?")
    assert main(["runs", "--runs", str(tmp_path), "--forget", "Ann", "--yes"]) == 0
    kept_files = [tmp_path / name for name in (EVENING_NAME, ANSWERS_NAME)]
    assert not [path for path in kept_files if key in path.read_text("utf-8")], capsys.readouterr().out
    assert [seat.person for seat in tonight_in(tmp_path, at("18:31")).seats] == ["ben"]


def test_where_it_cannot_be_written_that_is_said_with_what_fixes_it(tmp_path):
    (tmp_path / "runs").write_text("a file", "utf-8")
    with pytest.raises(JournalError, match="cannot be written") as said:
        keep_tonight(tmp_path / "runs", evening(), at("18:30"))
    assert said.value.exit_code == 22
