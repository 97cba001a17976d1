"""Flashing: the labelled sequences, the count against the model's, the findings against a plain look at each frame."""

from pathlib import Path

import numpy as np
import pytest
from compiled_games import cue
from hypothesis import given, settings
from hypothesis import strategies as st
from inspected import Case, look

from tocsin.channels.strip_forms import colours_at
from tocsin.cli.check import devices
from tocsin.inspection.counting import changes, levels
from tocsin.inspection.flashing import flashing
from tocsin.inspection.subject import Subject
from tocsin.model.compiler import compile_plan
from tocsin.model.game import Game, Period
from tocsin.model.pattern import LightPattern, Patterns
from tocsin.model.plan import Plan
from tocsin.model.rig import Light, Rig
from tocsin.model.safety import BLACK, OKABE_ITO, WCAG_FLASHES, flicker, relative_luminance
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S
from tocsin.units import format_clock

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
form = "solid"
colours = ["#{low:02x}{low:02x}{low:02x}"]
lasts = "1s"
[pattern.light.high]
form = "solid"
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


# Jordan, HCII 2025, LNCS 15780, 85-98, its test-media repository (BSD-3; facts/checks.md): which sequences fail and
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
    assert counts.max() == flicker(zip(times.tolist(), rows, strict=True)).general
    few = changes(times, lit, above=4)
    assert (few[counts > 4] == counts[counts > 4]).all()
    assert set(few[counts <= 4].tolist()) <= {0, *counts[counts <= 4].tolist()}


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_levels_are_relative_luminance(colour: tuple[int, int, int]) -> None:
    # Relative luminance of WCAG 2.2, as the model has it.
    assert levels(np.array(colour, np.uint8)) / 1e9 == pytest.approx(relative_luminance(colour), abs=1e-8)


# --- what is found in a plan against a plain look at each frame of it -------------------------------------------------

GAME = Game(name="Pier", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=20 * S),))
LEDS = 10
RIG = Rig(name="Pier", light=Light(leds=LEDS))
TENTH = st.integers(0, 120).map(lambda n: n * 40 * MS)
PATTERN = st.builds(
    LightPattern,
    form=st.sampled_from(["solid", "blink", "breathe", "sweep", "chase", "stripes", "fill"]),
    colours=st.tuples(COLOURS, COLOURS),
    lasts_ns=st.integers(2, 40).map(lambda n: n * 40 * MS),
    cycle_ns=st.integers(3, 40).map(lambda n: n * 40 * MS),
    width=st.sampled_from([0.1, 0.2, 0.5]),
)
SHOTS = st.lists(st.tuples(TENTH, st.integers(0, 9), PATTERN), min_size=1, max_size=5, unique_by=lambda shot: shot[0])
Shots = list[tuple[int, int, LightPattern]]


def frames_of(shots: Shots) -> list[tuple[int, list[tuple[int, int, int]]]]:
    """Return all frames: at every begin and end and each 20 ms of a pattern, the colours of what is foremost."""
    moments = {-1}
    for begin_ns, _, pattern in shots:
        moments |= {begin_ns, begin_ns + pattern.lasts_ns, *range(begin_ns, begin_ns + pattern.lasts_ns, 20 * MS)}
    frames = []
    for at_ns in sorted(moments):
        on = [shot for shot in shots if shot[0] <= at_ns < shot[0] + shot[2].lasts_ns]
        colours = [BLACK] * LEDS
        if on:
            begin_ns, _, pattern = max(on, key=lambda shot: (shot[1], shot[0]))
            left = (begin_ns + pattern.lasts_ns - at_ns) / pattern.lasts_ns
            colours = colours_at(pattern, LEDS, at_ns - begin_ns, left)
        frames.append((at_ns, colours))
    return frames


@settings(deadline=None, max_examples=50)
@given(SHOTS)
def test_what_is_found_is_what_a_plain_look_at_each_frame_finds(shots: Shots) -> None:
    names = [f"cue_{n}" for n in range(len(shots))]
    cues = tuple(
        cue(name, f"driver.begin+{format_clock(begin_ns)}", priority=priority, patterns={"light": name})
        for name, (begin_ns, priority, _) in zip(names, shots, strict=True)
    )
    patterns = Patterns(light={name: shot[2] for name, shot in zip(names, shots, strict=True)})
    plan = Plan(name="Pier", game="pier", cues=cues, patterns=patterns)
    timeline, mistakes = compile_plan(GAME, plan)
    assert timeline is not None, mistakes
    most = flicker(frames_of(shots)).general
    subject = Subject(GAME, plan, timeline, devices(), rig=RIG)
    found = {finding.level for finding in flashing(subject) if finding.code == "flash"}
    if most <= 4:
        assert not found
    elif most <= 2 * WCAG_FLASHES:
        assert found == {"warning"}
    else:
        assert "error" in found
