"""What robot code shows on a strip, against the laptop's own forms and its flash guard."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.export.robot_drivers import python_module
from tests.support.model.compiled_games import cue, match_of, period, plan_of
from tocsin.channels.light.forms import colours_at
from tocsin.errors import MistakeError
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.light import FORMS, FULL_WIDTH, colours, look
from tocsin.export.robot.python import python_source
from tocsin.model.game import Variant
from tocsin.model.pattern import LightPattern, Patterns
from tocsin.model.safety import MAX_FLASHES, FlashGuard, flicker
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

WHITE, RED, BLUE = (255, 255, 255), (255, 0, 0), (0, 114, 178)
RGB = st.tuples(*[st.integers(0, 255)] * 3)


@given(
    st.sampled_from(FORMS), st.lists(RGB, min_size=1, max_size=2), st.integers(100, 60_000), st.integers(100, 10_000),
    st.floats(0, 1), st.integers(1, 2000), st.integers(0, 600_000), st.integers(1, 600_000), st.fractions(0, 1),
)  # fmt: skip
def test_a_look_is_what_the_strips_own_channel_shows(form, rgb, cycle_ms, width, level, leds, ago_ms, whole_ms, share):
    """To a rounding in colours that fade, and to one LED where a width, a place or what is left lies on a border."""
    pattern = LightPattern(
        form=form, colours=tuple(rgb), lasts_ns=S, cycle_ns=cycle_ms * MS, width=width / FULL_WIDTH, level=level
    )
    left_ms = max(1, int(whole_ms * share))
    made = colours(look("p", pattern, S), leds, ago_ms, left_ms, whole_ms)
    shown = colours_at(pattern, leds, ago_ms * MS, left_ms / whole_ms)
    if form == "swell":
        assert max(abs(one - other) for one, other in zip(made[0], shown[0], strict=True)) <= 2
        assert len(set(made)) == 1
        return
    changed = [led for led in range(leds) if made[led] != shown[led]]
    # Each border that may round the other way moves at most one LED; bands have many borders.
    assert set(made) <= {tuple(round(value * level) for value in one) for one in (*rgb, (0, 0, 0))}
    exact = Fraction(width, FULL_WIDTH) * leds
    near_half = abs(exact - int(exact) - Fraction(1, 2)) < Fraction(1, 10**6)
    if form in ("plain", "on_off") or (form in ("bands", "queue", "apart") and not near_half):
        assert changed == []
    else:
        assert len(changed) <= (leds if near_half else 2)


@pytest.mark.parametrize("plan", BUNDLED)
def test_exported_light_of_a_whole_match_passes_the_flash_guard_untouched(plan):
    """Polled each 20 ms on one clock, all of it from the exported module itself."""
    module = python_module(bundled(plan))
    robot = module.TocsinPlan()
    assert robot.begin(0)
    guard, frames = FlashGuard(30), []
    for now in range(0, 180_000, 20):
        robot.roll(now)
        robot.light(now, 30)
        shown = [robot.led(led) for led in range(30)]
        assert guard.admit(now * MS, shown) == shown
        frames.append((now * MS, shown))
    assert flicker(frames).within(MAX_FLASHES)
    assert any(shown[0] != (0, 0, 0) for _, shown in frames)


TARGETS = {"c": c_source, "java": lambda made: java_source(made, "Plan"), "python": python_source}


def lit(*cues, game=None, **lights):
    patterns = Patterns(light=lights)
    return source(game or match_of(period("drive", 60)), plan_of(*cues, patterns=patterns))


@pytest.mark.parametrize("target", TARGETS)
def test_light_that_flashes_too_often_is_refused_with_the_figure(target):
    """WCAG 2.2, "general flash and red flash thresholds", allows three flashes in a second; Tocsin two (model.safety).
    Ten changes a second are by hand: on and off five times."""
    flash = LightPattern(form="on_off", colours=(WHITE,), cycle_ns=200 * MS, lasts_ns=3 * S)
    with pytest.raises(MistakeError, match="would flash: 10 changes between bright and dark, and 0 of red") as caught:
        TARGETS[target](lit(cue("a", "drive.begin+1s", patterns={"light": "x"}), x=flash))
    # The fifth change in a second is the first too many: at 1.4 s, with a change each 100 ms from 1 s on.
    assert "near 1.4 s of drive" in str(caught.value)
    assert "tocsin check" in caught.value.hint


@pytest.mark.parametrize(("cycle_ms", "passes"), [(500, True), (499, False), (1000, True)])
def test_two_flashes_in_a_second_are_the_most(cycle_ms, passes):
    flash = LightPattern(form="on_off", colours=(WHITE,), cycle_ns=cycle_ms * MS, lasts_ns=10 * S)
    made = lit(cue("a", "drive.begin+1s", patterns={"light": "x"}), x=flash)
    if passes:
        python_source(made)
    else:
        with pytest.raises(MistakeError, match="would flash"):
            python_source(made)


def test_red_that_comes_again_at_once_is_refused():
    red = LightPattern(form="on_off", colours=(RED,), cycle_ns=3 * S, lasts_ns=12 * S)
    with pytest.raises(MistakeError, match="of red"):
        python_source(lit(cue("a", "drive.begin", patterns={"light": "x"}), x=red))


def test_cues_that_flash_only_together_are_refused_and_so_is_a_call_that_does():
    glow = LightPattern(form="plain", colours=(WHITE,), lasts_ns=100 * MS)
    cues = [cue(f"c{n}", f"drive.begin+{1000 + 200 * n}ms", patterns={"light": "x"}) for n in range(3)]
    with pytest.raises(MistakeError, match=r"would flash: [56] changes"):
        python_source(lit(*cues, x=glow))
    python_source(lit(*cues[:2], x=glow))
    flash = LightPattern(form="on_off", colours=(WHITE,), cycle_ns=200 * MS, lasts_ns=3 * S)
    with pytest.raises(MistakeError, match="the call of home"):
        python_source(lit(cue("home", patterns={"light": "x"}, callable=True), x=flash))


def test_a_variant_that_is_not_played_adds_no_flash():
    """Each variant by itself: two cues of 4 changes in all never come together."""
    glow = LightPattern(form="plain", colours=(WHITE,), lasts_ns=100 * MS)
    game = match_of(period("drive", 60), variants=(Variant(id="u", title="U"), Variant(id="v", title="V")))
    cues = [cue(f"c{n}", f"drive.begin+{1000 + 200 * n}ms", patterns={"light": "x"}, when=when)
            for n, when in enumerate("uuvv")]  # fmt: skip
    python_source(lit(*cues, game=game, x=glow))


# -- what shows when --------------------------------------------------------------------------------------------------


def looks_at(robot, leds=30):
    robot.light(0, leds)
    return [robot.led(led) for led in range(leds)]


# By the plan: home from 0:22 (75 s) to 0:18, in blocks of purple and white, a fifth of the strip each: six LEDs.
def test_the_strip_of_a_robot_says_home_by_the_plans_own_words():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 74_999)
    assert not robot.light(0, 30)
    robot.poll(module.PERIOD_DRIVER, 75_000)
    assert robot.light(0, 30)
    assert looks_at(robot) == ([(204, 121, 167)] * 6 + [(255, 255, 255)] * 6) * 2 + [(204, 121, 167)] * 6
    robot.poll(module.PERIOD_DRIVER, 78_999)
    assert looks_at(robot)[0] == (204, 121, 167)
    robot.poll(module.PERIOD_DRIVER, 79_000)                            # no touch: both ends white, 0.3 of 30 each
    assert looks_at(robot) == [WHITE] * 9 + [(0, 0, 0)] * 12 + [WHITE] * 9


def test_a_late_light_that_does_not_hold_is_left_out_and_one_that_holds_is_not():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 64_000)                            # last_load came at 63 s, for 3 s
    assert not robot.light(0, 30)
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 77_000)
    assert robot.light(0, 30)


def test_a_called_light_holds_until_its_moment_or_for_its_own_time():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    assert robot.call(module.CUE_HOME, 1000) == 2
    assert [robot.light(now, 30) for now in (1000, 4999, 5000)] == [True, True, False]        # home lasts 4 s by itself
    robot.poll(module.PERIOD_DRIVER, 70_000)
    robot.call(module.CUE_HOME, 9000)
    assert robot.light(9000, 30)
    robot.poll(module.PERIOD_DRIVER, 78_999)
    assert looks_at(robot)[0] == (204, 121, 167)                        # until the window begins, at 79 s
    robot.poll(module.PERIOD_DRIVER, 79_000)
    assert looks_at(robot)[0] == WHITE


def test_a_lost_clock_leaves_the_strip_dark():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.poll(module.PERIOD_DRIVER, 80_000)
    assert robot.light(0, 30)
    robot.clock_lost()
    assert not robot.light(0, 30)
    robot.poll(module.PERIOD_DRIVER, 80_000)
    assert not robot.light(0, 30)
    assert robot.official(module.PERIOD_DRIVER, 80_000, 10)
    robot.poll(module.PERIOD_DRIVER, 80_000)
    assert robot.light(0, 30)


# -- one clock --------------------------------------------------------------------------------------------------------


def test_one_button_plays_the_whole_match_at_the_timelines_moments():
    """Each cue by its nominal match time, a quarter of a second early: a press counts as 250 ms late."""
    made = bundled("full")
    module = python_module(made)
    robot = module.TocsinPlan()
    assert robot.waits(0)
    assert sum(robot.roll(now) for now in range(0, 5000, 20)) == 0
    assert robot.begin(5000)
    assert not robot.begin(5001)                                        # nothing waits: the match is on
    came = {}
    for now in range(5000, 160_000):
        robot.roll(now)
        for i in range(robot.count):
            key = (module.cue_id(robot.fired[i]), module.n_of(robot.fired[i]), module.role_id(robot.fired[i]))
            assert key not in came
            came[key] = now
        if robot.over(now):
            break
    assert now == 5000 + 140_000 - 250
    timeline = made.timeline
    assert came == {
        (f.cue, f.n, f.role): 5000 - 250 + f.match_ns // MS
        for f in timeline.firings if f.channel == "rumble" and f.match_ns is not None
    }  # fmt: skip


def test_a_period_that_a_person_begins_waits_for_the_press():
    game = match_of(period("auto", 10), period("drive", 20, by_hand=True))
    plan = plan_of(cue("a", "drive.begin+1s", patterns={"rumble": "short"}, roles=("driver",)))
    robot = python_module(source(game, plan)).TocsinPlan()
    assert robot.begin(0)
    assert [robot.waits(now) for now in (0, 9_749, 9_750)] == [False, False, True]
    assert not robot.begin(5_000)
    assert sum(robot.roll(now) for now in range(0, 30_000, 10)) == 0
    assert robot.begin(30_000)
    assert [robot.roll(now) for now in (30_000, 30_749, 30_750)] == [0, 0, 1]
    assert robot.log_line(0) == "TOCSIN1 period=drive ms=1000 cue=a n=0 role=driver outcome=played"
    assert [robot.over(now) for now in (49_749, 49_750)] == [False, True]
    assert not robot.begin(60_000)


# The figures of a brown-out as it was measured on an emulated chip: pressed at 0:25, home comes 2.75 s later.
def test_a_clock_that_is_lost_is_set_by_the_display_though_nothing_has_begun():
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.clock_lost()
    assert not robot.waits(0)
    assert [robot.roll(now) for now in (0, 20, 40)] == [3, 0, 0]        # said once, on each pad
    assert not robot.sync(100, 200)                                     # no driver period shows 3:20
    assert robot.status == module.WRONG_READING
    assert robot.sync(1000, 25)
    came = [(now, module.cue_id(robot.fired[i])) for now in range(1000, 5000) for i in range(robot.roll(now))]
    assert came == [
        (1000 + 2000 - 250, "coach_call"), (1000 + 3000 - 250, "home"), (1000 + 3000 - 250, "home")
    ]  # fmt: skip


def test_a_press_at_the_display_while_the_match_is_on_moves_the_clock_as_little_as_it_can():
    """0:05 is on the display in three of the periods; 2 s before the end of the first one that is meant."""
    module = python_module(bundled("full"))
    robot = module.TocsinPlan()
    robot.begin(0)
    robot.roll(25_000)
    assert robot.sync(25_000, 5)                                        # 23 s of auto's 28 have passed
    assert robot.ms(25_000) == 23_250
    robot.roll(36_000)
    assert robot.sync(36_000, 5)                                        # the pause ends at 39 s
    assert robot.ms(36_000) == 34_250


def test_random_presses_of_one_button_begin_nothing_twice():
    rng = random.Random(4)
    module = python_module(bundled("full"))
    for _ in range(20):
        robot = module.TocsinPlan()
        now, given = rng.choice([0, (1 << 31) - 60_000]), set()
        for _ in range(4000):
            now += rng.randint(0, 60)
            if rng.random() < 0.02:
                robot.begin(now)
            if rng.random() < 0.01:
                robot.sync(now, rng.randint(0, 97))
            for i in range(robot.roll(now)):
                key = robot.fired[i]
                assert key not in given
                given.add(key)
