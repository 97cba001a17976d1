"""What devices played in a measurement, read from its records."""

import pytest

from tocsin.analysis.delays.film import FilmRow
from tocsin.features.measure.delays.cues import called_ns, rows_of
from tocsin.features.measure.start.cues import landed_ns
from tocsin.features.trial.guided import PlayedFiring, played_in
from tocsin.journal import records
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S

ORIGIN = records.OriginRecord(at_ns=5, anchor="match", origin_ns=7 * NS_PER_S, cause="start")


def firing(cue, channel, due_ms, late_ms=1, outcome="played", **besides):
    late_ns = None if late_ms is None else late_ms * MS
    return records.FiringRecord(
        at_ns=0, cue=cue, n=0, channel=channel, anchor="match", due_ns=due_ms * MS, late_ns=late_ns, outcome=outcome,
        **besides,
    )  # fmt: skip


def test_a_firing_lands_by_its_call_and_its_rigs_latency():
    """``late_ns`` counts from due minus latency, so the latency is out of the sum."""
    found = list(played_in([ORIGIN, firing("a", "light", 2000, 3), firing("b", "rumble", 2500, 0, role="driver")]))
    assert found == [
        PlayedFiring("a", "light", 9_003 * MS, 2_003 * MS), PlayedFiring("b", "driver", 9_500 * MS, 2_500 * MS)
    ]  # fmt: skip


@pytest.mark.parametrize(
    "nothing",
    [
        firing("a", "light", 2000, None, "skipped"),
        firing("a", "light", 2000, None, "resumed"),
        firing("a", "light", 2000, 4, "failed"),
        firing("a", "screen", 2000, 4, by=("terminal",)),
    ],
)
def test_what_no_device_played_in_time_is_not_measured(nothing):
    assert list(played_in([ORIGIN, nothing])) == []


def test_the_films_table_goes_cue_by_cue_and_knows_no_other_cues():
    kept = [
        ORIGIN, firing("measured_2", "light", 3700), firing("measured_1", "light", 2000),
        firing("count_in", "light", 0), firing("measured_1", "rumble", 2000, 0, role="driver"),
    ]  # fmt: skip
    assert rows_of(kept, ("driver", "light")) == (
        FilmRow(1, "driver", 2000.0, None), FilmRow(1, "light", 2001.0, None), FilmRow(2, "light", 3701.0, None)
    )  # fmt: skip
    assert next(call[:3] for call in called_ns(kept)) == (2, "light", 10_701 * MS)


def test_a_start_lands_with_the_first_of_its_channels():
    kept = [
        ORIGIN, firing("beat_1_1", "sound", 1000), firing("start_1", "sound", 2000, 9),
        firing("start_1", "light", 2000), firing("start_2", "sound", 8000, 4),
    ]  # fmt: skip
    assert landed_ns(kept) == (9_001 * MS, 15_004 * MS)
