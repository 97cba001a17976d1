"""What a drill lets people see: nothing by which the call could be known ahead, unless the drill says so."""

import math

import pytest

from tests.support.people.counter import Counter, by_chance, seen_rounds
from tests.support.thinned import WHOLE
from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.model.drill import ALL_SHOWN

PLAYED = 48 if WHOLE else 24             # rounds that somebody plays, twelve in a drill


def counted(drill, tmp_path, shows=None):
    """Return of how many rounds somebody pressed just ahead of the call, who had seen as many before, and how large
    a share is got by chance."""
    seasons = [seen_rounds(drill, tmp_path / str(seed), seed, shows) for seed in range(2 * PLAYED // 12)]
    halves = seasons[: len(seasons) // 2], seasons[len(seasons) // 2 :]
    learnt, played = ([one for season in half for one in season] for half in halves)
    somebody = Counter(learnt)
    assert len(played) == PLAYED
    return sum(map(somebody.ahead, played)), by_chance(played)


@pytest.mark.parametrize("drill", ["break_off", "turn", "missing_signal"])
def test_who_counts_from_what_the_screen_says_does_no_better_than_chance(drill, tmp_path):
    hits, chance = counted(drill, tmp_path)
    # One in a thousand lies beyond 3.1 standard deviations.
    assert hits <= PLAYED * chance + 3.1 * math.sqrt(PLAYED * chance * (1 - chance)), chance


@pytest.mark.parametrize("shows", [("clock",), ("ahead",)])
def test_the_same_person_knows_when_the_call_comes_where_it_is_shown(shows, tmp_path):
    hits, _ = counted("turn", tmp_path, shows)
    assert hits >= 0.9 * PLAYED, "they look four times a second, and count on from there"


def test_only_what_is_played_as_at_an_event_shows_what_an_event_shows():
    shown = {name: load_drill(name, "nothing").drill.shows for name in bundle.names("drills")}
    assert shown.pop("three_in_a_row") == ALL_SHOWN
    assert shown.pop("fork") == ("clock",)
    assert set(shown.values()) == {()}
