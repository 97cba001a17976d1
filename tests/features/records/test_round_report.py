"""When the call home landed in a run, and what people did after it: from the records of the run alone.

Each run is played by the match and the schedules of its channels; only the reports are written here.
"""

import pytest

from tests.support.runner.match_stand import END_S, PRESS_NS, Stand
from tocsin.features.records.round_report import played_of
from tocsin.journal import records
from tocsin.model.clock.origins import CALL
from tocsin.runner.outcome import Done
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

HOME_S = 114


@pytest.fixture
def stand(tmp_path):
    return Stand(tmp_path)


def shown_ns(stand, cue="home"):
    """Return when the cue first reached people, by the stand: not by any record."""
    return min(g.land_ns for g in stand.given if g.firing.cue == cue and g.verb in ("begin", "resume"))


def call_ns(stand):
    return played_of(stand.match.record.kept, half_speed=False).home_call_ns


def test_a_call_on_time_landed_where_the_clock_had_it(stand):
    stand.go_on(PRESS_NS + 130 * S)
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=6 * MS)
    assert call_ns(stand) == pytest.approx(stand.first_ns + HOME_S * S, abs=6 * MS)


@pytest.mark.parametrize("by_ms", [-2000, -600, 400, 2000])
def test_a_clock_that_is_put_right_behind_the_call_leaves_it_where_it_was(stand, by_ms):
    """Before, the turn was timed from where the newest clock would have had the call: wrong by the whole step."""
    stand.go_on(stand.first_ns + (HOME_S + 2) * S)
    for _ in range(abs(by_ms) // 200):
        stand.match.nudge(stand.now_ns, 200 * MS if by_ms > 0 else -200 * MS)
    stand.go_on(PRESS_NS + 150 * S)
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=6 * MS)


def test_taps_behind_the_call_leave_it_where_it_was(stand):
    stand.go_on(stand.first_ns + (HOME_S + 2) * S)
    late_ns = 900 * MS
    assert isinstance(stand.tap(stand.first_ns + END_S * S - late_ns), Done)
    assert stand.match.lifecycle.latest.origin_ns < stand.first_ns - 100 * MS
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=6 * MS)


def test_a_call_that_came_late_is_timed_from_when_it_came(stand):
    stand.go_on(stand.first_ns + 113 * S)
    stand.away_until_ns = stand.first_ns + 115 * S
    stand.go_on(PRESS_NS + 130 * S)
    assert shown_ns(stand) == pytest.approx(stand.first_ns + 115 * S, abs=90 * MS)
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=6 * MS)


def test_a_call_that_was_resumed_is_timed_from_when_it_was_shown(stand):
    """A worker that begins anew two seconds into the call shows what is left of it."""
    stand.go_on(stand.first_ns + 113 * S)
    stand.away_until_ns = stand.first_ns + 116 * S
    stand.go_on(PRESS_NS + 130 * S)
    assert {g.verb for g in stand.given if g.firing.cue == "home" and g.firing.channel == "light"} == {"resume", "end"}
    # What was resumed carries no lateness: it is timed by its report, and without the device's delay.
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=90 * MS)


def test_a_call_by_hand_is_timed_from_its_own_origin(stand):
    stand.go_on(stand.first_ns + 100 * S)
    assert isinstance(stand.match.call(stand.now_ns, "home"), Done)
    stand.go_on(PRESS_NS + 130 * S)
    homes = [g for g in stand.given if g.firing.cue == "home" and g.verb == "begin"]
    assert {g.firing.begin.anchor for g in homes} == {f"{CALL}home"}
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=90 * MS)


def test_while_the_clock_is_unsure_the_call_landed_as_early_as_it_came(stand):
    stand.begin_by_itself()
    assert isinstance(stand.tap(stand.first_ns + 28 * S), Done)
    assert isinstance(stand.tap(stand.first_ns + 39 * S + 1600 * MS), Done)
    stand.go_on(PRESS_NS + 130 * S)
    assert stand.match.early_ms > 50
    assert call_ns(stand) == pytest.approx(shown_ns(stand), abs=6 * MS)


def test_a_call_of_which_no_device_told_anybody_was_none(stand):
    stand.go_on(stand.first_ns + 113 * S)
    record = stand.match.record
    record.add(
        records.FiringRecord(
            at_ns=stand.now_ns, cue="home", n=0, channel="light", anchor="match", due_ns=HOME_S * S, outcome="skipped",
            why=records.ABSENT,
        )
    )  # fmt: skip
    assert call_ns(stand) is None


def test_a_mark_before_a_hold_keeps_its_distance_from_the_call(stand):
    """The newest origins lie later by the hold, and with them lay all that came before it."""
    stand.go_on(stand.first_ns + (HOME_S + 1) * S)
    turned_ns = stand.now_ns
    assert isinstance(stand.match.mark(stand.now_ns, "turned", turned_ns, None, "key"), Done)
    stand.go_on(stand.now_ns + S)
    assert isinstance(stand.match.hold_or_resume(stand.now_ns), Done)
    stand.go_on(stand.now_ns + 7 * S)
    assert isinstance(stand.match.hold_or_resume(stand.now_ns), Done)
    stand.go_on(PRESS_NS + 155 * S)
    played = played_of(stand.record.kept, half_speed=False)
    (origin,) = played.origins
    (mark,) = played.marks
    assert mark.begin_ns - played.home_call_ns == pytest.approx(turned_ns - shown_ns(stand), abs=6 * MS)
    assert origin.elapsed_ns(mark.begin_ns) == pytest.approx(turned_ns - stand.first_ns, abs=6 * MS)
