"""Flashing: the labelled sequences, the count against the model's, the findings against a plain look at each frame."""

from bisect import bisect_left
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.lint.inspected import Case, look
from tests.support.model.compiled_games import cue
from tocsin.channels.light.forms import colours_at, jumps_ns
from tocsin.features.check.findings import devices
from tocsin.lint.flashing import changes, flashing, levels
from tocsin.lint.shows import LightShow
from tocsin.lint.subject import Subject
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game, Period
from tocsin.model.pattern import LightPattern, Patterns
from tocsin.model.plan import Plan
from tocsin.model.rig import Light, Rig
from tocsin.model.safety import (
    BLACK,
    OKABE_ITO,
    WCAG_FLASHES,
    FlashGuard,
    most_general,
    relative_luminance,
    saturated_red,
)
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S
from tocsin.units import format_clock

WHITE = OKABE_ITO["white"]
FRAME_NS = S / 30
GREYS = """\
[[cue]]
id = "low"
at = "driver.begin+9s"
until = "driver.begin+20s"
for = ["coach"]
light = "low"
sound = "tick"
[[cue]]
id = "high"
at = [{at}]
until = [{until}]
for = ["coach"]
priority = 9
light = "high"
sound = "tick"
[pattern.light.low]
form = "plain"
colours = ["#{low:02x}{low:02x}{low:02x}"]
lasts = "1s"
[pattern.light.high]
form = "plain"
colours = ["#{high:02x}{high:02x}{high:02x}"]
lasts = "1s"
"""


def labelled(text: str, low: int, high: int) -> str:
    """Return the plan that shows ``L1 H25``: one frame of the low grey, 25 of the high one, at 30 frames a second."""
    frame, at, until = 0, [], []
    for part in text.split():
        begin_ns, end_ns = (10 * S + round(n * FRAME_NS) for n in (frame, frame + int(part[1:])))
        if part[0] == "H":
            at.append(f'"driver.begin+{format_clock(begin_ns)}"')
            until.append(f'"driver.begin+{format_clock(end_ns)}"')
        frame += int(part[1:])
    return GREYS.format(at=", ".join(at), until=", ".join(until), low=low, high=high)


# Jordan, HCII 2025, LNCS 15780, 85-98, its test-media repository (BSD-3): which sequences fail and
# which pass at three flashes a second. What passes there with three flashes has more than the two that are ours.
@pytest.mark.parametrize(
    ("text", "low", "high", "found"),
    [
        ("L1 H1 L1 H1 L1 H1 L1 H25", 64, 109, ["error"]),
        ("L1 H1 L1 H1 L1 H1 L26", 64, 109, ["warning"]),
        ("L1 H1 L9 H1 L9 H1 L8 H1 L3", 64, 109, ["error"]),
        ("L1 H1 L9 H1 L9 H1 L9 H1 L2", 64, 109, ["warning"]),
        ("L1 H1 L1 H1 L26", 64, 109, []),
        ("L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L9", 64, 108, []),
        ("L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L9", 194, 209, []),
        ("L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L1 H1 L9", 194, 210, ["error"]),
    ],
)
def test_labelled_sequences_as_plans(text: str, low: int, high: int, found: list[str], tmp_path: Path) -> None:
    told = look(Case("greys", labelled(text, low, high)), tmp_path)
    assert [one.finding.level for one in told if one.finding.code == "flash"] == found


COLOURS = st.sampled_from([*OKABE_ITO.values(), (64, 64, 64), (109, 109, 109), (231, 231, 231), (240, 240, 240)])


