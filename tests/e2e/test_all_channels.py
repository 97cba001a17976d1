"""Runs on pads, strip, loudspeaker and screen at once: a match's last seconds at their own pace, and all of it fast.

Everything is real: SDL's virtual pads, a pseudo-terminal, the samples that SDL writes, a window on a virtual X server.
What the devices saw is held against the timeline in the journal's header, placed by the journal's origin. Set
``TOCSIN_SHOTS`` to a folder to keep the pictures of the screen.
"""

from itertools import groupby, pairwise
from statistics import median

import numpy as np
import pytest

from tests.support.people.observed import LATENCY_MS, ROLES, observe
from tests.support.people.reckoning import call_ns, soundings, strengths
from tests.support.stands.camera import BLACK, MISSING
from tests.support.stands.stand import firings
from tests.support.stands.strip_look import lit, look
from tocsin.units import NS_PER_MS

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}"),
]

# On a busy machine; how late they are on a quiet one is for the benchmark to say. The median is below every delay of
# the rig, so that a delay which is not taken off is seen.
# A busy machine holds one up now and then: that says nothing. A delay that was forgotten shows in the medians.
LATE_NS, SEEN_NS, TOGETHER_NS, MEDIAN_NS = (ms * NS_PER_MS for ms in (500, 800, 800, 50))
DRAWN_NS = 100 * NS_PER_MS                # a picture is taken that long after a cue fell due at the earliest
CHANNELS = ("rumble", "light", "screen", "sound")
WHITE, YELLOW = (255, 255, 255), (240, 228, 66)                # Okabe and Ito (2008)
PURPLE = (204, 121, 167)
FIELD = {
    "coach": (BLACK, WHITE), "home": (PURPLE, WHITE), "no_touch": (WHITE, BLACK), "choose": (BLACK, WHITE),
    "step": (WHITE,), "over": (WHITE,),
}  # fmt: skip
LETTERS = {
    "coach": WHITE, "home": WHITE, "no_touch": WHITE, "choose": YELLOW, "step": WHITE, "over": WHITE,
}  # fmt: skip
# The bundled plan as the design writes it: match second, cue, pads, other channels.
ALL_SENSES = {"light", "screen", "sound"}
EARLY = [
    (28, "pads", set(), ALL_SENSES),
    (41, "alive", {"driver", "operator"}, set()),
    (102, "last_load", {"operator", "coach"}, ALL_SENSES),
]
LATE = [
    (113, "coach_call", {"coach"}, {"screen"}),
    (114, "home", {"driver", "operator"}, ALL_SENSES),
    (118, "no_touch", {"driver", "operator"}, ALL_SENSES),
    (126, "choose", {"operator", "coach"}, ALL_SENSES),
    *((131 + n, "last_five", set(), ALL_SENSES) for n in range(5)),
    (136, "over", {"driver", "operator", "coach"}, {"light", "screen"}),
]


