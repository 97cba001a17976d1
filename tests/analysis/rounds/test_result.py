"""What a round came to: the verdict and its words, times with their signs, what counts, shapes for a series."""

from itertools import product

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import ENDED_NS, FOUNDRY, STARTED, TIMELINE, held_on, ns, push, touch, undo
from tests.support.model.lifecycle_games import MARKED, OPEN_PAUSE, OVERLAPPING
from tocsin.analysis.rounds.result import PlayedRound, RoundResult, round_result
from tocsin.analysis.rounds.text import lines, series_legend, series_text, shape_of, threshold_lines
from tocsin.model.clock.origins import Origin
from tocsin.model.drill import Clean
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

TITLED = replace(TIMELINE, windows=(replace(TIMELINE.windows[0], title="No-touch time"),))
KEEP_OFF = Clean(keep_off=("no_contact",))
CALL_NS = ns(114)


def result(
    *marks, rule=KEEP_OFF, timeline=TITLED, game=FOUNDRY, counting=(), origins=STARTED, ended_ns=ENDED_NS, **rest
):
    played = PlayedRound(marks=marks, origins=origins, ended_ns=ended_ns, home_call_ns=CALL_NS, error_ms=60)
    return round_result(game, timeline, replace(played, **rest), rule, counting=counting)


def home(at_s, label="home", **rest):
    return touch(at_s, label, **rest)


def turned(at_s, **rest):
    return touch(at_s, "turned", **rest)


def key(mark):
    return replace(mark, source="key c")


def video(mark, error_s=0.2):
    return replace(mark, source="video", error_ns=ns(error_s) - ns(0))


def later(mark):
    return replace(mark, source="later")


def tap(at_s, label="contact", **rest):
    """A mark by a key that tells no key up, as a terminal's."""
    return touch(at_s, label, pointlike=True, source="key c", **rest)


# -- each push once, by its best source -------------------------------------------------------------------------------

def test_a_push_that_was_marked_by_key_and_by_video_is_one():
    found = result(key(push(130.4, 131.9)), video(push(130, 131.5)))
    assert (found.contacts, found.points.cost, found.overlap_ns) == (1, 9, ns(1.5) - ns(0))


@pytest.mark.parametrize("better", [video, later])
def test_a_better_source_counts_alone_and_for_what_it_marks_only(better):
    """The key saw a second contact that the better source did not; the partner's and the turn are only the key's."""
    marks = key(touch(130)), key(touch(133)), key(touch(132, by="partner")), key(turned(116)), better(touch(129.6))
    found = result(*marks)
    assert (found.contacts, found.turn_ns) == (1, ns(2) - ns(0))
    assert next(due.times for due in found.points.dues if due.stake == "contact") == 2, "ours and the partner's"


def test_half_home_in_the_video_is_no_home_by_key():
    found = result(key(home(130)), video(home(129, "home_half")))
    assert (found.home, found.points.gain) == ("home_half", 7)


def test_a_better_mark_that_was_taken_back_counts_no_more():
    assert result(key(touch(130)), key(touch(133)), video(touch(130)), undo(2)).contacts == 2


def test_what_nobody_knows_the_source_of_counts_as_by_key():
    assert result(touch(130), replace(touch(133), source="a later version's"), key(touch(135))).contacts == 3


# -- two scribes ------------------------------------------------------------------------------------------------------

def board(mark):
    return replace(mark, source="board 1")


def test_a_push_that_two_scribes_marked_is_one_from_the_first_begin_to_the_last_end():
    found = result(key(push(130.4, 131.9)), board(push(130, 131.5)), board(push(130.2, 131.6, by="partner")))
    assert (found.contacts, found.overlap_ns) == (1, ns(1.9) - ns(0))
    assert next(due.times for due in found.points.dues if due.stake == "contact") == 2, "ours and the partner's"


def test_no_time_counts_twice_where_one_saw_a_long_push_and_one_saw_two():
    found = result(key(push(129, 133)), board(push(129.2, 130)), board(push(131.5, 133.5)))
    assert (found.contacts, found.overlap_ns) == (2, ns(4.5) - ns(0))


