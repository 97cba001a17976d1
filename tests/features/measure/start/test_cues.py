"""Starts as a rig gives them."""

import itertools
import random

import msgspec
import pytest

from tocsin.config.files import file_text
from tocsin.errors import UsageError
from tocsin.features.measure.start.cues import ANSWERED_NS, channels_of, rig_of_starts, start_times_ns, starts_of
from tocsin.features.trial.answer_keys import ANSWER
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound, Start
from tocsin.runner.match.count_in import beat_sound
from tocsin.units import NS_PER_S

EVERYTHING = {"light": Light(port="none"), "sound": Sound(), "screen": Screen()}
TEXT = file_text("rig", "rig.toml", 'format = "tocsin-rig/1"\nname = "Stand"\n')


def rig(by, *there):
    return Rig(name="Stand", start=Start(by=by), **{name: EVERYTHING[name] for name in there})


@pytest.mark.parametrize(
    ("by", "there", "channels"),
    [
        ("count_in", ("light", "screen", "sound"), ("light", "screen", "sound")),
        ("count_in", ("sound",), ("sound",)),
        ("countdown", ("light", "screen", "sound"), ("screen",)),
        ("countdown", ("light", "sound"), ("light",)),
        ("horn", ("light", "screen", "sound"), ("sound",)),
        ("press", ("light", "screen", "sound"), ("screen",)),
        ("press", ("light",), ("light",)),
    ],
)
def test_starts_are_given_by_what_the_rig_has(by, there, channels):
    assert channels_of(rig(by, *there)) == channels


@pytest.mark.parametrize(
    ("by", "there", "fix"),
    [("horn", ("light", "screen"), "add [sound]"), ("press", ("sound",), "add [screen] or [light]"),
     ("count_in", (), "add [light] or [screen] or [sound]")],
)  # fmt: skip
def test_a_rig_that_cannot_give_its_start_is_told_what_it_lacks(by, there, fix):
    with pytest.raises(UsageError) as error:
        channels_of(rig(by, *there))
    assert error.value.hint == fix


@pytest.mark.parametrize("by", ["horn", "press"])
def test_nobody_can_tell_when_an_unannounced_start_comes(by):
    """Waits of at least 2 s, spread evenly over 6 (the vigilance test takes 2 to 10: Dinges and Powell 1985)."""
    times = start_times_ns(by, 60, random.Random(1).randrange(1000))
    waits = [later - earlier - ANSWERED_NS for earlier, later in itertools.pairwise(times)]
    assert min(waits) >= 2 * NS_PER_S
    assert max(waits) <= 8 * NS_PER_S
    assert max(waits) - min(waits) > 4 * NS_PER_S
    assert start_times_ns(by, 60, 5) == start_times_ns(by, 60, 5) != start_times_ns(by, 60, 6)


def test_a_count_beats_each_second_up_to_the_start():
    found = starts_of(rig("count_in", "sound"), start_times_ns("count_in", 2, 1), TEXT).plans[0].timeline.firings
    assert [firing.word for firing in found] == ["3", "2", "1", "0"] * 2
    begins = [firing.begin.offset_ns for firing in found]
    assert [later - earlier for earlier, later in itertools.pairwise(begins[:4])] == [NS_PER_S] * 3
    assert [firing.pattern for firing in found[:4]] == ["beat_3", "beat_2", "beat_1", "beat_0"]
    sounds = starts_of(rig("count_in", "sound"), start_times_ns("count_in", 2, 1), TEXT).plans[0].plan.patterns.sound
    assert [sounds[f"beat_{left}"] for left in (3, 2, 1, 0)] == [beat_sound(left) for left in (3, 2, 1, 0)]


def test_no_word_is_one_that_gives_permission():
    """The design's words that no cue may say."""
    for by in ("count_in", "countdown", "horn", "press"):
        found = starts_of(rig(by, *EVERYTHING), start_times_ns(by, 2, 1), TEXT).plans[0].timeline.firings
        assert {firing.word.lower() for firing in found} & {"stop", "clear", "go", "ready", "set", "safe"} == set()


def test_the_start_key_and_its_buttons_answer_and_nothing_else_does():
    pads = (Pad(role="driver", buttons={"0": "start", "3": "mark.contact"}), Pad(role="coach"))
    own = msgspec.structs.replace(rig("horn", "sound"), pads=pads)
    found = rig_of_starts(own)
    assert found.keys.marks == {ANSWER: own.keys.start}
    assert found.keys.start == found.keys.hold == ()
    assert [pad.buttons for pad in found.pads] == [{"0": f"mark.{ANSWER}"}, {}]