@pytest.fixture(scope="module")
def last(tmp_path_factory):
    """The last 33 s at rate 1."""
    return observe(tmp_path_factory.mktemp("last"), "last", "--from", "driver.end-33s")


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A whole match at rate 16. Patterns take their real time, so that some cues come while a greater one plays.

    At 20 a tone of 250 ms would end at the very moment at which the next begins: heard as one, or as two.
    """
    return observe(tmp_path_factory.mktemp("whole"), "whole", "--rate", "16")


@pytest.fixture(scope="module", params=["last", "whole"])
def run(request):
    return request.getfixturevalue(request.param)


# -- of both runs


def test_it_ends_well_and_leaves_nothing_behind(run):
    assert run.code == 0, run.err
    assert run.summary["outcome"] == "over"
    assert "Traceback" not in run.err
    assert not run.left_over
    assert look(run.frames[-1][1]) == "black"
    assert run.garbage == 0
    assert all(told[-1][1:] == (0, 0) for told in run.motors.values())


def test_the_summary_agrees(run):
    for channel in CHANNELS:
        found, played = run.summary["channels"][channel], len(run.timetable.played(channel))
        firings = len(run.timetable.of(channel)) + sum(due.channel == channel for due in run.timetable.left_out)
        expected = {"device": "ready", "firings": firings, "played": played, "skipped": firings - played}
        expected |= {"resumed": 0, "failed": 0, "restarts": 0}
        assert {key: found[key] for key in expected} == expected, channel
        assert found["lateness_ms"]["n"] == played
    # Whether the system grants a priority is its own affair.
    assert {r["what"] for r in run.records if r["kind"] == "fault"} <= {"priority"}


def test_the_journal_tells_every_firing_once_in_order_and_in_time(run):
    outranked = run.timetable.outranked()
    for channel in CHANNELS:
        due = [due.no for due in run.timetable.of(channel)]
        told = firings(run.records, channel)
        assert [r["no"] for r in told if r["why"] != "crossed"] == due
        expected = {no: "outranked" if no in outranked else "" for no in due}
        expected |= {due.no: "crossed" for due in run.timetable.left_out if due.channel == channel}
        assert {r["no"]: r["why"] for r in told} == expected
        assert len(told) == len(expected)
        assert all(r["outcome"] == ("skipped" if r["why"] else "played") for r in told)
        played = {r["no"]: r for r in told if r["outcome"] == "played"}
        check_in_time([r["late_ns"] for r in played.values()], at_most_ns=LATE_NS)
        # The record follows the deed closely, and its time does not hang on what the worker took for due.
        check_in_time([played[due.no]["at_ns"] - call_ns(due) for due in run.timetable.played(channel)])


def check_in_time(late_ns, *, at_most_ns=SEEN_NS):
    """Never early, never much too late, and mostly prompt."""
    assert all(0 <= ns < at_most_ns for ns in late_ns), late_ns
    assert median(late_ns) < MEDIAN_NS


@pytest.mark.parametrize("role", ROLES)
def test_every_step_is_felt_on_every_pad_and_nothing_else(run, role):
    expected = strengths(run.timetable, role)
    told = [(low / 65535, high / 65535) for _, low, high in run.motors[role]]
    assert told == [pytest.approx((strong, weak), abs=0.001) for _, strong, weak in expected]
    check_in_time([at_ns - due.at_ns for due, (at_ns, *_) in zip(expected, run.motors[role], strict=True)])


# -- of the last seconds


def written(run):
    """Return what is to come as lines like those of the design's table."""
    found = {}
    for due in run.timetable.coming:
        pads, senses = found.setdefault((run.timetable.match_s(due), due.cue), (set(), set()))
        (pads if due.channel == "rumble" else senses).add(due.role or due.channel)
    return [(match_s, cue, *sets) for (match_s, cue), sets in sorted(found.items())]


def test_the_last_seconds_are_the_plan_as_written(last):
    assert written(last) == LATE
    assert not last.timetable.outranked()


def changes(named):
    """Return of (time, name) those whose name is another than the one before it."""
    return [next(same) for _, same in groupby(named, key=lambda one: one[1])]


def looks(run):
    """Return when the strip showed another look, and its name."""
    return changes((at_ns, look(frame)) for at_ns, frame in run.frames)


def expected_looks(run):
    """Return when the strip is to show another look, and its name; dark at first."""
    delay_ns = LATENCY_MS["light"] * NS_PER_MS
    spans = run.timetable.spans("light")
    return changes((span.begins_ns - delay_ns, span.due.pattern if span.due else "black") for span in spans)


def test_the_strip_shows_every_cue_in_its_form_when_due_and_nothing_else(last):
    assert [name for _, name in looks(last)] == [name for _, name in expected_looks(last)]
    begins_ns, ends_ns = strip_lateness(last)
    check_in_time(begins_ns)
    assert all(0 <= ns < SEEN_NS for ns in ends_ns)


def test_what_has_been_shown_for_its_time_leaves_the_strip_in_time(last):
    check_in_time(strip_lateness(last)[1])


def strip_lateness(run):
    """Return how late each cue appeared on the strip, and how late what it covered came back."""
    begins = {call_ns(due) for due in run.timetable.played("light")}
    late = [(due_ns, at_ns - due_ns) for (due_ns, _), (at_ns, _) in zip(expected_looks(run), looks(run), strict=True)]
    return [ns for due_ns, ns in late if due_ns in begins], [ns for due_ns, ns in late[1:] if due_ns not in begins]