def test_an_end_that_the_board_saw_is_known_where_the_terminals_key_tells_none():
    assert result(tap(110)).break_off_margin_ns is None
    assert result(tap(110), board(push(110.4, 115.5))).break_off_margin_ns == ns(118) - ns(115.5)


_late_ms = st.lists(st.integers(0, 700), min_size=16, max_size=16)


@given(_late_ms, st.booleans(), st.sampled_from(["home", "home_half", ""]))
def test_with_two_who_mark_everything_a_round_comes_to_what_one_notes(late_ms, again, state):
    """The numbers are one scribe's, off by no more than the other was later; nothing counts twice."""
    rule = Clean(keep_off=("no_contact",), turned_ns=5 * S, home_ns=0)
    did = [push(108, 116), turned(116.5), *([push(125, 127)] if again else []), *([home(130, state)] if state else [])]
    one = [key(mark) for mark in did]
    late = iter(late_ms)

    def later_at_the_board(mark):
        end_ns = None if mark.end_ns is None else mark.end_ns + next(late) * MS
        return board(replace(mark, begin_ns=mark.begin_ns + next(late) * MS, end_ns=end_ns))

    alone, both = result(*one, rule=rule), result(*one, *map(later_at_the_board, did), rule=rule)
    assert (both.contacts, both.home, both.clean, both.part) == (alone.contacts, alone.home, alone.clean, alone.part)
    assert (both.turn_ns, both.home_margin_ns) == (alone.turn_ns, alone.home_margin_ns), "the earliest begin"
    assert both.points.net_points == alone.points.net_points
    assert 0 <= alone.break_off_margin_ns - both.break_off_margin_ns <= 700 * MS
    assert 0 <= both.overlap_ns - alone.overlap_ns <= 700 * MS
    assert lines(both)[-1] == lines(alone)[-1], "they do not differ"


# -- touches by a key that tells no key up ----------------------------------------------------------------------------

@pytest.mark.parametrize(
    ("marks", "clean", "why"),
    [
        ([tap(110)], None, "nobody noted when a contact ended: see the video"),
        ([tap(110), turned(115)], True, ""),                     # a robot that turned pushes nobody any more
        ([tap(110), home(116)], True, ""),
        ([tap(110), turned(115, by="partner")], None, "nobody noted when a contact ended: see the video"),
        ([turned(109), tap(110)], None, "nobody noted when a contact ended: see the video"),
        ([tap(110), turned(118.3)], None, "nobody noted when a contact ended: see the video"),
        ([tap(130)], False, "a touch in No-touch time"),
        ([touch(110)], True, ""),                                # its key came up at once
    ],
)
def test_a_touch_without_an_end_reaches_to_when_it_was_over_at_the_latest(marks, clean, why):
    found = result(*marks)
    assert (found.clean, ", ".join(found.why)) == (clean, why)
    told = lines(found)
    assert ("See video: 1 contact whose end nobody noted." in told) == (clean is None)
    assert not [line for line in told if "too close" in line]
    if any(mark.pointlike for mark in marks):
        assert found.break_off_margin_ns is None, "nobody knows when they broke off"
    assert not found.overlap_ns


# -- clean or not, and why --------------------------------------------------------------------------------------------

def test_what_must_never_be_noted_breaks_a_round():
    rule = Clean(never=("moved", "wrong"))
    assert result(home(130), rule=rule).clean is True
    found = result(touch(137, "moved"), touch(80, "wrong"), touch(81, "wrong"), rule=rule)
    assert lines(found)[0] == "Not clean: moved 1 time, wrong 2 times."
    assert result(touch(137, "moved", by="opponent"), rule=rule).clean is True
    assert result(touch(137, "moved"), undo(0), rule=rule).clean is True
    assert result(rule=rule, watched=False).clean is None


