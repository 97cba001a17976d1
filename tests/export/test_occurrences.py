"""The rows that tables and cards are made of, against the compiled timeline and times known from outside."""

import pytest

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.model.compiled_games import PATTERNS, PERIODS, cue, period, window
from tocsin.export.occurrences import calls, place, shown_at
from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.point import Point
from tocsin.units import NS_PER_S


def of(game_periods, cues, windows=(), **rest):
    game = Game(name="Invented", periods=game_periods, windows=windows, **rest)
    return calls(source(game, Plan(name="Plan", game="invented", cues=cues, patterns=PATTERNS)))


@pytest.mark.parametrize("name", BUNDLED)
def test_every_firing_is_in_exactly_one_row(name):
    made = bundled(name)
    rows = calls(made)
    firings = [(f.cue, f.n, f.channel, f.pattern) for f in made.timeline.firings]
    listed = [(r.cue, r.n, channel, pattern) for r in rows for channel, pattern in r.patterns.items()]
    assert sorted(set(firings)) == sorted(listed)
    assert [r.match_ns for r in rows if r.match_ns is not None] == sorted(
        f.match_ns for f in {(f.cue, f.n): f for f in made.timeline.firings}.values() if f.match_ns is not None
    )


# 28 s + 11 s + 97 s = 136 s; endgame and no contact begin 18 s before the end.
@pytest.mark.parametrize(
    ("at", "period_id", "since_s", "match_s", "shown"),
    [
        ("auto.begin", "auto", 0, 0, "0:28"),
        ("auto.end-1s", "auto", 27, 27, "0:01"),
        ("pause.begin", "pause", 0, 28, "0:11"),
        ("driver.begin", "driver", 0, 39, "1:37"),
        ("driver.end-22s", "driver", 75, 114, "0:22"),
        ("driver.end-17.5s", "driver", 79.5, 118.5, "0:18"),       # ceil: 17.5 s left read 0:18
        ("match.end", "driver", 97, 136, "0:00"),
    ],
)
def test_a_row_says_where_it_lies_and_what_the_display_reads(at, period_id, since_s, match_s, shown):
    (row,) = of(PERIODS[:3], (cue("home", at),))
    assert (row.period, row.offset_ns) == (period_id, since_s * NS_PER_S)
    assert row.match_ns == match_s * NS_PER_S
    assert row.shown == shown


def test_the_end_of_the_match_belongs_to_the_period_that_ends():
    (row,) = of(PERIODS, (cue("over", "match.end"),))
    assert PERIODS[-1].kind == "settle"
    assert (row.period, row.offset_ns, row.shown) == ("driver", 97 * NS_PER_S, "0:00")


def test_a_display_that_rounds_down_or_counts_the_match():
    (row,) = of(PERIODS[:3], (cue("home", "driver.end-17.5s"),), digits="floor")
    assert row.shown == "0:17"
    (row,) = of(PERIODS[:3], (cue("home", "driver.begin"),), counts="match")
    assert row.shown == "1:37"
    (row,) = of(PERIODS[:3], (cue("home", "auto.begin"),), counts="match")
    assert row.shown == "2:16"


def test_what_hangs_on_a_mark_or_a_call_has_no_place():
    rows = of(
        PERIODS[:3],
        (cue("home", "driver.end-22s", "driver.end-18s", callable=True), cue("free", "truce.begin+3s")),
        windows=(window("truce", "mark.truce", "truce.begin+10s"),),
    )
    by_hand = {row.anchor: row for row in rows if not row.period}
    assert set(by_hand) == {"call.home", "mark.truce"}
    assert all((row.shown, row.match_ns) == ("", None) for row in by_hand.values())
    assert {anchor: row.offset_ns for anchor, row in by_hand.items()} == {"call.home": 0, "mark.truce": 3 * NS_PER_S}
    assert by_hand["call.home"].until_ns == 118 * NS_PER_S


def test_a_period_of_open_length_shows_nothing_certain_and_the_next_is_its_own():
    periods = (period("talk", None, "pause"), period("driver", 50, by_hand=True))
    early, late = of(periods, (cue("early", "talk.begin+5s"), cue("late", "driver.end-18s")))
    assert (early.period, early.offset_ns, early.shown) == ("talk", 5 * NS_PER_S, "")
    assert (late.period, late.offset_ns, late.shown) == ("driver", 32 * NS_PER_S, "0:18")


def test_a_point_of_no_period_has_no_place():
    timeline = bundled("full").timeline
    assert place(timeline, Point("mark.truce", 0)) is None
    assert shown_at(timeline, Point("call.home", 0)) == ""
