"""A run's records, told by another laptop's clock, are the same match there: the same phase, time and next cues."""

import typing

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.runner.match_stand import END_S, PRESS_NS, TIMELINE, Stand
from tocsin.features.follow.shift import TIMES, shifted
from tocsin.journal import records
from tocsin.journal.past import past_of
from tocsin.journal.reader import Journal
from tocsin.model.clock.schedule import Schedule
from tocsin.runner.match.resume import life_of
from tocsin.units import NS_PER_S as S
from tocsin.units import Ns

BY_NS = -123 * S
# What may happen at a second of the match, and to whom.
DEEDS = {
    "hold": lambda stand: stand.match.hold_or_resume(stand.now_ns),
    "earlier": lambda stand: stand.match.nudge(stand.now_ns, S // 5),
    "later": lambda stand: stand.match.nudge(stand.now_ns, -S // 5),
    "tap": lambda stand: stand.match.sync(stand.now_ns, stand.now_ns),
    "call": lambda stand: stand.match.call(stand.now_ns, "home"),
    "variant": lambda stand: stand.match.next_variant(stand.now_ns),
    "begin": lambda stand: stand.match.begin_period(stand.now_ns, stand.now_ns),
    "mark": lambda stand: stand.match.mark(stand.now_ns, "contact", stand.now_ns - S, stand.now_ns, "key 1"),
}


def past_by(stand, by_ns):
    """Return what its records so far say, by a clock that shows ``by_ns`` more."""
    header = records.Header(at_ns=PRESS_NS, wall="2031-03-01T10:00:00.000Z", boot="b", timeline=TIMELINE)
    kept = shifted((header, *stand.record.kept), by_ns)
    return past_of(Journal(path=None, records=kept))


def orders(past, now_ns):
    """Return what each channel has to do from this time on, and when, for the next ten seconds."""
    life = life_of(past, TIMELINE, now_ns)
    segments = [segment.anchor for segment in TIMELINE.segments]
    schedule = Schedule(TIMELINE.firings, segments)
    schedule.choose(life.variant)
    schedule.give(past.given)
    for origin in life.origins if life.phase in ("waiting", "running", "over") else ():
        schedule.set_origin(origin)
    return [
        (order.verb, order.shot.firing.no, order.shot.begin_ns - now_ns)
        for tenth in range(100)
        for order in schedule.due(now_ns + tenth * S // 10)
    ]


@given(st.lists(st.tuples(st.integers(0, END_S + 20), st.sampled_from(sorted(DEEDS))), max_size=6), st.data())
def test_a_run_so_far_is_the_same_match_by_another_clock(tmp_path_factory, deeds, data):
    stand = Stand(tmp_path_factory.mktemp("run"))
    for at_s, deed in sorted(deeds):
        stand.go_on(PRESS_NS + at_s * S)
        DEEDS[deed](stand)
    own, other = past_by(stand, 0), past_by(stand, BY_NS)
    now_ns = stand.now_ns + data.draw(st.integers(0, 40)) * S
    here, there = life_of(own, TIMELINE, now_ns), life_of(other, TIMELINE, now_ns + BY_NS)
    assert (there.phase, there.states, there.variant) == (here.phase, here.states, here.variant)
    assert there.elapsed_ns(now_ns + BY_NS) == here.elapsed_ns(now_ns)
    assert orders(other, now_ns + BY_NS) == orders(own, now_ns)
    assert (other.given, other.error_ms, other.early_ms) == (own.given, own.error_ms, own.early_ms)


@pytest.mark.parametrize("kind", typing.get_args(records.Record))
def test_no_time_of_a_record_stays_by_the_old_clock(kind):
    """Who adds a time to a record says here whether it is one of the shared clock."""
    hints = typing.get_type_hints(kind, include_extras=True)
    times = {name for name, hint in hints.items() if hint is Ns or Ns in typing.get_args(hint)}
    lengths = {"due_ns", "match_ns", "late_ns", "took_ns", "error_ns"}
    assert set(TIMES[kind]) == times - lengths


def test_what_says_no_time_stays_so():
    origin = records.OriginRecord(at_ns=5, anchor="match", origin_ns=None, cause="start")
    assert shifted((origin,), 7) == (msgspec.structs.replace(origin, at_ns=12),)