VERDICTS = [
    ([], True, "Clean."),
    ([push(110, 116)], True, "Clean."),
    ([push(110, 119.2)], False, "Not clean: you pushed 1.2 s into No-touch time."),
    ([push(130, 131.5)], False, "Not clean: a push of 1.5 s in No-touch time."),
    ([touch(130)], False, "Not clean: a touch in No-touch time."),
    ([push(110, 119.2), touch(130)], False, "Not clean: 2 contacts in No-touch time, 1.2 s in all."),
    ([touch(125), touch(130)], False, "Not clean: 2 contacts in No-touch time."),
    ([push(110, 118.3)], None,
     "Not judged: a contact at an edge of No-touch time: see the video."),
    ([push(110, 118.3), touch(140)], None,
     "Not judged: 2 contacts at an edge of No-touch time: see the video."),
    ([push(110, 118.3), touch(130)], False, "Not clean: a touch in No-touch time."),
    ([touch(130), undo(0)], True, "Clean."),
    ([touch(130, by="partner"), touch(131, by="opponent")], True, "Clean."),
    ([push(110, 118.04, error_ns=0)], False, "Not clean: you pushed less than 0.1 s into No-touch time."),
    ([held_on(130)], False, "Not clean: a push of 10.0 s in No-touch time."),
]  # fmt: skip


@pytest.mark.parametrize(("marks", "clean", "line"), VERDICTS, ids=[case[2] for case in VERDICTS])
def test_keeping_off(marks, clean, line):
    found = result(*marks)
    assert found.clean is clean
    assert lines(found)[0] == line


HOME_RULES = [
    (0, [home(130)], True, "Clean."),
    (0, [home(135.1)], True, "Clean."),
    (0, [home(135.4)], None, "Not judged: home too close to the end: see the video."),
    (0, [home(136.7)], None, "Not judged: home too close to the end: see the video."),
    (0, [home(137)], False, "Not clean: home 1.0 s later than the end."),
    (3 * S, [home(133)], True, "Clean."),
    (3 * S, [home(133.4)], False, "Not clean: home 0.4 s later than 3.0 s before the end."),
    (0, [], None, "Not judged: nobody noted whether the robot came home."),
    (0, [home(130, by="partner")], None, "Not judged: nobody noted whether the robot came home."),
    (0, [home(130), home(134, "home_none")], False, "Not clean: the robot did not come home."),
    (0, [home(130, "home_half")], False, "Not clean: the robot came home only half."),
    (0, [home(130), undo(0)], None, "Not judged: nobody noted whether the robot came home."),
]


@pytest.mark.parametrize(("limit_ns", "marks", "clean", "line"), HOME_RULES)
def test_coming_home(limit_ns, marks, clean, line):
    found = result(*marks, rule=Clean(home_ns=limit_ns))
    assert (found.clean, lines(found)[0]) == (clean, line)


def test_half_home_does_where_it_counts():
    half = home(130, "home_half")
    assert result(half, rule=Clean(home_ns=0), counting=("home", "home_half")).clean
    assert result(half, rule=Clean(home_ns=0), counting=("home",)).clean is False


TURN_RULES = [
    ([turned(115.2)], True, "Clean."),
    ([turned(116)], True, "Clean."),
    ([turned(116.3)], False, "Not clean: turned 2.3 s after the call, not within 2.0 s."),
    ([], None, "Not judged: nobody noted when the robot turned."),
    ([turned(115, by="opponent")], None, "Not judged: nobody noted when the robot turned."),
]


@pytest.mark.parametrize(("marks", "clean", "line"), TURN_RULES)
def test_turning(marks, clean, line):
    found = result(*marks, rule=Clean(turned_ns=2 * S))
    assert (found.clean, lines(found)[0]) == (clean, line)


def test_without_a_call_nobody_turns_late():
    found = result(turned(120), rule=Clean(turned_ns=2 * S), home_call_ns=None)
    assert (found.clean, found.why, found.turn_ns) == (None, ("the call home did not come",), None)


def test_of_several_parts_one_that_is_broken_decides_then_one_that_cannot_be_told():
    rule = Clean(keep_off=("no_contact",), home_ns=0, turned_ns=2 * S)
    good = {"keep_off": [], "home": [home(130)], "turned": [turned(115)]}
    open_ = {"keep_off": [touch(118)], "home": [], "turned": []}
    bad = {"keep_off": [touch(130)], "home": [home(130, "home_none")], "turned": [turned(120)]}
    for parts in product((good, open_, bad), repeat=3):
        marks = [mark for part, name in zip(parts, good, strict=True) for mark in part[name]]
        expected = False if bad in parts else None if open_ in parts else True
        found = result(*marks, rule=rule)
        assert found.clean is expected
        assert len(found.why) == (0 if expected else parts.count(open_ if expected is None else bad))


