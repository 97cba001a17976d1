"""From game and plan to the timeline: every mistake with its place, then what fires when, then properties."""

import msgspec
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.model.compiled_games import (
    ALL_CHANNELS,
    PERIODS,
    STANDARD,
    WINDOWS,
    cue,
    games_and_plans,
    match_of,
    moments,
    period,
    plan_of,
    window,
)
from tocsin.model import diagnostics as findings
from tocsin.model.announcing import completed
from tocsin.model.compiler.compiler import CODES, compile_plan
from tocsin.model.game import Stake, Threshold, Variant
from tocsin.model.pattern import LightPattern, Patterns, RumblePattern, RumbleStep, SoundPattern, SoundStep
from tocsin.model.plan import CHANNELS, ROLES
from tocsin.model.timeline.point import RING_OUT_NS
from tocsin.model.timeline.timeline import Point
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

STAKED = replace(
    STANDARD,
    stakes=(
        Stake(id="home", title="Home", points=18, to="us"),
        Stake(id="half", title="Half", points=7, to="us", most=2),
        Stake(id="contact", title="Contact", points=9, to="opponents"),
    ),
    thresholds=(Threshold(id="t", title="T", points=30, counts=("home", "half")),),
)


def counting(*stakes):
    return replace(STAKED, thresholds=(replace(STAKED.thresholds[0], counts=stakes),)), NO_PLAN


BY_HAND = match_of(
    period("auto", 28, "autonomous"), period("driver", 97, by_hand=True), period("settle", 4, "settle")
)
OPEN = match_of(period("auto", 28, "autonomous"), period("pause", None, "pause"), period("driver", 97))
DOORS = match_of(
    period("driver", 82),
    windows=[
        window(
            "door", ["driver.begin", "driver.begin+34s", "driver.begin+54s"],
            ["door.2.begin", "door.3.begin", "driver.end"],
        )
    ],
)
NO_PLAN = plan_of()


def at(text, game=STANDARD, leads=None, **rest):
    return game, plan_of(cue(at=text, **rest), leads=leads or {"break_off": 4 * S})


def with_window(*windows, game=STANDARD):
    return replace(game, windows=(*game.windows, *windows)), NO_PLAN


def with_variants(*variants):
    return replace(STANDARD, variants=variants), NO_PLAN


def announcing(other, game=STANDARD, home=None, **rest):
    """Return a game and a plan with a cue that announces another, ``home`` unless it is given at 41 s."""
    home = cue(at="driver.begin+2s") if home is None else home
    return game, plan_of(home, cue("ready", announces=other, **{"ahead_ns": S, **rest}))


A_CHAIN = tuple(window(f"w{n}", [f"w{n - 1}.begin"] * 4 if n else "driver.begin", "driver.end") for n in range(6))
A_ROW = tuple(window(f"w{n}", f"w{n - 1}.begin" if n else "driver.begin", "driver.end") for n in range(51))

BEEP = SoundPattern(steps=(SoundStep(hz=750, lasts_ns=10 * S),))
LOUD = STANDARD, replace(
    plan_of(*(cue(f"c{n}", at="driver.begin", patterns={"sound": f"s{n}"}) for n in range(13))),
    patterns=Patterns(sound={f"s{n}": BEEP for n in range(13)}),
)

