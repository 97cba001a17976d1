"""What a scribe reads back: the mark that was noted, how long it lasted, what was taken back."""

import pytest

from tests.support.model.lifecycle_games import MARKED
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.journal.records import marks_of
from tocsin.model.mark import standing
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.match.match import Match
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.match.scribe import Scribe
from tocsin.runner.outcome import Done, Refused
from tocsin.units import NS_PER_S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
BEGIN_NS = 900 * NS_PER_S


@pytest.fixture
def match(tmp_path):
    """Return a match of which a minute is over."""
    record = RunRecord(tmp_path, Heading(options={}, label="", files=()))
    found = Match(TIMELINE, Start(by="countdown"), Point(MATCH, 0), 1.0, record)
    assert isinstance(found.press_start(BEGIN_NS, BEGIN_NS), Done)
    return found


def at(seconds):
    return BEGIN_NS + round((60 + seconds) * NS_PER_S)


def pressed(scribe, match, label, begin_s, end_s, source="key"):
    return scribe.mark(match, at(end_s), label, at(begin_s), at(end_s), source)


def held(match):
    """Return what stands: what was said, and where that came from."""
    return [(mark.label, mark.source) for mark in standing(marks_of(match.record.kept))]


@pytest.mark.parametrize(
    ("label", "lasts_s", "noted"),
    [("contact", 0.05, "contact noted"), ("contact", 1.23, "contact noted, 1.2 s"), ("our_way", 0, "our way noted")],
)
def test_mark_is_read_back(match, label, lasts_s, noted):
    assert pressed(Scribe(), match, label, 0, lasts_s) == Done(noted, briefly=True)


def test_tapping_on_is_read_back_as_less(match):
    scribe = Scribe()
    assert [pressed(scribe, match, "home", s, s).told for s in (0, 0.5, 1.0)] == [
        "home noted", "home half noted", "home none noted"
    ]  # fmt: skip


def test_another_robot_at_home_is_no_second_tap_and_is_left_alone(match):
    scribe = Scribe()
    said = [pressed(scribe, match, *one).told for one in (
        ("home", 0, 0), ("home_by_partner", 0.4, 0.4), ("home", 0.8, 0.8)
    )]  # fmt: skip
    assert said == ["home noted", "home by partner noted", "home half noted"]
    marks = marks_of(match.record.kept)
    assert [(mark.label, mark.by) for mark in standing(marks)] == [("home", "partner"), ("home_half", "")]


def test_what_is_taken_back_is_named(match):
    scribe = Scribe()
    pressed(scribe, match, "contact", 0, 0)
    assert scribe.undo(match, at(2), "key") == Done("undone: contact 76.0 s before the end", briefly=True)
    assert scribe.undo(match, at(3), "key") == Refused("there is no mark to take back")


def test_of_what_is_taken_back_it_is_said_whose_it_was(match):
    scribe = Scribe()
    pressed(scribe, match, "contact", 0, 0)
    pressed(scribe, match, "home_half_by_partner", 64, 64)
    assert scribe.undo(match, at(65), "key").told == "undone: home half by partner 12.0 s before the end"


def test_a_key_that_tells_no_key_up_is_noted_as_one(match):
    scribe = Scribe()
    assert scribe.mark(match, at(1), "contact", at(1), None, "key") == Done("contact noted", briefly=True)
    pressed(scribe, match, "contact", 2, 2)
    assert [mark.pointlike for mark in marks_of(match.record.kept)] == [True, False]


@pytest.mark.parametrize(
    ("after_s", "told"),
    [(-1, "home noted"), (0.8, "home noted"), (0.9, "home noted, 0.9 s after the end"),
     (1.9, "home noted, 1.9 s after the end")],
)
def test_a_mark_behind_the_end_is_taken_and_said_to_lie_there(match, after_s, told):
    """Everything ends at 140 s of the match; less than 0.8 s is how late a scribe may be."""
    match.follow(at(79.5))
    match.follow(at(81))
    assert pressed(Scribe(), match, "home", 80 + after_s, 80 + after_s).told == told