def test_every_reason_has_its_line():
    rule = Clean(keep_off=("no_contact",), home_ns=0)
    found = result(touch(130), home(130, "home_none"), rule=rule)
    assert lines(found)[:2] == (
        "Not clean: a touch in No-touch time.", "Also: the robot did not come home.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("rest", "why"),
    [
        ({"ended_ns": ns(130)}, "the round ended before No-touch time did"),
        ({"ended_ns": ns(117)}, "No-touch time never began"),
        ({"origins": ()}, "No-touch time never began"),
        ({"watched": False}, "nobody marked this"),
        ({"rule": Clean()}, "the drill does not say what is clean"),
    ],
)
def test_what_was_not_seen_is_not_judged(rest, why):
    found = result(**rest)
    assert (found.clean, found.why) == (None, (why,))


def test_a_breach_is_one_even_in_a_round_that_was_cut_short_or_that_nobody_was_to_watch():
    assert result(touch(125), ended_ns=ns(130)).clean is False
    assert result(touch(125), watched=False).clean is False


def test_a_match_whose_end_nobody_knows():
    found = result(home(130), rule=Clean(home_ns=0), timeline=OPEN_PAUSE)
    assert (found.clean, found.why) == (None, ("nobody knows when the match ended",))


def test_two_windows_to_keep_off_are_one_stretch_where_they_touch():
    both = Clean(keep_off=("door", "no_contact"))
    found = result(touch(53), rule=both, timeline=OVERLAPPING)          # door 1 ends where no_contact begins
    assert (found.clean, found.why) == (False, ("a touch in door and no_contact",))
    assert result(touch(53), rule=Clean(keep_off=("door",)), timeline=OVERLAPPING).clean is None


def test_one_of_two_windows_that_never_began():
    rule = Clean(keep_off=("no_contact", "swap"))
    both = replace(MARKED, windows=(*MARKED.windows, *TITLED.windows))
    assert result(rule=rule, timeline=both).why == ("swap never began",)
    assert result(touch(130), rule=rule, timeline=both).clean is False


# -- times ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marks", "margin_s", "line"),
    [
        ([push(110, 116.6)], 1.4, "Broke off 1.4 s early."),
        ([push(110, 119.2)], -1.2, "Broke off 1.2 s late."),
        ([push(110, 118)], 0, "Broke off 0.0 s early."),
        ([push(100, 119), push(113, 114)], -1, "Broke off 1.0 s late."),
        ([push(100, 105), touch(117)], 1, "Broke off 1.0 s early."),
        ([push(110, 116), push(125, 126)], 2, "Broke off 2.0 s early."),     # a fresh contact is no late breaking off
        ([held_on(110)], -24, None),      # nobody noted the end
        ([push(110, 119, by="opponent")], None, None),
        ([push(125, 126)], None, None),
    ],
)
def test_break_off_margin(marks, margin_s, line):
    found = result(*marks)
    assert found.break_off_margin_ns == (None if margin_s is None else round(margin_s * 1000) * MS)
    assert [text for text in lines(found) if text.startswith("Broke")] == ([] if line is None else [line])


def test_of_several_windows_the_least_margin_counts():
    rule = Clean(keep_off=("door",))                                    # [19, 53) and [73, 106)
    assert result(push(5, 14), push(60, 74), rule=rule, timeline=OVERLAPPING).break_off_margin_ns == -1 * S
    assert result(push(5, 20), push(60, 70), rule=rule, timeline=OVERLAPPING).break_off_margin_ns == -1 * S


@pytest.mark.parametrize(
    ("marks", "turn_ms"),
    [
        ([turned(115.1)], 1100),
        ([turned(113.6)], -400),                     # marks may be off by 0.8 s
        ([turned(113.1)], None),                     # no answer to the call
        ([turned(100), turned(116), turned(120)], 2000),
        ([turned(113.6, error_ns=0)], None),
    ],
)
def test_turn_time(marks, turn_ms):
    found = result(*marks)
    assert found.turn_ns == (None if turn_ms is None else turn_ms * MS)