# game and plan, the code, file and path of its one mistake, and facts that its sentence needs
MISTAKES = [
    (with_window(window("pause", "driver.begin", "driver.end")), "duplicate_id", "game", ("window", 2, "id"),
     {"name": "pause", "kind": "period or window"}),
    (with_variants(Variant(id="a", title="A"), Variant(id="a", title="A")), "duplicate_id", "game",
     ("variant", 1, "id"), {"kind": "variant"}),
    ((replace(STANDARD, stakes=(Stake(id="a", title="A", points=1, to="us"),) * 2), NO_PLAN), "duplicate_id", "game",
     ("stake", 1, "id"), {"kind": "stake"}),
    ((replace(STAKED, thresholds=STAKED.thresholds * 2), NO_PLAN), "duplicate_id", "game", ("threshold", 1, "id"),
     {"kind": "threshold"}),
    (counting("home", "hoem"), "unknown_stake", "game", ("threshold", 0, "counts", 1),
     {"name": "hoem", "likely": "home", "expected": "home, half, contact"}),
    (counting("home", "half", "home"), "listed_twice", "game", ("threshold", 0, "counts", 2), {"text": "home"}),
    (counting("contact"), "stake_of_others", "game", ("threshold", 0, "counts", 0), {"name": "contact"}),
    (counting("half"), "out_of_reach", "game", ("threshold", 0, "points"), {"text": "30", "high": "14"}),
    ((STANDARD, plan_of(cue(at="driver.begin"), cue(at="driver.end"))), "duplicate_id", "plan", ("cue", 1, "id"),
     {"kind": "cue"}),
    (with_window(window("match", "driver.begin", "driver.end")), "reserved_id", "game", ("window", 2, "id"),
     {"name": "match"}),
    (at("no_contakt.begin-4s"), "unknown_base", "plan", ("cue", 0, "at"),
     {"name": "no_contakt", "likely": "no_contact.begin-4s"}),
    (at(["driver.begin", "xyz.begin"]), "unknown_base", "plan", ("cue", 0, "at", 1), {"likely": ""}),
    (at("no_contact.begin-break_of"), "unknown_lead", "plan", ("cue", 0, "at"),
     {"name": "break_of", "likely": "no_contact.begin-break_off", "expected": "break_off"}),
    (with_window(window("w", "driver.begin+break_off", "driver.end")), "unknown_lead", "game", ("window", 2, "begin"),
     {"expected": "none"}),
    (at("driver.begin", patterns={"rumble": "tripple"}), "unknown_pattern", "plan", ("cue", 0, "rumble"),
     {"channel": "rumble", "likely": "triple", "expected": "triple, short"}),
    (at("driver.begin", when="north_furst", game=with_variants(Variant(id="north_first", title="N"))[0]),
     "unknown_variant", "plan", ("cue", 0, "when"), {"likely": "north_first"}),
    ((replace(STANDARD, stakes=(Stake(id="a", title="A", points=1, to="us", during="no_contract"),)), NO_PLAN),
     "unknown_window", "game", ("stake", 0, "during"), {"likely": "no_contact"}),
    ((replace(STANDARD, periods=(), windows=()), NO_PLAN), "no_period", "game", ("period",), {}),
    ((match_of(period("settle", 4, "settle")), NO_PLAN), "no_period", "game", ("period",), {}),
    ((match_of(period("auto", 0), period("driver", 1)), NO_PLAN), "no_length", "game", ("period", 0, "lasts"),
     {"name": "auto"}),
    ((match_of(period("settle", 4, "settle"), period("driver", 1)), NO_PLAN), "settle_not_last", "game",
     ("period", 0, "kind"), {"name": "settle"}),
    ((match_of(period("auto", 1), period("driver", None)), NO_PLAN), "open_last", "game", ("period", 1, "lasts"),
     {"name": "driver"}),
    (with_variants(Variant(id="a", title="A", default=True), Variant(id="b", title="B", default=True)),
     "two_defaults", "game", ("variant", 1, "default"), {"name": "b", "first": "a"}),
    (at("driver.2.begin"), "span_of_period", "plan", ("cue", 0, "at"), {"likely": ""}),
    (at("door.4.begin", game=DOORS), "span_out_of_range", "plan", ("cue", 0, "at"),
     {"count": "3", "options": "door.1.begin\ndoor.2.begin\ndoor.3.begin"}),
    (at("driver.begin", game=DOORS, until="door.end"), "one_meant", "plan", ("cue", 0, "until"),
     {"count": "3", "options": "door.1.end\ndoor.2.end\ndoor.3.end"}),
    (at("door.begin", game=DOORS, until="driver.end"), "pairing", "plan", ("cue", 0, "until"),
     {"begins": "3", "ends": "1"}),
    (at(["driver.begin", "driver.begin+9s"], until="driver.end"), "pairing", "plan", ("cue", 0, "until"),
     {"begins": "2", "ends": "1", "first": "at", "second": "until"}),
    (with_window(window("w", ["auto.begin", "driver.begin"], ["auto.end"])), "pairing", "game", ("window", 2, "end"),
     {"first": "begin"}),
    (with_window(window("w", "driver.end", "driver.end")), "end_not_after_begin", "game", ("window", 2, "end"),
     {"begin": "driver.end"}),
    (at("driver.begin+4s", game=BY_HAND, until="auto.end"), "end_not_after_begin", "plan", ("cue", 0, "until"), {}),
    (with_window(window("a", "b.end", "driver.end"), window("b", "auto.begin", "a.begin+5s")), "window_cycle", "game",
     ("window", 3, "end"), {"name": "b", "way": "a.begin -> b.end -> a.begin"}),
    (with_window(window("a", "a.begin+1s", "driver.end")), "window_cycle", "game", ("window", 2, "begin"), {}),
    (at("auto.begin-1ms"), "before_match", "plan", ("cue", 0, "at"), {"name": "auto.begin-1ms", "by": "1ms"}),
    (at("driver.begin-5s", game=BY_HAND), "before_by_hand", "plan", ("cue", 0, "at"), {"anchor": "driver"}),
    (at("pause.end-5s", game=OPEN), "before_by_hand", "plan", ("cue", 0, "at"), {"anchor": "driver"}),
    (at("mark.swap-1s"), "before_mark", "plan", ("cue", 0, "at"), {"anchor": "mark.swap"}),
    (at("auto.end+1s", game=BY_HAND), "beyond_segment", "plan", ("cue", 0, "at"), {"anchor": "driver", "by": "1s"}),
    (at("driver.end+1ms"), "after_end", "plan", ("cue", 0, "at"), {"by": "1ms", "expected": "136s"}),
    (at("settle.begin", game=match_of(period("driver", 9), period("settle", 4, "settle", by_hand=True))),
     "after_end", "plan", ("cue", 0, "at"), {}),
    (at("driver.begin", until="settle.end+1ms"), "after_end", "plan", ("cue", 0, "until"), {"expected": "140s"}),
    (with_window(window("w", "driver.begin", "settle.end+1s")), "after_end", "game", ("window", 2, "end"), {}),
    ((match_of(windows=A_ROW), NO_PLAN), "too_many", "game", ("window",), {"count": "51", "most": "50"}),
    (at("auto.begin", game=match_of(period("auto", 3600)), until="match.end", every_ns=100 * MS), "too_many", "plan",
     ("cue", 0, "every"), {"count": "36000"}),
    (at("auto.begin", game=match_of(period("auto", 300)), until="match.end", every_ns=40 * MS, roles=ROLES,
        patterns={"rumble": "short"}), "too_many_firings", "plan", ("cue", 0), {"count": "37500", "most": "20000"}),
    (LOUD, "too_much_sound", "plan", ("cue", 12, "sound"), {"count": "130s", "most": "120s"}),
    (at("driver.begin", patterns={}), "no_channel", "plan", ("cue", 0), {"name": "home"}),
    (at("driver.begin", patterns={"rumble": "short"}, roles=()), "no_role", "plan", ("cue", 0, "for"), {}),
    (at(()), "no_moment", "plan", ("cue", 0), {"name": "home"}),
    (at((), callable=True, every_ns=S), "no_moment", "plan", ("cue", 0), {}),
    (at((), callable=True, until=["auto.end", "driver.end"]), "until_without_at", "plan", ("cue", 0, "until"), {}),
    (at(["auto.end", "pause.begin"]), "same_moment", "plan", ("cue", 0, "at", 1), {"other": "auto.end"}),
    (at("driver.begin", every_ns=S), "repeat_without_until", "plan", ("cue", 0, "every"), {"name": "home"}),
    (at("driver.begin", until="driver.end", every_ns=0), "repeat_never_ends", "plan", ("cue", 0, "every"), {}),
    (at("driver.begin", until="driver.end", every_ns=20 * MS - 1), "repeat_too_fast", "plan", ("cue", 0, "every"),
     {"expected": "20ms"}),
    (at("auto.begin", game=BY_HAND, until="driver.begin", every_ns=S), "repeat_across", "plan", ("cue", 0, "until"),
     {"anchor": "driver"}),
    (at("driver.begin", until="mark.swap", every_ns=S), "repeat_across", "plan", ("cue", 0, "until"), {}),
    (announcing("hoem"), "unknown_cue", "plan", ("cue", 1, "announces"), {"likely": "home", "expected": "home"}),
    (announcing("ready"), "announces_itself", "plan", ("cue", 1, "announces"), {"name": "ready"}),
    (announcing("home", ahead_ns=None), "no_ahead", "plan", ("cue", 1), {"name": "ready", "other": "home"}),
    (at("driver.begin", ahead_ns=S), "ahead_of_nothing", "plan", ("cue", 0, "ahead"), {"name": "home"}),
    ((STANDARD, plan_of(cue("a", announces="b", ahead_ns=S), cue("b", announces="c", ahead_ns=S),
                        cue("c", announces="b", ahead_ns=S))), "announce_circle", "plan", ("cue", 1, "announces"),
     {"name": "b", "way": "b -> c -> b"}),
    (announcing("home", home=cue(callable=True)), "announces_call", "plan", ("cue", 1, "announces"),
     {"name": "ready", "other": "home"}),
    (announcing("home", at="driver.end"), "own_moment", "plan", ("cue", 1, "at"), {"key": "at", "other": "home"}),
    (announcing("home", until="driver.end"), "own_moment", "plan", ("cue", 1, "until"), {"key": "until"}),
    (announcing("home", every_ns=S), "own_moment", "plan", ("cue", 1, "every"), {"key": "every"}),
    (announcing("home", callable=True), "own_moment", "plan", ("cue", 1, "callable"), {"key": "callable"}),
    (announcing("home", ahead_ns=42 * S), "before_match", "plan", ("cue", 1, "ahead"),
     {"name": "home - 42s", "by": "1s"}),
    (announcing("home", game=BY_HAND, home=cue(at="driver.begin+4s"), ahead_ns=5 * S), "before_by_hand", "plan",
     ("cue", 1, "ahead"), {"anchor": "driver"}),
    (announcing("home", home=cue(at="mark.swap"), ahead_ns=S), "before_mark", "plan", ("cue", 1, "ahead"), {}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("files", "code", "file", "path", "facts"),
    MISTAKES,
    ids=[f"{n}-{case[1]}" for n, case in enumerate(MISTAKES)],
)
def test_a_mistake_stands_where_it_was_made(files, code, file, path, facts):
    timeline, mistakes = compile_plan(*files)
    assert timeline is None
    assert [(m.code, m.file, m.path) for m in mistakes] == [(code, file, path)]
    assert facts.items() <= mistakes[0].facts.items()


def test_every_code_has_its_example():
    assert {code for _, code, *_ in MISTAKES} == set(CODES)
    assert len(CODES) == len(set(CODES))


def test_the_base_of_a_moment_is_marked():
    _, (mistake,) = compile_plan(*at("no_contakt.begin-4s"))
    assert mistake.span == (0, len("no_contakt.begin"))


def test_all_mistakes_of_both_files_come_at_once():
    game = match_of(
        period("auto", 28), period("auto", 11), period("driver", None),
        windows=[window("w", "drivr.begin", "settle.end")],
        stakes=(Stake(id="s", title="S", points=1, to="us", during="x"),),
    )  # fmt: skip
    plan = plan_of(
        cue("a", at="auto.begin-1s", patterns={"sound": "boop"}),
        cue("b", at="x.begin-lead", every_ns=1),
        cue("b"),
    )
    _, mistakes = compile_plan(game, plan)
    assert sorted(m.code for m in mistakes) == sorted([
        "duplicate_id", "open_last", "unknown_base", "unknown_base", "unknown_window", "duplicate_id",
        "unknown_pattern", "before_match", "unknown_base", "unknown_lead", "repeat_without_until", "repeat_too_fast",
        "no_moment",
    ])  # fmt: skip


def test_what_follows_from_a_mistake_elsewhere_is_not_reported_again():
    game = match_of(windows=[window("w", "drivr.begin", "driver.end")])
    plan = plan_of(cue(at="w.begin-4s", until="w.begin"), cue("b", at="w.begin", until="w.end"))
    _, mistakes = compile_plan(game, plan)
    assert [m.code for m in mistakes] == ["unknown_base"]


def test_windows_that_multiply_each_other_end_in_a_mistake_not_in_a_full_memory():
    _, mistakes = compile_plan(match_of(windows=A_CHAIN), NO_PLAN)
    assert {m.code for m in mistakes} >= {"too_many"}


def test_fifty_windows_may_each_refer_to_the_one_before():
    timeline, _ = compile_plan(match_of(windows=A_ROW[:50]), NO_PLAN)
    assert len(timeline.windows) == 50


# -- what fires when --------------------------------------------------------------------------------------------------


def compiled(game, *cues, leads=None, **rest):
    timeline, mistakes = compile_plan(game, plan_of(*cues, leads=leads, **rest))
    assert mistakes == ()
    return timeline


def begins_s(timeline):
    return [f.begin.offset_ns / S for f in timeline.firings]


def test_the_match_of_136_seconds():
    # 28 + 11 + 97 = 136 s, then 4 s; endgame and no contact begin 18 s before the end. The call 4 s ahead of it is an
    # estimate from practice.
    timeline = compiled(STANDARD, cue(at="no_contact.begin-break_off"), leads={"break_off": 4 * S})
    assert timeline.match_end() == Point("match", 136 * S)
    assert timeline.last_end() == Point("match", 140 * S)
    assert [(w.id, w.begin.offset_ns, w.end.offset_ns) for w in timeline.windows] == [
        ("endgame", 118 * S, 136 * S), ("no_contact", 118 * S, 140 * S)
    ]  # fmt: skip
    (firing,) = timeline.firings
    assert (firing.begin, firing.match_ns) == (Point("match", 114 * S), 114 * S)


def test_a_match_without_a_pause_and_one_of_a_single_period():
    assert compiled(match_of(period("auto", 19), period("driver", 115))).match_end() == Point("match", 134 * S)
    assert compiled(match_of(period("driver", 50))).match_end() == Point("match", 50 * S)


def test_a_held_cue_holds_light_and_screen_gives_rumble_its_end_and_sound_none():
    timeline = compiled(STANDARD, cue(at="driver.begin", until="driver.begin+4s", patterns=ALL_CHANNELS))
    end = Point("match", 43 * S)
    assert [(f.channel, f.role, f.until, f.sustained) for f in timeline.firings] == [
        ("rumble", "driver", end, False),
        ("rumble", "operator", end, False),
        ("light", None, end, True),
        ("screen", None, end, True),
        ("sound", None, None, False),
    ]
    assert [f.no for f in timeline.firings] == [0, 1, 2, 3, 4]
    assert [f.lasts_ns for f in timeline.firings] == [1350 * MS, 1350 * MS, 3 * S, 3 * S, 250 * MS]


def test_a_struck_cue_holds_nothing():
    timeline = compiled(STANDARD, cue(at="driver.begin", patterns=ALL_CHANNELS))
    assert all(f.until is None and not f.sustained for f in timeline.firings)


def test_a_repeat_falls_before_its_end_and_is_struck():
    timeline = compiled(STANDARD, cue(at="match.end-5s", until="match.end", every_ns=S, patterns={"light": "glow"}))
    assert begins_s(timeline) == [131, 132, 133, 134, 135]
    assert [(f.n, f.sustained, f.until) for f in timeline.firings] == [(n, False, None) for n in range(5)]
    uneven = compiled(STANDARD, cue(at="match.end-5s", until="match.end", every_ns=3 * S))
    assert begins_s(uneven) == [131, 134]
    longer = compiled(STANDARD, cue(at="match.end-5s", until="match.end", every_ns=6 * S))
    assert begins_s(longer) == [131]


def test_a_repeat_into_the_settling_ends_with_the_match():
    timeline = compiled(STANDARD, cue(at="match.end-2s", until="settle.end", every_ns=S))
    assert begins_s(timeline) == [134, 135, 136]


def test_a_window_with_n_spans_and_a_list_make_n_occurrences():
    timeline = compiled(
        DOORS, cue(at="door.end-5s", until="door.end"), cue("two", at=["door.3.begin", "door.2.begin"])
    )
    assert [(f.cue, f.n, f.begin.offset_ns / S) for f in timeline.firings] == [
        ("home", 0, 29), ("two", 0, 34), ("home", 1, 49), ("two", 1, 54), ("home", 2, 77)
    ]  # fmt: skip
    assert [f.until.offset_ns / S for f in timeline.firings if f.until] == [34, 54, 82]


def test_firings_may_begin_up_to_the_very_end_and_ring_out_two_seconds():
    timeline = compiled(STANDARD, cue(at="match.end"), cue("b", at="driver.begin", until="settle.end"))
    held, over = timeline.firings
    assert held.until == Point("match", 138 * S)
    assert over.begin.offset_ns + over.lasts_ns == 138 * S


def test_an_end_may_lie_in_the_ringing_out_of_a_match_without_settling():
    timeline = compiled(match_of(period("driver", 50)), cue(at="match.end", until="match.end+2s"))
    assert timeline.firings[0].until == Point("match", 52 * S)


def test_anchors_of_periods_that_a_person_begins():
    game = match_of(
        period("auto", 28), period("pause", None, "pause"), period("driver", 97), period("extra", 50, by_hand=True),
        period("settle", 4, "settle"),
    )  # fmt: skip
    timeline = compiled(game, cue(at="driver.end-18s"), cue("b", at="pause.begin"), cue("c", at="pause.end"))
    assert [(s.anchor, s.match_ns, s.lasts_ns) for s in timeline.segments] == [
        ("match", 0, None), ("driver", 28 * S, 97 * S), ("extra", 125 * S, 54 * S)
    ]  # fmt: skip
    assert [(f.cue, f.begin, f.match_ns) for f in timeline.firings] == [
        ("b", Point("match", 28 * S), 28 * S),
        ("c", Point("driver", 0), 28 * S),
        ("home", Point("driver", 79 * S), 107 * S),
    ]


def test_the_end_of_a_fixed_stretch_is_a_moment_of_it_and_a_hold_may_last_until_a_person_goes_on():
    timeline = compiled(BY_HAND, cue(at="auto.end", until="driver.begin"), cue("b", at="match.end"))
    assert [(f.begin, f.until) for f in timeline.firings] == [
        (Point("match", 28 * S), Point("driver", 0)), (Point("driver", 97 * S), None)
    ]  # fmt: skip


def test_an_open_period_has_no_moment_that_lies_beyond_it():
    timeline = compiled(OPEN, cue(at="pause.begin+10min"))
    assert timeline.firings[0].begin == Point("match", 628 * S)


def test_marks_wait_and_calls_come_last():
    timeline = compiled(
        STANDARD,
        cue("a", at="mark.swap+2s", until="mark.done"),
        cue("b", at="driver.begin", until="driver.begin+9s", callable=True, patterns=ALL_CHANNELS),
        cue("c", at="mark.swap"),
        cue("d", at=["auto.begin", "driver.end"]),
    )
    last = [(f.cue, f.n, f.channel, f.begin, f.until, f.match_ns) for f in timeline.firings[7:]]
    end = Point("match", 48 * S)
    assert last == [
        ("c", 0, "screen", Point("mark.swap", 0), None, None),
        ("a", 0, "screen", Point("mark.swap", 2 * S), Point("mark.done", 0), None),
        ("b", 1, "rumble", Point("call.b", 0), end, None),
        ("b", 1, "rumble", Point("call.b", 0), end, None),
        ("b", 1, "light", Point("call.b", 0), end, None),
        ("b", 1, "screen", Point("call.b", 0), end, None),
        ("b", 1, "sound", Point("call.b", 0), None, None),
    ]


@pytest.mark.parametrize(
    ("moments_and_more", "until"),
    [
        ({"at": "driver.begin"}, None),
        ({"at": "driver.begin", "until": "mark.swap"}, None),                   # a mark may never come
        ({"at": ["auto.begin", "driver.begin"], "until": ["auto.end", "driver.end"]}, None),
        ({"at": "driver.begin", "until": "driver.end", "every_ns": 60 * S}, None),
        ({"until": "driver.end"}, Point("match", 136 * S)),                     # only ever called
    ],
)
def test_a_call_holds_until_the_cues_own_end_if_that_is_one_point_of_the_match(moments_and_more, until):
    timeline = compiled(STANDARD, cue(callable=True, **moments_and_more))
    assert (timeline.firings[-1].begin, timeline.firings[-1].until) == (Point("call.home", 0), until)


def test_what_announces_a_cue_comes_ahead_of_each_of_its_moments_and_not_of_its_calls():
    home = cue(at=["driver.begin+10s", "mark.swap+3s", "auto.begin+5s"], callable=True)
    timeline = compiled(STANDARD, home, cue("ready", announces="home", ahead_ns=2 * S))
    assert [f.begin for f in timeline.firings if f.cue == "ready"] == [
        Point("match", 3 * S), Point("match", 47 * S), Point("mark.swap", 1 * S)
    ]  # fmt: skip
    assert all(f.until is None and not f.sustained for f in timeline.firings if f.cue == "ready")
    assert len([f for f in timeline.firings if f.cue == "home"]) == 4


def test_it_hangs_on_that_cue_and_moves_with_its_lead_and_its_window():
    for lead_s in (2, 4, 7):
        home = cue(at="no_contact.begin-break_off")
        timeline = compiled(STANDARD, home, cue("ready", announces="home", ahead_ns=S), leads={"break_off": lead_s * S})
        at_s = {f.cue: f.match_ns / S for f in timeline.firings}
        assert at_s == {"home": 118 - lead_s, "ready": 117 - lead_s}


def test_what_announces_may_be_announced_and_a_plan_may_hold_nothing_but_such():
    home, called = cue(at="driver.end-18s"), cue("called", announces="ready", ahead_ns=3 * S)
    timeline = compiled(STANDARD, called, cue("ready", announces="home", ahead_ns=S), home)
    assert {f.cue: f.match_ns / S for f in timeline.firings} == {"called": 114, "ready": 117, "home": 118}
    long = [cue(f"c{n}", announces=f"c{n - 1}", ahead_ns=10 * MS) for n in range(1, 2000)]
    timeline = compiled(STANDARD, *reversed(long), cue("c0", at="driver.end"))
    assert timeline.firings[0].match_ns == 136 * S - 1999 * 10 * MS


def test_repeats_and_variants_are_those_of_the_announced_cue():
    game = replace(STANDARD, variants=(Variant(id="north_first", title="North, south"),))
    home = cue(at="driver.begin+8s", until="driver.begin+20s", every_ns=4 * S, when="north_first")
    ready = cue("ready", announces="home", ahead_ns=S)
    timeline = compiled(game, *completed((home, ready)))
    given = [f for f in timeline.firings if f.cue == "ready"]
    assert [f.match_ns / S for f in given] == [46, 50, 54]
    assert {f.when for f in given} == {"north_first"}


def test_the_word_is_what_to_say_or_the_id_in_words():
    timeline = compiled(STANDARD, cue("no_touch", at="auto.begin"), cue("b", at="auto.end", say="LAST ONE"))
    assert [f.word for f in timeline.firings] == ["No touch", "LAST ONE"]


def test_firings_at_one_instant_come_in_the_order_of_file_channel_and_role():
    roles = tuple(reversed(ROLES))
    timeline = compiled(
        STANDARD,
        cue("b", at="driver.begin", patterns=dict(reversed(ALL_CHANNELS.items())), roles=roles),
        cue("a", at="pause.end"),
    )
    assert [(f.cue, f.channel, f.role) for f in timeline.firings] == [
        *(("b", "rumble", role) for role in ROLES), ("b", "light", None), ("b", "screen", None), ("b", "sound", None),
        ("a", "screen", None),
    ]  # fmt: skip


def test_priority_limit_and_variant_are_handed_on():
    game = replace(STANDARD, variants=(Variant(id="a", title="A"), Variant(id="b", title="B", default=True)))
    timeline = compiled(game, cue(at="auto.begin", when="a", priority=9, late_limit_ns=7))
    assert (timeline.variants, timeline.default_variant) == (("a", "b"), "b")
    firing = timeline.firings[0]
    assert (firing.when, firing.priority, firing.late_limit_ns) == ("a", 9, 7)
    assert compiled(replace(game, variants=game.variants[:1])).default_variant == ""


def test_a_pattern_that_takes_no_time_is_refused_where_it_is_used():
    still = Patterns(light={"glow": LightPattern(form="plain", colours=((1, 1, 1),), lasts_ns=0)})
    _, mistakes = compile_plan(STANDARD, plan_of(cue(at="auto.begin", patterns={"light": "glow"}), patterns=still))
    assert [(m.code, m.path) for m in mistakes] == [("no_length", ("cue", 0, "light"))]


def test_a_lead_that_several_cues_count_from_moves_them_all():
    cues = [cue("a", at="no_contact.begin-early"), cue("b", at="no_contact.begin+early")]
    assert begins_s(compiled(STANDARD, *cues, leads={"early": 4 * S})) == [114, 122]
    assert begins_s(compiled(STANDARD, *cues, leads={"early": 6 * S})) == [112, 124]


def test_more_firings_than_a_run_can_hold_are_refused():
    long = match_of(period("driver", 3600))
    cues = [cue(f"c{n}", at="driver.begin", until="driver.end", every_ns=400 * MS) for n in range(6)]
    _, mistakes = compile_plan(long, plan_of(*cues))
    # 9,000 repeats each: the third is one too many, and no other is even looked at.
    assert [(m.code, m.path, m.facts["count"]) for m in mistakes] == [("too_many_firings", ("cue", 2), "27000")]


def test_moments_that_all_repeat_are_not_multiplied_out():
    many = cue(at=[f"driver.begin+{n}ms" for n in range(900)], until=["driver.end"] * 900, every_ns=20 * MS)
    _, mistakes = compile_plan(match_of(period("driver", 100)), plan_of(many))
    assert [(m.code, m.path) for m in mistakes] == [("too_many", ("cue", 0, "every"))]


def test_words_that_would_have_to_be_made_before_a_match_are_counted():
    cues = [cue(f"c{n}", at="driver.begin", say=f"Word {n}", patterns={"sound": "beep"}) for n in range(101)]
    plan = replace(plan_of(*cues), patterns=Patterns(sound={"beep": BEEP}))
    _, mistakes = compile_plan(STANDARD, plan)
    assert [(m.code, m.path, m.facts["count"]) for m in mistakes] == [("too_many", ("cue", 100, "say"), "101")]


def test_no_more_mistakes_are_looked_for_than_anybody_reads():
    cues = [cue(f"c{n}", at=f"nowhere{n}.begin") for n in range(2000)]
    _, mistakes = compile_plan(STANDARD, plan_of(*cues))
    assert len(mistakes) == findings.MOST


# -- properties -------------------------------------------------------------------------------------------------------

MANY = settings(suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow], deadline=None)


