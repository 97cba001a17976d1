"""Simulated seasons are what the program would have made of such teams: dealt as it deals, noted as people do."""

from collections import defaultdict

import pytest

from tests.support.analysis.season_teams import play_season, season_rows
from tests.support.analysis.season_worlds import PLAIN, WORLDS, Matches
from tocsin.analysis.seasons.row import FACTORS

SHORT = PLAIN._replace(evenings=4)


def test_equal_seeds_give_equal_seasons():
    assert season_rows(SHORT, 1) == season_rows(SHORT, 1)
    assert season_rows(SHORT, 1) != season_rows(SHORT, 2)


@pytest.mark.parametrize("name", ["g swapped, repeated", "j nothing differs"])
def test_each_block_holds_each_value_once(name):
    blocks = defaultdict(list)
    for row in season_rows(WORLDS[name]._replace(evenings=4), 1):
        if not row.taken_out:
            for factor in FACTORS:
                if (block := row.block(factor)) is not None:
                    blocks[factor, block].append(row.dealt[factor])
    assert {factor for factor, _ in blocks} == {"setup", "coach", "shift_s"}
    assert all(len(values) == len(set(values)) for values in blocks.values())
    whole = [values for (factor, _), values in blocks.items() if factor == "setup" and len(values) == 3]
    assert len(whole) >= 4 * 2 * 3


def test_half_speed_rounds_and_those_played_again_do_not_count():
    season = play_season(WORLDS["g swapped, repeated"], 1)
    again = [row for row in season.rows if row.taken_out == "repeated"]
    assert len(again) > 10
    assert not any(row.counted for row in season.rows if row.taken_out or row.half_speed)
    keys = [(row.session, row.crew, row.round) for row in season.rows]
    assert all(keys.count((row.session, row.crew, row.round)) > 1 for row in again)


def test_a_scribe_notes_what_happened_within_the_lag():
    season = play_season(PLAIN, 3)
    off = [
        row.break_off_at_least_s - truth.break_off_s for row, truth in zip(season.rows, season.truths, strict=True)
        if row.break_off_at_least_s == row.break_off_at_most_s is not None
    ]  # fmt: skip
    assert len(off) > 150
    assert all(0.299 <= one <= 0.801 for one in off)


def test_ends_that_nobody_noted_lie_within_their_bounds():
    season = play_season(WORLDS["f never ended"], 2)
    bounded = [
        (row, truth) for row, truth in zip(season.rows, season.truths, strict=True)
        if row.break_off_at_least_s != row.break_off_at_most_s
    ]  # fmt: skip
    assert len(bounded) >= 10
    for row, truth in bounded:
        assert row.break_off_at_least_s == 0
        assert row.break_off_at_most_s is None or row.break_off_at_most_s > truth.break_off_s


@pytest.mark.parametrize(("change", "factor", "values"), [
    ({"calling_s": 1.0}, "coach", ("calling", "silent")),
    ({"setups_s": (0.0, 0.0, 1.0)}, "setup", ("push in the middle", "push at their floor's edge")),
    ({"follows": 0.0}, "shift_s", (0.0, 1.0)),
])  # fmt: skip
def test_what_a_world_says_is_in_the_times(change, factor, values):
    season = play_season(PLAIN._replace(**change), 5)

    def mean(value):
        times = [
            truth.break_off_s for row, truth in zip(season.rows, season.truths, strict=True)
            if row.dealt[factor] == value
        ]  # fmt: skip
        return sum(times) / len(times)

    # Means of 64 and more rounds with a spread of 0.7 s: 1.0 lies four standard errors from both bounds.
    assert 0.5 < mean(values[1]) - mean(values[0]) < 1.5


def test_matches_stand_beside_practice():
    rows = season_rows(SHORT._replace(matches=(Matches(1, 3), Matches(2, 2, "practice")), match_s=1.0), 1)
    matches = [row for row in rows if row.kind == "match"]
    assert [(row.evening, row.at, row.match) for row in matches] == [
        ("2031-01-09", "event", 1), ("2031-01-09", "event", 2), ("2031-01-09", "event", 3),
        ("2031-01-14", "practice", None), ("2031-01-14", "practice", None),
    ]  # fmt: skip
    assert all(row.counted and row.plan == "Quiet" and row.leads_s["break_off"] == 4 for row in matches)


def test_a_lead_is_changed_in_mid_season():
    rows = season_rows(SHORT._replace(lead_changes=((2, 4.5),)), 1)
    found = {row.evening: row.leads_s["break_off"] for row in rows if row.shift_s == 0}
    assert list(found.values()) == [4, 4, 4.5, 4.5]