def test_the_block_of_choose_sweeps_along_the_strip_and_back(last):
    """To the far end in one second, back in the next, and there again (the pattern's cycle is 2 s, it lasts 3 s)."""
    frames = [(at_ns, lit(frame)[0]) for at_ns, frame in last.frames if look(frame) == "choose"]
    places = [place for at_ns, place in frames if at_ns < frames[0][0] + 2_900 * NS_PER_MS]
    turn = int(np.argmax(places))
    back = turn + int(np.argmin(places[turn:]))
    assert (places[0], places[turn], places[back]) == (0, pytest.approx(24, abs=2), pytest.approx(0, abs=2))
    assert max(places[back:]) >= 20
    assert places[:turn] == sorted(places[:turn])
    assert places[turn:back] == sorted(places[turn:back], reverse=True)
    assert places[back:] == sorted(places[back:])


def hear(run):
    """Hold what the loudspeaker wrote against what it was to sound."""
    expected = soundings(run.timetable)
    assert len(run.tones) == len(expected)
    first, late_ns = run.tones[0], []
    for tone, (due, after_ns, step, edges_ns) in zip(run.tones, expected, strict=True):
        assert (step.lasts_ns - edges_ns) / NS_PER_MS <= tone.lasts_ms <= step.lasts_ns / NS_PER_MS + 2, due.cue
        if after_ns:
            # Within one sound samples follow each other without a gap; only here the place is a time.
            assert (tone.begin - first.begin) / 48 == pytest.approx(after_ns / NS_PER_MS, abs=5), due.cue
            continue
        first = tone
        lacked_ns, had_ns = run.loudspeaker.written_ns(tone.begin)
        assert had_ns >= call_ns(due), due.cue
        late_ns.append(max(0, lacked_ns - call_ns(due)))
    check_in_time(late_ns)
    for tone, wanted in zip(run.tones, expected, strict=True):
        assert (tone.begins_hz, tone.ends_hz) == pytest.approx(wanted.pitches_hz, rel=0.03), wanted.due.cue


def test_every_tone_sounds_as_written_when_due_and_nothing_else(last):
    hear(last)


def check_face(picture):
    """Words alone: mostly black, up to the edges, without the colours of cues."""
    assert picture.share(BLACK) > 0.6
    assert all(picture.share(BLACK, box=box) == 1 for box in picture.margins())
    assert picture.share(PURPLE) == 0


def check_cue(phase, picture):
    """Field or frame in the cue's colours, and letters in theirs."""
    colours = FIELD[phase.due.pattern]
    if phase.due.pattern in ("coach", "no_touch", "choose"):
        check_apart(phase, picture, *colours)
        return
    for box in picture.edges():
        assert picture.share(*colours, box=box) > 0.99, phase.name
        assert all(picture.share(colour, box=box) > 0.2 for colour in colours), phase.name
    assert picture.share(LETTERS[phase.due.pattern]) > 0.03, phase.name
    if phase.full:
        assert min(picture.share(*colours, box=box) for box in picture.corners()) > 0.99, phase.name
        assert picture.outline() == (0, 0, *picture.pixels.shape[1::-1])
    else:
        assert 0.02 < picture.frame_share() <= 0.2, phase.name


def check_apart(phase, picture, sides, middle):
    """A block at either side, an eighth of the width, and the middle; of the frame only what lies along the edge."""
    height, width = picture.pixels.shape[:2]
    eighth, thin, inside = width // 8, height // 100, height // 8
    along = [(0, 0, eighth, thin), (0, height - thin, eighth, height), (0, 0, thin, height)]
    ends = [*along, *((width - right, top, width - left, bottom) for left, top, right, bottom in along)]
    between = [(eighth, 0, width - eighth, thin), (eighth, height - thin, width - eighth, height)]
    assert all(picture.share(sides, box=box) == 1 for box in ends), phase.name
    assert all(picture.share(middle, box=box) == 1 for box in between), phase.name
    assert picture.share(LETTERS[phase.due.pattern]) > 0.03, phase.name
    if sides != BLACK:                     # where they are dark a long word may stand on them
        block = picture.share(sides, box=(0, inside, eighth, height - inside))
        assert block == 1 if phase.full else 0 < block < 0.5, phase.name


def caught(run):
    """Return the pictures taken while their phase stood: one that took longer, on a busy machine, says nothing."""
    latency_ns = LATENCY_MS["screen"] * NS_PER_MS
    found = [(phase, picture) for phase, picture in run.pictures if picture.ended_ns < phase.ends_ns - latency_ns]
    assert len(found) > len(run.pictures) // 2, "the machine was too busy to see anything"
    return found