@MANY
@given(games_and_plans())
def test_there_is_a_timeline_or_there_are_mistakes(files):
    timeline, mistakes = compile_plan(*files)
    assert (timeline is None) == bool(mistakes)
    assert all(m.code in CODES and m.file in ("game", "plan") for m in mistakes)


@MANY
@given(games_and_plans())
def test_equal_inputs_give_equal_bytes(files):
    game, plan = files
    shuffled = replace(plan, cues=tuple(replace(c, patterns=dict(reversed(c.patterns.items()))) for c in plan.cues))
    assert msgspec.json.encode(compile_plan(game, plan)) == msgspec.json.encode(compile_plan(game, shuffled))


@MANY
@given(games_and_plans())
def test_every_firing_lies_within_its_bounds(files):
    timeline, _ = compile_plan(*files)
    assume(timeline)
    rank = {segment.anchor: n for n, segment in enumerate(timeline.segments)}
    end = timeline.match_end()
    for f in timeline.firings:
        assert f.begin.offset_ns >= 0
        assert (f.match_ns is None) == (f.begin.anchor not in rank)
        assert f.sustained == (f.until is not None and f.channel in ("light", "screen"))
        if f.begin.anchor in rank:
            assert (rank[f.begin.anchor], f.begin.offset_ns) <= (rank[end.anchor], end.offset_ns)
        if f.begin.anchor == end.anchor:
            assert f.begin.offset_ns + f.lasts_ns <= end.offset_ns + RING_OUT_NS
        if f.until is not None and f.until.anchor in rank:
            assert (rank[f.until.anchor], f.until.offset_ns) <= (rank[end.anchor], end.offset_ns + RING_OUT_NS)
            if f.until.anchor == f.begin.anchor:
                assert f.until.offset_ns > f.begin.offset_ns


