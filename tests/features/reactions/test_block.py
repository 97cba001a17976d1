"""Blocks of a reaction test as files: they are read back, their signals are the plan's own, nobody tells them ahead."""

import itertools

import msgspec
import pytest

from tocsin.analysis.reactions.order import ANSWER_WINDOW_NS, CATCH, SHORTEST_WAIT_NS, Trial, conditions_of, order_of
from tocsin.config import bundle
from tocsin.config.load import load, load_texts
from tocsin.features.reactions.block import PlacedTrial, Signal, cut, files_of, placed, signal_no, signals_of
from tocsin.features.trial.answer_keys import ANSWER, answer_keys, rig_of_test, usual_role
from tocsin.features.trial.cue_files import hushed
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.pattern import (
    LightPattern,
    RumblePattern,
    RumbleStep,
    ScreenPattern,
    SoundPattern,
    SoundStep,
    lasts_ns,
)
from tocsin.model.plan import CHANNELS
from tocsin.model.rig import KEYS_BESIDE_ROBOT, Keys, Pad, Rig
from tocsin.units import NS_PER_MS, NS_PER_S

RIG_FILE = next(file for file in load(None, ["full"], "practice_bench").files if file.kind == "rig")
PLANS = bundle.names("plans")


def plan_of(name):
    return load(None, [name], "practice_bench").plans[0].plan


def block_of(name="full", role="driver", number=1):
    """Return a plan, the trials of a block for it, and the block's files."""
    plan = plan_of(name)
    trials = placed(order_of(conditions_of(plan, role), 5).block(number))
    return plan, trials, files_of("Block 1 of 2", trials, signals_of(plan, role), role, RIG_FILE)


@pytest.mark.parametrize("name", PLANS)
def test_every_signal_lands_at_its_moment_on_its_channels_and_nothing_else_does(name):
    _, trials, loaded = block_of(name)
    firings = loaded.plans[0].timeline.firings
    wanted = {(one.trial.no, channel, one.at_ns) for one in trials for channel in one.trial.condition}
    assert {(signal_no(f.cue), f.channel, f.begin.offset_ns) for f in firings} == wanted
    assert len(firings) == len(wanted)
    assert {f.role for f in firings if f.channel == "rumble"} <= {"driver"}


@pytest.mark.parametrize("name", PLANS)
def test_signals_are_those_of_the_plans_call_home(name):
    plan, _, loaded = block_of(name)
    home = next((cue for cue in plan.cues if cue.id == "home"), None)
    found = loaded.plans[0].plan
    for channel in CHANNELS:
        own = getattr(found.patterns, channel)
        if home is not None and channel in home.patterns:
            name_there = home.patterns[channel]
            assert own == {name_there: cut(getattr(plan.patterns, channel)[name_there])}
            assert home.say in {cue.say for cue in found.cues}


def test_what_home_leaves_out_is_taken_from_the_most_important_cue_that_has_it():
    plan = plan_of("full")
    home = next(cue for cue in plan.cues if cue.id == "home")
    lean = msgspec.structs.replace(home, patterns={"light": "home"})
    others = [cue for cue in plan.cues if cue.id in ("pads", "last_load", "no_touch")]
    found = signals_of(msgspec.structs.replace(plan, cues=(*others, lean)), "driver")
    assert (found["light"].name, found["screen"].name, found["sound"].name) == ("home", "no_touch", "drop")
    assert found["rumble"].name == "long"          # last_load is not for the driver
    assert signals_of(msgspec.structs.replace(plan, cues=(*others, lean)), "coach")["rumble"].name == "short"


def test_the_texts_alone_give_the_same_block_again():
    _, _, loaded = block_of()
    again = load_texts(loaded.files)
    assert again.plans[0].timeline == loaded.plans[0].timeline
    assert again.plans[0].plan == loaded.plans[0].plan
    assert all("tocsin react" in file.text for file in loaded.files if file.kind != "rig")


@pytest.mark.parametrize("channel", CHANNELS)
def test_every_bundled_pattern_survives_being_written(channel):
    for name, pattern in getattr(plan_of("full").patterns, channel).items():
        trial = Trial(no=0, block=1, practice=False, condition=(channel,), wait_ns=NS_PER_S)
        signals = {channel: Signal(name=name, pattern=pattern, word='Say "it"')}
        loaded = files_of("Odd", [PlacedTrial(trial=trial, at_ns=123_456_789)], signals, "coach", RIG_FILE)
        assert getattr(loaded.plans[0].plan.patterns, channel)[name] == pattern
        assert loaded.plans[0].plan.cues[0].say == 'Say "it"'