@given(st.data())
def test_the_count_is_that_of_the_model(data: st.DataObject) -> None:
    regions = data.draw(st.integers(1, 3))
    gaps = data.draw(st.lists(st.sampled_from([1, 100 * MS, 250 * MS, S - 1, S]), min_size=2, max_size=25))
    rows = [data.draw(st.lists(COLOURS, min_size=regions, max_size=regions)) for _ in gaps]
    times = np.cumsum(np.array(gaps, np.int64))
    lit = levels(np.array(rows, np.uint8))
    lit = np.hstack([lit, (lit.sum(axis=1) // regions)[:, None]])
    counts = changes(times, lit)
    assert counts.max() == most_general(zip(times.tolist(), rows, strict=True))
    few = changes(times, lit, above=4)
    assert (few[counts > 4] == counts[counts > 4]).all()
    assert set(few[counts <= 4].tolist()) <= {0, *counts[counts <= 4].tolist()}


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_levels_are_relative_luminance(colour: tuple[int, int, int]) -> None:
    # Relative luminance of WCAG 2.2, as the model has it.
    assert levels(np.array(colour, np.uint8)) / 1e9 == pytest.approx(relative_luminance(colour), abs=1e-8)


# --- what is found in a plan against a plain look at each frame of it -------------------------------------------------

GAME = Game(name="Bells", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=20 * S),))
LEDS = 10
RIG = Rig(name="Bells", light=Light(leds=LEDS))
TENTH = st.integers(0, 120).map(lambda n: n * 40 * MS)
PATTERN = st.builds(
    LightPattern,
    form=st.sampled_from(["plain", "on_off", "swell", "shuttle", "queue", "bands", "ebb", "apart"]),
    colours=st.tuples(COLOURS, COLOURS),
    lasts_ns=st.integers(2, 40).map(lambda n: n * 40 * MS),
    cycle_ns=st.integers(3, 40).map(lambda n: n * 40 * MS),
    width=st.sampled_from([0.1, 0.2, 0.5]),
)
SHOTS = st.lists(st.tuples(TENTH, st.integers(0, 9), PATTERN), min_size=1, max_size=5, unique_by=lambda shot: shot[0])
Shots = list[tuple[int, int, LightPattern]]


def frames_of(shots: Shots, step_ns: int) -> list[tuple[int, list[tuple[int, int, int]]]]:
    """Return all frames that differ: at every begin and end and each step of a pattern, what is foremost."""
    moments = {-1}
    for begin_ns, _, pattern in shots:
        end_ns = begin_ns + pattern.lasts_ns
        # Just before an edge too: what another cue cuts off may have shown for a moment only.
        moments |= {begin_ns - 1, begin_ns, end_ns - 1, end_ns, *range(begin_ns, end_ns, step_ns)}
    frames: list[tuple[int, list[tuple[int, int, int]]]] = []
    for at_ns in sorted(moments):
        on = [shot for shot in shots if shot[0] <= at_ns < shot[0] + shot[2].lasts_ns]
        colours = [BLACK] * LEDS
        if on:
            begin_ns, _, pattern = max(on, key=lambda shot: (shot[1], shot[0]))
            left = (begin_ns + pattern.lasts_ns - at_ns) / pattern.lasts_ns
            colours = colours_at(pattern, LEDS, at_ns - begin_ns, left)
        if not frames or colours != frames[-1][1]:
            frames.append((at_ns, colours))
    return frames


def subject_of(shots: Shots) -> Subject:
    """Return a plan that shows these patterns, as it is looked at."""
    names = [f"cue_{n}" for n in range(len(shots))]
    cues = tuple(
        cue(name, f"driver.begin+{format_clock(begin_ns)}", priority=priority, patterns={"light": name})
        for name, (begin_ns, priority, _) in zip(names, shots, strict=True)
    )
    patterns = Patterns(light={name: shot[2] for name, shot in zip(names, shots, strict=True)})
    plan = Plan(name="Bells", game="bells", cues=cues, patterns=patterns)
    timeline, mistakes = compile_plan(GAME, plan)
    assert timeline is not None, mistakes
    return Subject(GAME, plan, timeline, devices(), rig=RIG)


def found_in(shots: Shots) -> set[str]:
    """Return the levels of what is found in a plan that shows these patterns."""
    subject = subject_of(shots)
    return {finding.level for finding in flashing(subject) if finding.code == "flash"}


def changes_of(frames: list[tuple[int, list[tuple[int, int, int]]]], second: float = 1.0) -> int:
    """Return the most opposing changes in any second, one of this length; LEDs that always look alike count once."""
    rows = list(zip(*dict.fromkeys(zip(*(colours for _, colours in frames), strict=True)), strict=True))
    times = [round(at_ns / second) for at_ns, _ in frames]
    return most_general(zip(times, rows, strict=True))


@settings(deadline=None, max_examples=20)
@given(SHOTS)
def test_what_is_found_is_what_a_plain_look_at_each_frame_finds(shots: Shots) -> None:
    frames = frames_of(shots, 5 * MS)                  # a sweep stays at its end for 6.7 ms at the least
    # What moves is some milliseconds later in these frames: where that decides, either level is right.
    fewest, most = changes_of(frames, 0.97), changes_of(frames, 1.03)
    found = found_in(shots)
    if most <= 4:
        assert not found
    if fewest > 2 * WCAG_FLASHES:
        assert "error" in found
    if fewest > 4:
        assert found
    if most <= 2 * WCAG_FLASHES:
        assert "error" not in found


def test_a_sweep_that_is_cut_off_just_behind_its_turn_is_found() -> None:
    """LED 7: lit, dark, lit as the sweep turns, dark, lit for 2.5 ms, dark."""
    colours = (BLACK, OKABE_ITO["orange"])
    sweep = LightPattern(form="shuttle", colours=colours, lasts_ns=160 * MS, cycle_ns=240 * MS, width=0.2)
    assert changes_of(frames_of([(0, 0, sweep)], MS)) == 6
    assert found_in([(0, 0, sweep)]) == {"warning"}


def test_what_is_cut_off_before_its_own_turn_is_found() -> None:
    """A sweep passes a LED, a strip shrinks past it, light comes back: five changes."""
    shots = [
        (0, 0, LightPattern(form="shuttle", colours=(WHITE, BLACK), lasts_ns=450 * MS, cycle_ns=2 * S, width=0.1)),
        (450 * MS, 1, LightPattern(form="ebb", colours=(WHITE, BLACK), lasts_ns=550 * MS)),
        (1_000 * MS, 1, LightPattern(form="plain", colours=(WHITE,), lasts_ns=2 * S)),
    ]
    assert changes_of(frames_of(shots, 10 * MS)) == 5
    assert found_in(shots) == {"warning"}


@settings(deadline=None, max_examples=30)
@given(SHOTS)
def test_no_second_holds_more_changes_than_its_turns_allow(shots: Shots) -> None:
    """What `check` passes over unseen rests on this."""
    subject = subject_of(shots)
    show = LightShow(subject.tracks[0].of("light"), subject.plan.patterns, subject.devices, LEDS)
    turns = sorted(show.turns())
    frames = frames_of(shots, 10 * MS)
    times = [at_ns for at_ns, _ in frames]
    colours = np.array([colours for _, colours in frames], np.uint8)
    most = changes(np.array(times, np.int64), levels(colours)).max(axis=1).tolist()
    for at_ns, count in zip(times, most, strict=True):
        assert count <= 4 or bisect_left(turns, at_ns + S) - bisect_left(turns, at_ns) >= 4


# In whole milliseconds, so that a look each millisecond misses nothing.
JUMPING = st.builds(
    LightPattern,
    form=st.sampled_from(["plain", "on_off", "bands", "apart"]),
    colours=st.tuples(COLOURS, COLOURS),
    lasts_ns=st.integers(60, 1600).map(lambda n: n * MS),
    cycle_ns=st.integers(60, 700).map(lambda n: 2 * n * MS),
)
BEGINS = st.integers(0, 4000).map(lambda n: n * MS)
JUMPS = st.lists(st.tuples(BEGINS, st.integers(0, 9), JUMPING), min_size=1, max_size=4, unique_by=lambda shot: shot[0])


@settings(deadline=None, max_examples=30)
@given(JUMPS)
def test_what_jumps_is_counted_to_the_nanosecond(shots: Shots) -> None:
    most = changes_of(frames_of(shots, MS))
    found = found_in(shots)
    assert ("error" in found) == (most > 2 * WCAG_FLASHES)
    assert bool(found) == (most > 4)


def blink(cycle_ns: int, lasts_ns: int = 3 * S) -> LightPattern:
    return LightPattern(form="on_off", colours=(OKABE_ITO["white"], BLACK), lasts_ns=lasts_ns, cycle_ns=cycle_ns)


# Seven changes in a second fail and six pass, the window being half open (WCAG 2.2, SC 2.3.1, and labelled sequences
# above); of a blink from black that is a half cycle of less than a sixth of a second. Five are more than our own limit.
@pytest.mark.parametrize(
    ("cycle_ns", "found"),
    [
        (300 * MS, {"error"}),
        (333 * MS, {"error"}),                          # at 0, 166.5, 333, 499.5, 666, 832.5 and 999 ms
        (333_333_333, {"error"}),                       # the seventh one nanosecond before the second is over
        (333_333_334, {"warning"}),                     # and two after it
        (334 * MS, {"warning"}),
        (400 * MS, {"warning"}),
        (499_999_999, {"warning"}),                     # the fifth two nanoseconds before it
        (500 * MS, set()),
    ],
)
def test_a_blink_is_judged_by_its_exact_changes(cycle_ns: int, found: set[str]) -> None:
    assert found_in([(2 * S, 5, blink(cycle_ns))]) == found


@settings(deadline=None, max_examples=30)
@given(JUMPS)
def test_the_strip_lets_all_of_a_plan_out_in_which_nothing_is_found(shots: Shots) -> None:
    frames = frames_of(shots, MS)
    guard = FlashGuard(LEDS)
    let_out = all(guard.admit(at_ns, colours) == colours for at_ns, colours in frames)
    # Of red more is held back than flashes: once gone it rests.
    red = any(saturated_red(colour) for _, colours in frames for colour in colours)
    assert let_out or red or found_in(shots)
    if found_in(shots):
        assert not let_out


@pytest.mark.parametrize("form", ["on_off", "swell", "queue", "shuttle"])
@pytest.mark.parametrize("cycle_ns", [333 * MS, 999_999_999, S])
def test_a_form_jumps_when_it_says_and_at_no_other_time(form: str, cycle_ns: int) -> None:
    pattern = LightPattern(form=form, colours=(OKABE_ITO["white"], BLACK), lasts_ns=S, cycle_ns=cycle_ns, width=0.2)  # type: ignore[arg-type]
    jumps = jumps_ns(pattern, LEDS)
    assert jumps[0] == 0 or form == "shuttle"
    if form == "swell":
        return
    looks = [colours_at(pattern, LEDS, at_ns, 1.0) for at_ns in jumps]
    for at_ns, shown, end_ns in zip(jumps, looks, [*jumps[1:], jumps[0] + cycle_ns], strict=True):
        assert all(colours_at(pattern, LEDS, inside, 1.0) == shown for inside in range(at_ns, end_ns - 1, 10 * MS))
        assert colours_at(pattern, LEDS, end_ns - 2, 1.0) == shown
        assert colours_at(pattern, LEDS, end_ns, 1.0) != shown
