"""What people read of a drill's rounds: the picture and its details, and at the end at most ten lines."""

import textwrap

import msgspec
import pytest

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, ns, push
from tocsin.analysis.rounds.picture import round_picture
from tocsin.analysis.rounds.result import PlayedRound, round_result
from tocsin.config.drills import load_drill
from tocsin.features.drills.crews import Crews
from tocsin.features.drills.reports import Reports
from tocsin.features.records.round_files import RoundFacts, Session
from tocsin.features.records.round_report import RoundReport
from tocsin.journal import records
from tocsin.model.drill import CREWS, Clean

FOUND = load_drill("break_off", "nothing")
RULE = Clean(keep_off=("no_contact",))
COLUMNS, MOST = 80, 10
FACTS = RoundFacts(name="break_off", key="k", seed=1, round=1, crew="A", battery=0, half_speed=False)
RECORDED = 1                           # where the journals are is one line more


def report(crew, ends_s):
    played = PlayedRound(marks=(push(110, ends_s),), origins=STARTED, ended_ns=ENDED_NS, error_ms=60)
    result = round_result(FOUNDRY, TIMELINE, played, RULE)
    return RoundReport(result=result, picture=round_picture(TIMELINE, played, RULE, result), crew=crew)


def reports(crews, ends_s=(115, 116.5, 119, 120, 117.6, 116, 115.1, 119, 121, 116, 116, 117)):
    roster = {crew: {"driver": crew.lower()} for crew in crews}
    past = [report(crew, end_s) for crew in crews for end_s in ends_s]
    return Reports(FOUND, Crews(FOUND.drill, Session(name="break_off", key="k", seed=1), roster), past)


def on_terminal(lines):
    return [row for line in lines for row in textwrap.wrap(line, COLUMNS)]


@pytest.mark.parametrize("crews", [CREWS[:1], CREWS[:2], CREWS])
def test_the_end_of_a_drill_is_ten_lines_at_most_what_matters_first(crews):
    found = reports(crews)
    fail(found, "light", "rumble", "screen", "sound")
    said = on_terminal(found.series(lambda crew: 0))
    assert len(said) + RECORDED <= MOST, said
    assert "Goal" in said[0]
    if len(crews) > 1:
        assert [line.split(":")[0] for line in said if line.startswith("Crew ")] == [f"Crew {crew}" for crew in crews]


def fail(found, *channels):
    """Let a round end in which calls failed on channels."""
    run = [
        records.FiringRecord(
            at_ns=ns(114), cue="home", n=0, channel=channel, role=None, anchor="match", due_ns=0, outcome="failed"
        )
        for channel in channels
    ]
    run += [records.OriginRecord(at_ns=ns(0), anchor="match", origin_ns=ns(0), rate=1.0, cause="start")]
    found.add([*run, records.End(at_ns=ENDED_NS, outcome="over", exit=1)], TIMELINE, FACTS)


def test_a_call_that_failed_is_said_at_once_in_place_of_the_picture_and_again_at_the_end():
    found = reports(("A",))
    assert found.picture("Break off") is not None
    fail(found, "light")
    assert found.picture("Break off") is None
    assert "The light failed to give a call: check it." in found.rows(0)
    assert found.series(lambda crew: 0)[-1] == "Calls failed: light in 1 round. `--devices` tells more."


def test_people_may_want_the_sentences_and_the_next_round_begins_with_the_picture():
    found = reports(("A",))
    found.details = True
    assert found.picture("Break off") is None
    fail(found)
    assert not found.details
    picture = found.picture("Break off, round 2")
    assert picture.title == "Break off, round 2"
    assert len(picture.series) == 13


def test_a_round_that_was_taken_out_is_no_dot_of_the_series():
    found = reports(("A",))
    found.take_out("wrong set-up")
    dots = len(found.picture("").series)
    fail(found)
    assert len(found.picture("").series) == dots, "the newest came, the one taken out went"


def test_the_series_in_the_picture_is_of_the_crew_that_played():
    found = reports(("A", "B"), ends_s=(115, 116))
    assert [round(dot.at_s, 1) for dot in found.picture("").series] == [-3.0, -2.0]
    assert msgspec.structs.asdict(found.picture("Title"))["title"] == "Title"