@pytest.mark.parametrize("name", PLANS)
def test_each_signal_comes_into_stillness(name):
    """It is over with its answer window, and the next one is at least two seconds away from that."""
    _, trials, loaded = block_of(name)
    ends_ns = {one.at_ns + ANSWER_WINDOW_NS for one in trials}
    for firing in loaded.plans[0].timeline.firings:
        assert firing.begin.offset_ns + ANSWER_WINDOW_NS in ends_ns
        assert firing.lasts_ns <= ANSWER_WINDOW_NS
    for earlier, later in itertools.pairwise(trials):
        assert later.at_ns - earlier.at_ns - ANSWER_WINDOW_NS == later.trial.wait_ns >= SHORTEST_WAIT_NS
    assert trials[0].at_ns == trials[0].trial.wait_ns


def test_patterns_that_are_too_long_are_cut_where_a_step_ends():
    pulse = RumbleStep(strong=1.0, weak=1.0, lasts_ns=400 * NS_PER_MS)
    pause = RumbleStep(lasts_ns=300 * NS_PER_MS)
    assert cut(RumblePattern(steps=(pulse, pause), times=5)).steps == (pulse, pause, pulse, pause)
    tone = SoundStep(hz=700.0, lasts_ns=4 * NS_PER_S)
    assert cut(SoundPattern(steps=(tone,))).steps == (msgspec.structs.replace(tone, lasts_ns=ANSWER_WINDOW_NS),)
    white = (255, 255, 255)
    for pattern in (
        LightPattern(form="plain", colours=(white,), lasts_ns=9 * NS_PER_S),
        ScreenPattern(field="plain", colours=(white,), letters=white, lasts_ns=9 * NS_PER_S),
    ):
        assert lasts_ns(cut(pattern)) == ANSWER_WINDOW_NS
    short = RumblePattern(steps=(pulse,))
    assert cut(short) is short


def test_a_block_lasts_until_the_last_window_is_over_and_its_button_up():
    _, trials, loaded = block_of()
    last = loaded.plans[0].timeline.last_end().offset_ns
    assert last == trials[-1].at_ns + ANSWER_WINDOW_NS + NS_PER_S
    assert any(one.trial.condition == CATCH for one in trials)


def test_no_face_tells_what_comes():
    _, trials, loaded = block_of()
    timeline = loaded.plans[0].timeline
    shown = Status(phase="running", origins=(Origin(anchor="match", origin_ns=0),))
    for one in trials:
        told = ViewModelMaker(timeline).at(shown, one.at_ns - NS_PER_S)
        hush = ViewModelMaker(hushed(timeline)).at(shown, one.at_ns - NS_PER_S)
        assert [ahead.what for ahead in hush.ahead] == ["End of the match"]
        assert len(told.ahead) == 2 or one.trial.condition == CATCH or one is trials[-1]
    assert [f.begin for f in hushed(timeline).firings] == [f.begin for f in timeline.firings]


# The rig of a test.


PADS = (Pad(role="driver", order=1), Pad(role="operator", order=2))


def bench(pads=PADS, **keys):
    return Rig(name="Bench", drives_robot=False, keys=Keys(**keys), pads=pads)


def test_nothing_moves_the_clock_or_gives_a_cue():
    rig = rig_of_test(bench(call={"home": ("h",)}, marks={"contact": ("c",)}), "driver")
    for name in ("hold", "begin", "variant", "earlier", "later", "undo", "mute", "call"):
        assert not getattr(rig.keys, name)
    assert rig.keys.marks == {ANSWER: ("a",)}
    assert rig.keys.start == Keys().start


def test_only_the_usual_roles_pad_answers():
    buttons = ({"0": "scrap", "7": "start"}, {"3": "start"})
    pads = [msgspec.structs.replace(pad, buttons=own) for pad, own in zip(PADS, buttons, strict=True)]
    rig = rig_of_test(bench(pads=tuple(pads)), "operator")
    assert [pad.buttons for pad in rig.pads] == [{"7": "start"}, {"3": "start", "0": "mark.answer"}]


def test_the_answer_key_is_the_rigs_own_or_a_letter_that_is_free():
    assert answer_keys(bench(marks={"answer": ("g", "enter")})) == ("g", "enter")
    assert answer_keys(bench(leave=("a",), scrap=("j",))) == ("l",)
    assert set(answer_keys(bench())) <= KEYS_BESIDE_ROBOT


@pytest.mark.parametrize("name", bundle.names("rigs"))
def test_every_bundled_rig_can_be_tested_with_no_key_taken_twice(name):
    rig = load(None, ["full"], name).rig
    found = rig_of_test(rig, usual_role(rig))
    used = [key for action in Keys.__struct_fields__[:-2] for key in getattr(found.keys, action)]
    used += [*found.keys.marks[ANSWER], "left", "right"]
    assert len(used) == len(set(used))


def test_who_is_tested_unless_it_is_said():
    assert usual_role(bench()) == "driver"
    assert usual_role(Rig(name="None")) == "driver"
    assert usual_role(Rig(name="One", pads=(Pad(role="coach"),))) == "coach"