def test_mark_that_does_not_apply_is_refused(match):
    match.scrap(at(0))
    assert isinstance(pressed(Scribe(), match, "contact", 1, 1), Refused)


def test_two_who_each_tap_home_once_have_said_home(match):
    scribe = Scribe()
    for source, at_s in (("key 9", 0), ("board 1", 0.4), ("board 2", 0.7)):
        assert pressed(scribe, match, "home", at_s, at_s, source).told == "home noted"
    assert held(match) == [("home", "key 9"), ("home", "board 1"), ("home", "board 2")]


def test_tapping_on_takes_the_place_of_ones_own_mark_alone(match):
    scribe = Scribe()
    pressed(scribe, match, "home", 0, 0, "board 1")
    pressed(scribe, match, "home", 0.3, 0.3, "key 9")
    assert pressed(scribe, match, "home", 0.8, 0.8, "board 1").told == "home half noted"
    assert pressed(scribe, match, "home", 1.2, 1.2, "key pad.coach.2").told == "home half noted", "the laptop is one"
    assert held(match) == [("home_half", "board 1"), ("home_half", "key pad.coach.2")]


def test_taps_that_come_over_the_air_in_another_order_say_the_same(match):
    scribe = Scribe()
    for at_s in (0.5, 0):
        scribe.mark(match, at(1), "home", at(at_s), at(at_s), "board 1")
    assert held(match) == [("home_half", "board 1")]


def test_each_takes_back_their_own_newest_mark(match):
    scribe = Scribe()
    for source, at_s in (("board 1", 0), ("key 7", 1), ("board 1", 2), ("board 2", 3)):
        pressed(scribe, match, "contact", at_s, at_s, source)
    assert scribe.undo(match, at(4), "board 1").told == "undone: contact 74.0 s before the end"
    assert scribe.undo(match, at(4), "key z").told == "undone: contact 75.0 s before the end"
    assert scribe.undo(match, at(4), "key z") == Refused("you have no mark to take back; each takes back their own")
    assert scribe.undo(match, at(4), "board 1").told == "undone: contact 76.0 s before the end"
    assert held(match) == [("contact", "board 2")]
    assert [mark.source for mark in marks_of(match.record.kept) if mark.takes_back is not None] == [
        "board 1", "key z", "board 1"
    ]  # fmt: skip


def test_who_takes_home_back_says_home_anew_and_nobody_elses_taps_end(match):
    scribe = Scribe()
    for source in ("board 1", "board 2"):
        pressed(scribe, match, "home", 0, 0, source)
    scribe.undo(match, at(0.2), "board 1")
    assert pressed(scribe, match, "home", 0.5, 0.5, "board 1").told == "home noted"
    assert pressed(scribe, match, "home", 0.5, 0.5, "board 2").told == "home half noted"


@pytest.mark.parametrize(
    ("second", "origins"), [("board 1", 1), ("key 6", 2)], ids=["another scribe's", "the same scribe's"]
)
def test_a_window_begins_once_with_what_two_scribes_mark(tmp_path, second, origins):
    record = RunRecord(tmp_path, Heading(options={}, label="", files=()))
    match = Match(MARKED, Start(by="countdown"), Point(MATCH, 0), 1.0, record)
    match.press_start(BEGIN_NS, BEGIN_NS)
    scribe = Scribe()
    for source, at_s in (("key 5", 0), (second, 0.4)):
        pressed(scribe, match, "swap", at_s, at_s, source)
    assert _begins_ns(match) == [at(0), at(0.4)][:origins]
    pressed(scribe, match, "swap", 20, 20, second)
    assert _begins_ns(match) == [*[at(0), at(0.4)][:origins], at(20)]


def _begins_ns(match):
    """Return when the marks came with which windows begin."""
    found = {one.instance: one.origin_ns for one in match.record.kept
             if isinstance(one, records.OriginRecord) and one.anchor == "mark.swap"}  # fmt: skip
    return [found[instance] for instance in sorted(found)]
