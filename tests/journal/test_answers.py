"""What people answered tonight: for whom and how long it holds, and where it stands."""

import stat

import pytest

from tocsin.journal.answers import Answers, forget_answers
from tocsin.journal.place import ANSWERS_NAME

LIGHT, FIELD = "Is flashing light safe for everybody here?", "Is the field empty?"


def at(time, day="2031-03-01"):
    return lambda: f"{day}T{time}:00.000Z"


def kept(runs, people, time, question=LIGHT, day="2031-03-01", session=""):
    Answers(runs, people, at(time, day)).keep(question, session)


def known(runs, people, time, question=LIGHT, day="2031-03-01", session=""):
    return Answers(runs, people, at(time, day)).known(question, session)


def played(runs, day, time):
    (runs / f"{day}_{time.replace(':', '-')}-00.000Z").mkdir(parents=True)


def test_nobody_is_asked_twice_in_an_evening_and_everybody_in_the_next(tmp_path):
    assert not known(tmp_path, ["ann"], "18:00")
    kept(tmp_path, ["ann", "ben"], "18:00")
    assert known(tmp_path, ["ann", "ben"], "18:00")
    assert known(tmp_path, ["ben"], "21:59"), "fewer people are no new ones"
    assert known(tmp_path, [], "21:59"), "whoever is not named is one of those that are here"
    assert not known(tmp_path, ["ann"], "22:00"), "four hours with nothing played end an evening"
    assert not known(tmp_path, ["ann"], "18:00", FIELD), "another question"


@pytest.mark.parametrize("clock", ["17:30", "19:00"])
def test_somebody_new_is_asked_for_and_then_for_nobody_any_more(tmp_path, clock):
    """Also where the clock was set back meanwhile."""
    kept(tmp_path, ["ann"], "18:00")
    joined = Answers(tmp_path, ["ann", "dora"], at(clock))
    assert (joined.known(LIGHT), joined.asked_others(LIGHT)) == (False, True)
    joined.keep(LIGHT)
    assert (joined.known(LIGHT), joined.asked_others(LIGHT)) == (True, False)
    for people in (["ann"], ["dora"], ["ann", "dora"]):
        assert known(tmp_path, people, clock)
    assert not known(tmp_path, ["ann", "eve"], clock)


def test_an_answer_of_nobody_by_name_holds_until_somebody_is_named(tmp_path):
    kept(tmp_path, [], "18:00")
    assert known(tmp_path, [], "18:30")
    assert not known(tmp_path, ["ann"], "18:30")


def test_an_evening_lasts_as_long_as_runs_follow_each_other_also_over_midnight(tmp_path):
    kept(tmp_path, ["ann"], "20:00")
    played(tmp_path, "2031-03-01", "23:30")
    assert known(tmp_path, ["ann"], "03:00", day="2031-03-02")
    played(tmp_path, "2031-03-02", "18:00")
    assert not known(tmp_path, ["ann"], "19:00", day="2031-03-02"), "a run of today makes no yes of yesterday"


def test_what_holds_for_one_drill_says_nothing_of_another(tmp_path):
    kept(tmp_path, [], "18:00", FIELD, session="4f")
    assert known(tmp_path, [], "18:00", FIELD, session="4f")
    assert not known(tmp_path, [], "18:00", FIELD, session="5a")
    assert not known(tmp_path, [], "18:00", FIELD)


def test_answers_of_two_commands_at_once_all_stay(tmp_path):
    one, other = Answers(tmp_path, ["ann"], at("18:00")), Answers(tmp_path, ["ben"], at("18:01"))
    one.keep(LIGHT)
    other.keep(LIGHT)
    other.keep(FIELD)
    assert known(tmp_path, ["ann", "ben"], "18:02")
    assert known(tmp_path, ["ben"], "18:02", FIELD)


@pytest.mark.parametrize(
    "data", [b"", b"{}", b"[1]", b"\xff", b'{"answers": [{"question": "x", "wall": "noon"}]}', b"[" * 9999]
)
def test_a_broken_file_asks_again_and_is_written_anew(tmp_path, data):
    (tmp_path / ANSWERS_NAME).write_bytes(data)
    assert not known(tmp_path, [], "18:00")
    kept(tmp_path, [], "18:00")
    assert known(tmp_path, [], "18:00")


def test_it_is_closed_to_others_and_old_answers_leave_it(tmp_path):
    kept(tmp_path / "runs", ["ann"], "18:00")
    file = tmp_path / "runs" / ANSWERS_NAME
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    kept(tmp_path / "runs", ["ben"], "18:00", FIELD, day="2031-03-02")
    assert "ann" not in file.read_text("utf-8")


def test_a_person_who_is_forgotten_stands_there_no_more(tmp_path):
    kept(tmp_path, ["ann", "ben"], "18:00")
    assert forget_answers(tmp_path, "ann")
    assert "ann" not in (tmp_path / ANSWERS_NAME).read_text("utf-8")
    assert known(tmp_path, ["ben"], "18:00")
    assert not forget_answers(tmp_path, "ann")
    assert not forget_answers(tmp_path / "nowhere", "ann")