@pytest.mark.parametrize(
    ("marks", "travel_ms"),
    [
        ([turned(115.1), home(122)], 6900),
        ([turned(115.1), home(122, "home_half")], 6900),
        ([turned(115.1), home(122, "home_half"), home(124)], 8900),
        ([turned(115.1), home(122, "home_none")], None),
        ([turned(115.1)], None),
        ([home(122)], None),
        ([home(113.7), turned(115.1)], None),         # a robot that was at home already
    ],
)
def test_the_way_home_is_timed_from_the_turn(marks, travel_ms):
    found = result(*marks)
    assert found.travel_ns == (None if travel_ms is None else travel_ms * MS)
    said = [line for line in lines(found) if line.startswith("The way")]
    assert said == ([] if travel_ms is None else [f"The way home took {travel_ms / 1000:.1f} s."])


@pytest.mark.parametrize(
    ("marks", "state", "margin_ms", "line"),
    [
        ([home(131.8)], "home", 4200, "Home 4.2 s before the end."),
        ([home(136.3)], "home", -300, "Home 0.3 s after the end."),
        ([home(130), home(134)], "home", 6000, "Home 6.0 s before the end."),
        ([home(130, "home_half")], "home_half", 6000, "Half home 6.0 s before the end."),
        ([home(130, "home_half"), home(134)], "home", 2000, "Home 2.0 s before the end."),
        ([home(130), home(134, "home_none")], "home_none", None, None),
        ([], "", None, None),
    ],
)
def test_home_margin(marks, state, margin_ms, line):
    found = result(*marks)
    assert (found.home, found.home_margin_ns) == (state, None if margin_ms is None else margin_ms * MS)
    assert [text for text in lines(found) if "ome" in text] == ([] if line is None else [line])


def test_how_many_contacts_and_how_long():
    found = result(push(110, 119.2), push(130, 131), touch(133), touch(140))
    assert (found.contacts, found.overlap_ns) == (3, 2200 * MS)


# -- points -----------------------------------------------------------------------------------------------------------

PEAL = [touch(60 + n, "rung") for n in range(3)]


def test_three_touches_cost_a_swing_of_41():
    """9 each, and a bell of 14 for two of them."""
    found = result(touch(120), touch(125), touch(130), touch(5, "mould"))
    assert (found.points.cost, found.points.against(result(touch(5, "mould")).points)) == (41, -41)
    assert "Cost 41, gained 4: -37 points." in lines(found)


def test_what_is_unclear_stands_beside_the_points():
    found = result(touch(120), touch(118))
    assert "Cost 9, gained 0: -9 points (with what is unclear: cost up to 32)." in lines(found)
    assert [one.mark for one in found.unclear] == [touch(118)]
    assert "See video: 1 mark too close to a begin or end." in lines(found)


def test_marks_that_do_not_count_neither_break_the_rule_nor_cost():
    found = result(touch(130), home(130, "home_half"), counting=("turned", "home"))
    assert (found.clean, found.points.cost, found.home) == (True, 0, "home_half")


def test_a_game_without_stakes_has_no_points_to_tell():
    bare = replace(FOUNDRY, stakes=(), thresholds=())
    assert not any("points" in line for line in lines(result(touch(130), game=bare)))


def test_thresholds_in_words():
    assert threshold_lines(result(*PEAL, home(130))) == (
        "Tenor bell reached: 30 of 30 points.",
        "Great bell missed: 30 of 45 points. Missing: 1 × Robot wholly under "
        "or 2 × Mould filled and 1 × Robot partly under.",
    )


def test_a_threshold_that_hangs_on_an_unclear_mark():
    stakes = tuple(replace(s, during="no_contact") if s.label == "home" else s for s in FOUNDRY.stakes)
    found = threshold_lines(result(*PEAL, home(139.5), game=replace(FOUNDRY, stakes=stakes)))
    assert found[0].startswith("Tenor bell open, see video: 12 of 30 points.")


