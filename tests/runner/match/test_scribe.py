"""What a scribe reads back: the mark that was noted, how long it lasted, what was taken back."""

import pytest

from tocsin.config.load import load
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


def pressed(scribe, match, label, begin_s, end_s):
    return scribe.mark(match, at(end_s), label, at(begin_s), at(end_s), "key")


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
