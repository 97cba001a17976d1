"""Leads from a folder of runs: those of the drill that a review tells of, in the same game."""

import pytest

from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import TIMELINE, record_push
from tocsin.analysis.review.leads import Needed
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.times import break_off_answer
from tocsin.config.checking import examine
from tocsin.errors import BrokenRunError
from tocsin.features.check.findings import found_in
from tocsin.features.records.measured_leads import measured_leads
from tocsin.features.records.season_rows import season_rows
from tocsin.units import NS_PER_S as S


@pytest.fixture
def runs(tmp_path):
    for number, took_s in enumerate((2.8, 3.0, 3.1, 3.3), 1):
        record_push(tmp_path, number, took_s)
    record_push(tmp_path, 5, 4.4, drill=False)             # a match: its own review tells of it
    return tmp_path


def leads(runs, game=TIMELINE.game):
    return measured_leads(runs, game, pytest.fail)


def test_they_are_those_of_the_drill_that_a_review_tells(runs):
    assert leads(runs) == {"break_off": Needed(lead_ns=3_300_000_000, rounds=4, missing=18)}


def test_without_a_drill_they_are_those_of_matches(tmp_path):
    for number in range(1, 4):
        record_push(tmp_path, number, 4.0 + number / 10, drill=False)
    assert leads(tmp_path) == {"break_off": Needed(lead_ns=4_300_000_000, rounds=3, missing=19)}


def test_check_says_what_a_review_of_the_season_says(tmp_path):
    """Of more runs than an evening has, with pushes into the window: to the tenth of a second, upwards."""
    record_rounds(tmp_path, "break_off", 132)
    rows = season_rows([tmp_path], pytest.fail)
    told = break_off_answer(rounds_of(rows)).figure("break_off_nine_in_ten")
    found = leads(tmp_path)["break_off"]
    assert (found.lead_ns, found.rounds, found.missing) == (round(told.value * S), told.rounds, 0)
    checked = examine(["full"])
    (finding,) = (one.finding for one in found_in(checked, tmp_path) if one.finding.code == "lead_below_runs")
    tenth_s = float(finding.facts["least"].removesuffix("s"))
    assert told.value <= tenth_s < told.value + 0.1
    assert round(10 * tenth_s) == pytest.approx(10 * tenth_s)


def test_other_games_and_places_tell_nothing(runs, tmp_path):
    assert leads(runs, "Another game") == {}
    assert leads(tmp_path / "nowhere") == {}


@pytest.mark.parametrize(
    "spoilt", [{"half_speed": True}, {"dropped": True}, {"outcome": "scrapped"}, {"outcome": ""}], ids=str
)
def test_a_round_that_does_not_count_changes_nothing(runs, spoilt):
    record_push(runs, 6, 9.0, **spoilt)
    assert leads(runs)["break_off"].rounds == 4


def test_a_run_that_cannot_be_read_is_told_and_passed_over(runs):
    record_push(runs, 6, 9.0)
    (journal,) = runs.glob("2031-03-01_10-06-00*/journal.jsonl")
    journal.write_text("{}\n", encoding="utf-8")
    told: list[BrokenRunError] = []
    assert measured_leads(runs, TIMELINE.game, told.append)["break_off"].rounds == 4
    assert [str(journal) in error.line for error in told] == [True]