# -- what counts ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rest", "reasons"),
    [
        ({}, ()),
        ({"error_ms": None}, ()),
        ({"error_ms": 700}, ()),
        ({"error_ms": 701}, ("the clock may be off by 0.701 s",)),
        ({"error_ms": 900}, ("the clock may be off by 0.9 s",)),
        ({"half_speed": True}, ("driven at half speed",)),
        ({"disturbed": True}, ("the laptop slept, or the run was cut short",)),
        ({"held": True}, ("the clock was held",)),
        ({"origins": (replace(STARTED[0], rate=0.5),)}, ("the clock ran at 0.5 times its speed",)),
        ({"origins": ()}, ("the clock was never started",)),
        ({"half_speed": True, "error_ms": 900}, ("the clock may be off by 0.9 s", "driven at half speed")),
    ],
)
def test_what_counts(rest, reasons):
    found = result(**rest)
    assert (found.counted, found.uncounted) == (not reasons, reasons)
    # It is the first that people read, before a verdict that would say "Clean." of it.
    first = lines(found)[0]
    assert first == f"NOT COUNTED: {', '.join(reasons)}." if reasons else "NOT COUNTED" not in " ".join(lines(found))


def test_a_round_that_does_not_count_is_judged_all_the_same():
    assert result(touch(130), half_speed=True).clean is False


def test_at_half_the_clocks_speed_the_window_is_where_the_cues_were():
    slow = (Origin(anchor="match", origin_ns=ns(0), rate=0.5),)
    assert result(push(235, 240), origins=slow, ended_ns=ns(290)).break_off_margin_ns == -4 * S


def test_a_push_without_an_end_is_told():
    found = result(held_on(130))
    assert found.open_marks == (held_on(130),)
    assert lines(found)[-1] == "1 mark never ended: counted until the turn or home, else to the end."


# -- a series ---------------------------------------------------------------------------------------------------------

CLEAN, BROKEN = result(), result(touch(130))
UNCLEAR, UNCOUNTED = result(touch(118)), result(half_speed=True)


def test_each_outcome_has_a_shape_of_its_own():
    shapes = [shape_of(one) for one in (CLEAN, BROKEN, UNCLEAR, UNCOUNTED, result(touch(130), half_speed=True))]
    assert shapes == ["filled", "cross", "question", "open", "open"]


def test_a_series_reads_without_colour():
    series = [UNCOUNTED, CLEAN, CLEAN, BROKEN, UNCLEAR, CLEAN, BROKEN]
    assert series_text(series) == "○ ● ● × ?  ● ×"
    assert series_text(series, ascii_only=True) == "o * * x ?  * x"
    assert series_text([]) == ""
    assert series_legend() == "● clean, × not clean, ○ not counted, ? not known"
    assert series_legend(ascii_only=True).isascii()


# -- what holds for any round -----------------------------------------------------------------------------------------

LABELS = ["contact", "turned", "home", "home_half", "home_none", "moved", "mould"]


@st.composite
def rounds(draw):
    marks = []
    for n in range(draw(st.integers(0, 6))):
        begin_ns = ns(draw(st.integers(105_000, 143_000)) / 1000)
        form = draw(st.sampled_from(["point", "span", "open", "undo"]))
        mark = touch(0, draw(st.sampled_from(LABELS)), by=draw(st.sampled_from(["", "us", "partner", "opponent"])))
        rest = {"end_ns": begin_ns + draw(st.integers(0, 9 * S))} if form == "span" else {"open": form == "open"}
        if form == "undo" and n:
            rest = {"takes_back": draw(st.integers(0, n - 1))}
        marks.append(replace(mark, begin_ns=begin_ns, **rest))
    rule = Clean(
        keep_off=draw(st.sampled_from([(), ("no_contact",)])),
        home_ns=draw(st.sampled_from([None, 0, 3 * S])),
        turned_ns=draw(st.sampled_from([None, 2 * S])),
    )
    return marks, rule


@given(rounds())
def test_any_round_has_a_verdict_that_can_be_written_down_and_read(drawn):
    marks, rule = drawn
    found = result(*marks, rule=rule)
    assert (found.clean is True) == (not found.why)
    assert msgspec.json.decode(msgspec.json.encode(found), type=RoundResult) == found
    for line in lines(found):
        assert line[0].isupper() or line[0].isdigit()
        assert line.endswith(".")
        assert len(line) < 120
    assert found.points.cost <= found.points.cost_at_most
    assert found.overlap_ns >= 0


@given(rounds())
def test_one_own_contact_more_never_makes_a_round_clean(drawn):
    marks, rule = drawn
    before, after = result(*marks, rule=rule), result(*marks, touch(130), rule=rule)
    assert after.clean is False if rule.keep_off else after.clean is before.clean