@MANY
@given(games_and_plans())
def test_firings_stand_in_order_and_are_numbered_in_it(files):
    game, plan = files
    timeline, _ = compile_plan(game, plan)
    assume(timeline)
    anchors = [segment.anchor for segment in timeline.segments]
    place = {c.id: n for n, c in enumerate(plan.cues)}

    def key(f):
        is_call = f.begin.anchor.startswith("call.")
        rank = anchors.index(f.begin.anchor) if f.begin.anchor in anchors else len(anchors) + is_call
        role = -1 if f.role is None else ROLES.index(f.role)
        return (rank, f.begin.offset_ns, place[f.cue], CHANNELS.index(f.channel), role)

    assert [f.no for f in timeline.firings] == list(range(len(timeline.firings)))
    assert [key(f) for f in timeline.firings] == sorted(key(f) for f in timeline.firings)


@MANY
@given(games_and_plans())
def test_a_cue_fires_once_a_moment_repeat_and_call_on_each_channel_and_role(files):
    game, plan = files
    timeline, _ = compile_plan(game, plan)
    assume(timeline)
    for c in plan.cues:
        mine = [f for f in timeline.firings if f.cue == c.id]
        occurrences = len({f.n for f in mine})
        shares = len(c.patterns) + (len(c.roles) - 1 if "rumble" in c.patterns else 0)
        assert len(mine) == occurrences * shares
        assert len({(f.n, f.channel, f.role) for f in mine}) == len(mine)
        assert {f.n for f in mine} == set(range(occurrences))
        if c.every_ns is None:
            assert occurrences == len(c.at) + c.callable
        else:
            assert occurrences >= len(c.at) + c.callable


