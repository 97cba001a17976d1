"""Leads from a folder of runs: matches and rounds of the same game, as they were recorded."""

import msgspec
import pytest

from tocsin.app.measured_leads import measured_leads
from tocsin.app.options import ROUND
from tocsin.app.record import Heading, RunRecord
from tocsin.app.round_files import DROPPED, RoundFacts
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.units import NS_PER_S as S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
HOME = next(one for one in TIMELINE.firings if one.cue == "home" and one.channel == "light")
ORIGIN_NS = 5000 * S
CALL_NS = ORIGIN_NS + HOME.begin.offset_ns


def run(runs, number, took_s, *, outcome="over", half_speed=False, dropped=False, drill=True):
    """Record a run in which a push that the call found ended so long after it."""
    facts = RoundFacts(
        name="Break off", key="k", seed=1, round=number, crew="A", battery=number, half_speed=half_speed
    )
    options = {ROUND: msgspec.to_builtins(facts)} if drill else {}
    record = RunRecord(runs, Heading(options=options, label="", files=()))
    record.begin(ORIGIN_NS, f"2031-03-01T10:{number:02}:00.000Z", TIMELINE, ())
    record.add(records.Origin(at_ns=ORIGIN_NS, anchor="match", origin_ns=ORIGIN_NS, cause="start", error_ms=60))
    record.add(
        records.Firing(
            at_ns=CALL_NS, cue="home", n=0, channel="light", role=None, anchor="match", due_ns=HOME.begin.offset_ns,
            match_ns=HOME.match_ns, late_ns=0, took_ns=0, outcome="played", why="", no=HOME.no, instance=0,
        )
    )  # fmt: skip
    end_ns = CALL_NS + round(took_s * 10) * S // 10
    record.add(records.Mark(at_ns=end_ns, label="contact", begin_ns=CALL_NS - 4 * S, end_ns=end_ns))
    if dropped:
        record.add(records.Note(at_ns=end_ns, what=DROPPED, text="wrong set-up"))
    if outcome:
        record.add(records.End(at_ns=CALL_NS + 60 * S, outcome=outcome, exit=0))
    assert not record.close()


@pytest.fixture
def runs(tmp_path):
    for number, took_s in enumerate((2.8, 3.0, 3.1, 3.3), 1):
        run(tmp_path, number, took_s)
    run(tmp_path, 5, 4.4, drill=False)
    return tmp_path


def test_rounds_and_matches_of_the_game_count_alike(runs):
    found = measured_leads(runs, TIMELINE.game)
    assert {lead: (one.lead_ns, one.rounds) for lead, one in found.items()} == {"break_off": (4_400_000_000, 5)}


def test_other_games_and_places_tell_nothing(runs, tmp_path):
    assert measured_leads(runs, "Another game") == {}
    assert measured_leads(tmp_path / "nowhere", TIMELINE.game) == {}


@pytest.mark.parametrize(
    "spoilt", [{"half_speed": True}, {"dropped": True}, {"outcome": "scrapped"}, {"outcome": ""}], ids=str
)
def test_a_round_that_does_not_count_changes_nothing(runs, spoilt):
    run(runs, 6, 9.0, **spoilt)
    assert measured_leads(runs, TIMELINE.game)["break_off"].rounds == 5


def test_a_run_that_cannot_be_read_is_passed_over(runs):
    run(runs, 6, 9.0)
    (journal,) = runs.glob("2031-03-01_10-06-00*/journal.jsonl")
    journal.write_text("{}\n", encoding="utf-8")
    assert measured_leads(runs, TIMELINE.game)["break_off"].rounds == 5
