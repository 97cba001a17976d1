"""The table that robot code holds, against the timeline; and what its top says to a reader."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.export.robot_games import random_source
from tests.support.model.compiled_games import PATTERNS, cue, match_of, period, plan_of
from tocsin.errors import MistakeError, UsageError
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.pattern import shaking
from tocsin.export.robot.python import python_source
from tocsin.export.robot.table import FOREVER_MS, exported, table_of
from tocsin.model.display.digits import official
from tocsin.model.game import Variant
from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

RUMBLE = {"rumble": "triple"}
TARGETS = {"c": c_source, "java": lambda made: java_source(made, "TocsinPlan"), "python": python_source}
every_target = pytest.mark.parametrize("target", TARGETS)


def table(*cues, game=None, **rest):
    return table_of(source(game or match_of(**rest), plan_of(*cues)))


def head_of(made, target="python"):
    """Return the text at the top of a file."""
    text = TARGETS[target](made)
    return text[: text.index("---- What the plan names")]


@given(st.integers(0, 2000))
def test_a_firing_is_due_not_before_its_offset_and_no_later_than_its_limit(seed):
    made = random_source(seed)
    rows, firings = table_of(made).firings, exported(made.timeline)
    for row, firing in zip(rows, firings, strict=False):
        if not firing.begin.anchor.startswith("call."):
            late_ns = row.due_ms * MS - firing.begin.offset_ns
            assert 0 <= late_ns < MS
            assert 0 <= firing.begin.offset_ns + firing.late_limit_ns - row.last_ms * MS < MS
            assert row.priority == firing.priority
    assert table_of(made).rumble == len(firings) + len(table_of(made).roles)


@given(st.integers(0, 2000))
def test_periods_begin_where_the_timeline_has_them_and_name_the_first_firing_due_there(seed):
    made = random_source(seed)
    made_table = table_of(made)
    for row, slot in zip(made_table.periods, made.timeline.periods, strict=True):
        assert 0 <= slot.begin_ns - row.begin_ms * MS < MS
        edges = made_table.segments[row.segment]
        for first, begin, end in zip(row.first, edges[::2], edges[1::2], strict=True):
            assert begin <= first <= end
            assert all(one.due_ms <= row.begin_ms for one in made_table.firings[begin:first])
            assert all(one.due_ms >= row.begin_ms for one in made_table.firings[first:end])


def test_an_end_on_another_anchor_is_never_learned():
    game = match_of(period("auto", 30), period("drive", 60, by_hand=True))
    made = table(
        cue("own", "auto.begin", "auto.begin+1.0005s", patterns=RUMBLE, roles=("driver",)),
        cue("other", "auto.begin+1s", "drive.begin+1s", patterns=RUMBLE, roles=("driver",)),
        cue("once", "auto.begin+2s", patterns=RUMBLE, roles=("driver",)),
        game=game,
    )
    assert [row.until_ms for row in made.firings[:3]] == [1001, FOREVER_MS, 0]


def test_only_rumble_is_in_the_table_and_marks_are_not():
    made = table(
        cue("felt", "driver.begin", patterns={"rumble": "short", "screen": "word"}),
        cue("seen", "driver.begin+1s"),
        cue("marked", "mark.swap+1s", patterns=RUMBLE),
        cue("by_hand", patterns=RUMBLE, callable=True),
    )
    assert [one.id for one in made.cues] == ["felt", "by_hand", "clock-lost"]
    assert [one.calls for one in made.cues] == [0, 2, 0]
    assert made.lost == 4
    assert len(made.firings) == 6


def test_a_plan_without_rumble_still_says_that_the_clock_is_lost():
    made = table(cue("seen", "driver.begin"))
    assert made.roles == ("driver", "operator")
    assert [made.cues[row.cue].id for row in made.firings] == ["clock-lost", "clock-lost"]


def test_a_pattern_near_the_end_of_the_match_is_cut_where_ringing_out_ends():
    long = RumblePattern(steps=(RumbleStep(strong=0.5, lasts_ns=900 * MS), RumbleStep(lasts_ns=100 * MS)), times=4)
    plan = replace(plan_of(cue("a", "driver.begin", patterns={"rumble": "long"}), cue(
        "b", "match.end", patterns={"rumble": "long"})), patterns=replace(PATTERNS, rumble={"long": long}))  # fmt: skip
    made = table_of(source(match_of(), plan))
    assert [pattern.lasts_ms for pattern in made.patterns[:2]] == [4000, 2000]


def test_steps_join_where_nothing_changes_and_keep_what_turns_at_all():
    one = RumblePattern(steps=(
        RumbleStep(strong=1.0, lasts_ns=100 * MS), RumbleStep(strong=1.0, lasts_ns=50 * MS),
        RumbleStep(weak=0.001, lasts_ns=60 * MS), RumbleStep(lasts_ns=70 * MS),
    ), times=2)  # fmt: skip
    made = shaking("p", one, 10 * S)
    assert made.steps == (
        (100, 0, 150), (0, 1, 210), (0, 0, 280), (100, 0, 430), (0, 1, 490), (0, 0, 560)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("pattern", "pulses"),
    [
        ("triple", (300, 300, 300)),
        ("long", (700,)),
        ("short", (300,)),
        ("double", (300, 300)),
        ("ramp", (700,)),
        ("long_short", (700, 300)),
    ],
)
def test_bundled_patterns_become_pulses_that_can_be_told_apart(pattern, pulses):
    found = bundled("full").plan.patterns.rumble[pattern]
    assert shaking(pattern, found, 10 * S).pulses == pulses


# Where the display changes to a reading, the model's own rounding reads it, and a nanosecond before it does not.
@given(st.integers(0, 2000), st.integers(0, 40))
def test_the_display_reads_a_second_from_where_official_sets_the_clock(seed, shown_s):
    made = random_source(seed)
    timeline = made.timeline
    for row, slot in zip(table_of(made).periods, timeline.periods, strict=True):
        if row.zero_ms is None or slot.end_ns % MS or timeline.counts == "match":
            continue
        left_ms = (shown_s + (timeline.digits == "floor")) * 1000
        at_ms = row.zero_ms - left_ms
        if row.low_ms <= at_ms < row.high_ms and at_ms * MS > slot.begin_ns:
            text = f"{shown_s // 60}:{shown_s % 60:02d}"
            left_ns = timeline.at({slot.anchor: at_ms * MS}).left_ns
            shown = {official(left_ns - 1, timeline.digits), official(left_ns + 1, timeline.digits)}
            assert text in shown
            assert len(shown) == 2


def test_a_display_of_the_whole_match_reads_zero_at_its_end():
    made = table(cue("a", "driver.begin", patterns=RUMBLE), counts="match")
    assert [row.zero_ms for row in made.periods] == [136_000, 136_000, 136_000, None]
    assert [row.high_ms for row in made.periods] == [140_000] * 4
    by_period = table(cue("a", "driver.begin", patterns=RUMBLE))
    assert [row.zero_ms for row in by_period.periods] == [28_000, 39_000, 136_000, None]


# -- what does not fit ------------------------------------------------------------------------------------------------


@every_target
def test_too_many_firings_are_refused_with_the_way_to_fix_it(target):
    many = cue("many", "driver.begin", "driver.begin+60s", every_ns=20 * MS, patterns=RUMBLE)
    with pytest.raises(MistakeError, match="5000 firings of rumble, light and sound, and this plan has 6000") as caught:
        TARGETS[target](source(match_of(), plan_of(many)))
    assert "every" in caught.value.hint


@every_target
def test_a_match_of_weeks_is_refused(target):
    game = match_of(period("drive", 600_000))
    with pytest.raises(MistakeError, match="32 bits of milliseconds"):
        TARGETS[target](source(game, plan_of(cue("a", "drive.end", patterns=RUMBLE))))


@pytest.mark.parametrize("name", ["plan", "1Plan", "My Plan", "Pl\u00e4n", "", "String", "A;B", "A\n"])
def test_a_name_that_java_takes_for_no_class_is_refused(name):
    with pytest.raises(UsageError, match="cannot be the name of a class"):
        java_source(bundled("quiet"), name)


@pytest.mark.parametrize("prefix", ["", "Big", "1a", "a b", "_own", "\u00e4"])
def test_a_prefix_that_c_takes_for_no_name_is_refused(prefix):
    with pytest.raises(UsageError, match="cannot begin names in C"):
        c_source(bundled("quiet"), prefix)


# -- the top of the file ----------------------------------------------------------------------------------------------


@every_target
@pytest.mark.parametrize("plan", BUNDLED)
def test_the_top_says_where_it_comes_from_and_what_it_must_not_be_used_for(plan, target):
    made = bundled(plan)
    top = head_of(made, target)
    for line in (*made.origin_lines, "No cue stops a robot", "The event's rules come first"):
        assert line in top


@every_target
def test_the_top_names_what_is_left_out(target):
    top = head_of(bundled("full"), target)
    assert "Cues that have no rumble: pads, last_five." in top
    marked = cue("b", ["mark.swap+1s", "driver.end"], patterns=RUMBLE)
    top = head_of(source(match_of(), plan_of(cue("a", "driver.begin", patterns=RUMBLE), marked)), target)
    assert "which a robot cannot know: b n=1 (mark.swap)." in top


# By the plan: home at 114 s, choose at 126 s, over at 136 s of a match whose driver period begins at 39 s.
def test_three_timers_hold_the_most_important_cues_in_their_order():
    block = head_of(bundled("full")).split("FOR A PROGRAM MADE OF BLOCKS")[1].split("THE RULES")[0]
    lines = [line.split() for line in block.splitlines() if " s " in line]
    assert [(line[1], line[3]) for line in lines] == [("75", "home"), ("87", "choose"), ("97", "over")]
    assert lines[0][-3:] == ["short", "short", "short"]


def test_timers_say_in_which_variant_they_hold_and_take_halves_of_a_second():
    game = match_of(variants=(Variant(id="north_first", title="North"),))
    made = source(game, plan_of(cue("a", "driver.begin+9.5s", patterns=RUMBLE, when="north_first")))
    (line,) = [line for line in head_of(made).splitlines() if line.split()[1:4] == ["9.5", "s", "a"]]
    assert line.endswith("only in variant north_first")


@every_target
def test_equal_inputs_give_equal_bytes(target):
    for plan in BUNDLED:
        assert TARGETS[target](bundled(plan)) == TARGETS[target](bundled(plan))
    assert TARGETS[target](random_source(3)) == TARGETS[target](random_source(3))


@every_target
def test_the_text_is_ascii_with_plain_line_ends_and_no_line_too_wide_to_read(target):
    for plan in BUNDLED:
        text = TARGETS[target](bundled(plan))
        assert text.isascii()
        assert "\r" not in text
        assert "\t" not in text
        assert text.endswith("\n")
        assert max(map(len, text.splitlines())) <= 140
        assert all(line == line.rstrip() for line in text.splitlines())