@MANY
@given(games_and_plans(), st.integers(1, 5 * S), st.data())
def test_a_cue_that_announces_another_disturbs_none_and_comes_ahead_of_each(files, ahead_ns, data):
    game, plan = files
    before, _ = compile_plan(game, plan)
    assume(before is not None and plan.cues)
    other = data.draw(st.sampled_from(plan.cues))
    ready = cue("ready", announces=other.id, ahead_ns=ahead_ns)
    after, mistakes = compile_plan(game, replace(plan, cues=completed((*plan.cues, ready))))
    given = {(f.n, f.begin) for f in before.firings if f.cue == other.id and f.begin.anchor != f"call.{other.id}"}
    if after is None:
        assert {m.code for m in mistakes} <= {"before_match", "before_by_hand", "before_mark", "beyond_segment"}
        assert any(begin.offset_ns < ahead_ns for _, begin in given)
        return
    announced = {(f.n, f.begin) for f in after.firings if f.cue == "ready"}
    assert announced == {(n, Point(begin.anchor, begin.offset_ns - ahead_ns)) for n, begin in given}
    assert {f.when for f in after.firings if f.cue == "ready"} <= {other.when}
    others = [replace(f, no=0) for f in after.firings if f.cue != "ready"]
    assert others == [replace(f, no=0) for f in before.firings]


def test_patterns_of_the_plan_itself_may_be_used():
    own = Patterns(rumble={"mine": RumblePattern(steps=(RumbleStep(strong=1.0, lasts_ns=MS),))})
    timeline = compiled(STANDARD, cue(at="auto.begin", patterns={"rumble": "mine"}), patterns=own)
    assert timeline.firings[0].lasts_ns == MS


def test_the_builders_make_the_match_that_they_say():
    assert STANDARD.periods == PERIODS
    assert STANDARD.windows == WINDOWS
    assert moments("auto.begin")[0].base == "auto"
