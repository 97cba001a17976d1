"""The events of a measurement: irregular, all on every channel, and faint."""

import statistics
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.config.files import file_text
from tocsin.features.measure.lateness.measurement import A_ROUND, rounds_of
from tocsin.features.measure.lateness.round import LEAD_IN_MS, event_no, events_of, times_ms
from tocsin.model.pattern import LightPattern
from tocsin.model.safety import flicker
from tocsin.units import NS_PER_MS, NS_PER_S

RIG = file_text("rig", "rig.toml", 'format = "tocsin-rig/1"\nname = "Stand"\ndrives_robot = false\n')


def events(times, channels=("rumble", "light", "screen", "sound"), roles=("driver", "operator")):
    (found,) = events_of(times, channels, roles, RIG).plans
    return found


@given(st.integers(1, 200), st.integers(0, 1000))
def test_times_fit_no_timers_rhythm(count, seed):
    times = times_ms(count, seed)
    assert len(times) == count
    assert times[0] == LEAD_IN_MS
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert all(230 <= gap <= 330 for gap in gaps)
    assert times == times_ms(count, seed)
    if count > 50:
        # Rhythms of 60 a second (frames), 64 a second (a system's ticks) and 100 a second: every phase is met.
        for period_ms in (1000 / 60, 1000 / 64, 10):
            phases = [time % period_ms / period_ms for time in times]
            assert statistics.pstdev(phases) > 0.2          # of evenly spread ones 0.289


@given(st.integers(1, 2000))
def test_rounds_are_short_and_as_equal_as_can_be(count):
    rounds = rounds_of(count)
    assert sum(rounds) == count
    assert 1 <= min(rounds) <= max(rounds) <= A_ROUND
    assert max(rounds) - min(rounds) <= 1


def test_every_event_falls_due_on_every_channel_and_pad():
    times = times_ms(7, 3)
    firings = events(times).timeline.firings
    for part in [("rumble", "driver"), ("rumble", "operator"), ("light", None), ("screen", None), ("sound", None)]:
        due_ns = [f.begin.offset_ns for f in firings if (f.channel, f.role) == part]
        assert due_ns == [ms * NS_PER_MS for ms in times]
    assert len(firings) == 5 * 7


def test_only_the_wanted_channels_have_any():
    assert {f.channel for f in events(times_ms(3, 0), ("light",)).timeline.firings} == {"light"}


def test_what_is_late_is_timed_and_not_skipped():
    # A match skips what is 150 ms late; here that would hide what is looked for.
    assert {f.late_limit_ns for f in events(times_ms(3, 0)).timeline.firings} == {5 * NS_PER_S}


@pytest.mark.parametrize("brightness", [1.0, 0.2])
def test_the_strip_never_flashes(brightness):
    found = events(times_ms(50, 1))
    frames, shown = [], (0, 0, 0)
    for firing in (f for f in found.timeline.firings if f.channel == "light"):
        pattern = found.plan.patterns.light[firing.pattern]
        assert isinstance(pattern, LightPattern)
        # WCAG 2.2, "flash": changes below 0.10 of the maximum are none, be a light in proportion to its value ...
        step = [abs(new * pattern.level - old) / 255 for new, old in zip(pattern.colours[0], shown, strict=True)]
        assert max(step) < 0.10
        shown = tuple(round(value * pattern.level * brightness) for value in pattern.colours[0])
        frames.append((firing.begin.offset_ns, [shown]))
    # ... or as a screen shows it.
    assert flicker(frames).within(0)


def test_pads_are_shaken_no_longer_and_no_more_than_need_be():
    (pattern,) = [events(times_ms(1, 0)).plan.patterns.rumble["faint"]]
    (step,) = pattern.steps
    assert step.lasts_ns == 50 * NS_PER_MS             # shorter ones crash some pads' radio (SDL #6435)
    assert step.strong == 0
    assert 0 < step.weak <= 0.2


def test_the_loudspeaker_is_soft():
    (step,) = events(times_ms(1, 0)).plan.patterns.sound["soft_tick"].steps
    assert step.level <= 0.1


@pytest.mark.parametrize(("cue", "number"), [("event_0", 0), ("event_41", 41), ("count_in", None), ("event_", None)])
def test_events_are_told_from_other_cues(cue, number):
    assert event_no(cue) == number