def check_picture(phase, picture):
    """Hold a picture against what is to be on the screen at that time."""
    assert phase.begins_ns + DRAWN_NS < picture.began_ns, "the picture came too early to say anything"
    if phase.due is None:
        check_face(picture)
    else:
        check_cue(phase, picture)


def test_every_cue_takes_the_field_then_a_frame_and_the_face_is_left_alone(last):
    wanted = [(phase.due.cue, phase.full) if phase.due else ("", False) for phase, _ in last.pictures]
    fields = [("home", True), ("home", False), ("no_touch", True), ("no_touch", False), ("choose", True)]
    again = [("choose", False), ("no_touch", False)]
    ticks = [("last_five", False)] * 5
    assert wanted == [("", False), ("coach_call", False), *fields, *again, *ticks, ("over", False), ("", False)]
    for phase, picture in caught(last):
        check_picture(phase, picture)


def test_frames_close_in_where_the_pattern_says_so(last):
    lefts = {}
    for phase, picture in caught(last):
        if phase.due and not phase.full:
            lefts.setdefault(phase.due.cue, {})[phase.due.n] = picture.outline()[0]
    assert all(left > 0 for left in lefts.pop("home", {}).values())
    steps = lefts.pop("last_five", {})
    assert all(left == 0 if n == 0 else left > 0 for n, left in steps.items())
    assert all(later > earlier for earlier, later in pairwise(steps.values()))
    # Of these frames only the middle is lit, three quarters of the width; a word may be wider.
    for cue in ("coach_call", "choose"):
        assert all(0 < left <= 1280 // 8 for left in lefts.pop(cue, {}).values())
    assert {left for still in lefts.values() for left in still.values()} == {0}


def test_all_channels_of_a_cue_land_together(last):
    """As the devices saw it; of the screen the journal knows when the picture was flipped."""
    late_ns = {r["no"]: r["late_ns"] for r in firings(last.records, "screen", "played")}
    sounded = zip(soundings(last.timetable), last.tones, strict=True)
    begins = {sounding.due.no: tone.begin for sounding, tone in sounded if not sounding.after_ns}
    landed = {}
    for due in last.timetable.coming:
        match due.channel:
            case "rumble":
                at_ns = next(at for at, low, _ in last.motors[due.role] if low and at >= call_ns(due))
            case "light":
                at_ns = next(at for at, _ in last.frames if at >= call_ns(due))
            case "sound":
                at_ns = last.loudspeaker.written_ns(begins[due.no])[0]
            case "screen":
                at_ns = call_ns(due) + late_ns[due.no]
        landed.setdefault((due.cue, due.n), []).append(at_ns + due.lands_ns - call_ns(due))
    assert len(landed) == len(LATE)
    for cue, at_ns in landed.items():
        assert max(at_ns) - min(at_ns) < TOGETHER_NS, cue


# -- of the whole match


def test_the_whole_match_is_the_plan_as_written(whole):
    assert written(whole) == EARLY + LATE
    numbers = whole.timetable.outranked()
    outranked = {(due.cue, due.role or due.channel) for due in whole.timetable.coming if due.no in numbers}
    # The triple of home takes 1.35 s, in which 21 s of the match pass; its sound takes 0.48 s.
    on_pads = {("no_touch", "driver"), ("no_touch", "operator"), ("choose", "operator")}
    assert outranked == on_pads | {("no_touch", "sound")}


def test_the_strip_shows_every_cue_of_the_match_in_order_and_nothing_else(whole):
    """Where cues come too fast, the guard against flashes keeps some LEDs back for a moment: such frames are mixed."""
    shown = changes(one for one in looks(whole) if one[1] != "mixed")
    assert [name for _, name in shown] == [name for _, name in expected_looks(whole)]
    # Ticks look alike: there is a frame for each.
    free, played = iter([at_ns for at_ns, _ in whole.frames]), whole.timetable.played("light")
    check_in_time([next(at_ns for at_ns in free if at_ns >= call_ns(due)) - call_ns(due) for due in played])


def test_every_tone_of_the_match_sounds_once_in_order_and_nothing_else(whole):
    hear(whole)


def test_the_screen_shows_the_end_of_the_match(whole):
    assert [phase.name for phase, _ in whole.pictures] == ["face", "face", "over-0-frame"]
    for phase, picture in caught(whole):
        check_picture(phase, picture)
