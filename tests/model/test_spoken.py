"""Whose words the laptop speaks, and whose it leaves to the coach."""

import pytest

from tocsin.config import bundle
from tocsin.config.load import load
from tocsin.model.pattern import SoundPattern, SoundStep
from tocsin.model.plan import Cue, Plan, Role
from tocsin.model.rig import Sound
from tocsin.model.spoken import MOST_PHRASES, spoken_words, too_many_words, word_begins_ns
from tocsin.units import NS_PER_MS as MS


def cue(name: str, *roles: Role, say: str = "Home", sound: bool = True) -> Cue:
    return Cue(id=name, at=(), roles=roles or ("driver",), say=say, patterns={"sound": "rising"} if sound else {})


def spoken(*cues: Cue, speech: bool | None = None) -> set[str]:
    return set(spoken_words(Plan(name="Bell", game="bell", cues=cues), Sound(speech=speech)))


def test_a_plan_without_a_coach_speaks_what_it_says_where_it_sounds() -> None:
    assert spoken(cue("home"), cue("silent", sound=False), cue("wordless", say=""), cue("blank", say=" ")) == {"home"}


def test_a_plan_with_a_coach_leaves_every_word_to_the_coach() -> None:
    assert spoken(cue("home"), cue("call", "coach", sound=False)) == set()


def test_a_rig_that_wants_speech_speaks_all_but_the_coachs_own_words() -> None:
    cues = cue("home"), cue("choose", "operator", "coach"), cue("call", "coach")
    assert spoken(*cues, speech=True) == {"home"}


def test_a_rig_that_wants_none_or_has_no_loudspeaker_speaks_nothing() -> None:
    assert spoken(cue("home"), speech=False) == set()
    assert spoken_words(Plan(name="Bell", game="bell", cues=(cue("home"),)), None) == {}


@pytest.mark.parametrize(("plan", "words"), [("full", set()), ("doors", set()), ("dash", set()), ("quiet", set()),
                                             ("words", {"Home", "No touch", "Choose", "Last one"})])  # fmt: skip
def test_of_the_bundled_plans_only_the_one_without_a_coach_speaks(plan: str, words: set[str]) -> None:
    assert plan in bundle.names("plans")
    assert set(spoken_words(load(None, [plan], "nothing").plans[0].plan, Sound()).values()) == words


def test_of_too_many_words_the_first_are_spoken_and_the_others_counted() -> None:
    cues = [cue(f"c{n}", say=f"Word {n % 150}") for n in range(450)]
    plan = Plan(name="Bell", game="bell", cues=tuple(cues))
    found = spoken_words(plan, Sound())
    assert set(found) == {f"c{n}" for n in range(450) if n % 150 < MOST_PHRASES}
    assert too_many_words(plan, Sound()) == 150 - MOST_PHRASES
    assert too_many_words(plan, Sound(speech=False)) == too_many_words(plan, None) == 0


STEPS = {
    "steady": (SoundStep(hz=750, lasts_ns=250 * MS),),
    "ends_silent": (SoundStep(hz=750, lasts_ns=180 * MS), SoundStep(lasts_ns=500 * MS)),
    "ends_mute": (SoundStep(hz=750, lasts_ns=180 * MS), SoundStep(hz=750, level=0, lasts_ns=500 * MS)),
}


@pytest.mark.parametrize(
    ("name", "times", "begins_ms"),
    [("steady", 1, 350), ("steady", 3, 850), ("ends_silent", 1, 280), ("ends_silent", 2, 960), ("ends_mute", 1, 280)],
)
def test_a_word_begins_a_tenth_of_a_second_after_the_last_tone(name: str, times: int, begins_ms: int) -> None:
    assert word_begins_ns(SoundPattern(steps=STEPS[name], times=times)) == begins_ms * MS
