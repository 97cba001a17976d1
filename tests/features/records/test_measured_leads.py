"""Leads from a folder of runs: matches and rounds of the same game, as they were recorded."""

import pytest

from tests.support.journal.recorded_runs import TIMELINE, record_push
from tocsin.analysis.review.leads import Needed
from tocsin.errors import BrokenRunError
from tocsin.features.records.measured_leads import measured_leads


@pytest.fixture
def runs(tmp_path):
    for number, took_s in enumerate((2.8, 3.0, 3.1, 3.3), 1):
        record_push(tmp_path, number, took_s)
    record_push(tmp_path, 5, 4.4, drill=False)
    return tmp_path


def leads(runs, game=TIMELINE.game):
    return measured_leads(runs, game, pytest.fail)


def test_rounds_and_matches_of_the_game_count_alike(runs):
    assert leads(runs) == {"break_off": Needed(lead_ns=4_400_000_000, rounds=5, missing=17)}


def test_other_games_and_places_tell_nothing(runs, tmp_path):
    assert leads(runs, "Another game") == {}
    assert leads(tmp_path / "nowhere") == {}


@pytest.mark.parametrize(
    "spoilt", [{"half_speed": True}, {"dropped": True}, {"outcome": "scrapped"}, {"outcome": ""}], ids=str
)
def test_a_round_that_does_not_count_changes_nothing(runs, spoilt):
    record_push(runs, 6, 9.0, **spoilt)
    assert leads(runs)["break_off"].rounds == 5


def test_a_run_that_cannot_be_read_is_told_and_passed_over(runs):
    record_push(runs, 6, 9.0)
    (journal,) = runs.glob("2031-03-01_10-06-00*/journal.jsonl")
    journal.write_text("{}\n", encoding="utf-8")
    told: list[BrokenRunError] = []
    assert measured_leads(runs, TIMELINE.game, told.append)["break_off"].rounds == 5
    assert [str(journal) in error.line for error in told] == [True]
