"""Define the known forms that are fired on a device: so different that a person who names the right one noticed it."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game, Period
from tocsin.model.moment import parse
from tocsin.model.pattern import (
    LightPattern,
    Pattern,
    Patterns,
    Rgb,
    RumblePattern,
    RumbleStep,
    ScreenPattern,
    SoundPattern,
    SoundStep,
)
from tocsin.model.plan import ChannelName, Cue, Plan, Role
from tocsin.model.safety import OKABE_ITO
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

_LENGTH_NS = 30 * NS_PER_S
_SHOWN_NS = 20 * NS_PER_S              # light and screen stand until there is an answer
_LEVEL = 0.4                           # of the strip: bright enough to be seen, and not to dazzle
_FORM = "form"


class Form(NamedTuple):
    """A pattern and its name for people. ``felt_whole``: it can be judged only when it is over."""

    title: str
    pattern: Pattern
    word: str = ""
    felt_whole: bool = False


def programme(channel: ChannelName, form: Form, roles: Sequence[Role]) -> tuple[Timeline, Patterns]:
    """Return a timeline that fires a form at the begin of the match, on the pads of ``roles``."""
    game = Game(name="Try", periods=(Period(id="trial", kind="driver", title="Try", lasts_ns=_LENGTH_NS),))
    cue = Cue(
        id=_FORM, at=(parse("match.begin"),), roles=tuple(roles) or ("driver",), patterns={channel: _FORM},
        say=form.word, late_limit_ns=2 * NS_PER_S,
    )  # fmt: skip
    by_channel: dict[str, Any] = {channel: {_FORM: form.pattern}}
    patterns = Patterns(**by_channel)
    timeline, mistakes = compile_plan(game, Plan(name="Try", game="try", cues=(cue,), patterns=patterns))
    if timeline is None:
        raise ValueError(f"the forms are no sound plan: {mistakes}")
    return timeline, patterns


def full_strength(lasts_s: int) -> Form:
    """Return both motors at full strength, for a time in nanoseconds."""
    return Form(tr("full strength"), _rumble(lasts_s * 1000), felt_whole=True)


def _rumble(on_ms: int, off_ms: int = 0, times: int = 1) -> RumblePattern:
    steps = [RumbleStep(strong=1.0, weak=1.0, lasts_ns=on_ms * NS_PER_MS)]
    if off_ms:
        steps.append(RumbleStep(lasts_ns=off_ms * NS_PER_MS))
    return RumblePattern(steps=tuple(steps), times=times)


def _light(colour: Rgb) -> LightPattern:
    return LightPattern(form="plain", colours=(colour,), level=_LEVEL, lasts_ns=_SHOWN_NS)


def _word(word: str) -> Form:
    white = OKABE_ITO["white"]
    pattern = ScreenPattern(field="none", colours=(white,), letters=white, frame="none", lasts_ns=_SHOWN_NS)
    return Form(word, pattern, word)


def _sound(*tones: tuple[float, float]) -> SoundPattern:
    steps = [SoundStep(hz=hz, to_hz=to_hz, level=0.5, lasts_ns=500 * NS_PER_MS) for hz, to_hz in tones]
    return SoundPattern(steps=tuple(steps))


# Hands tell one long, one short and three apart, also under load (common practice, no source). Pitches: ISO 16. Three
# colours, since a controller that takes them in another order shows another one. Words of the bundled plans.
FORMS: dict[ChannelName, tuple[Form, ...]] = {
    "rumble": (
        Form(tr("three short"), _rumble(250, 250, 3), felt_whole=True),
        Form(tr("one long"), _rumble(1200), felt_whole=True),
        Form(tr("one short"), _rumble(300), felt_whole=True),
    ),
    "light": (
        Form("red", _light((255, 0, 0))), Form("green", _light((0, 255, 0))), Form("blue", _light((0, 0, 255))),
    ),
    "screen": (_word("HOME"), _word(tr("LAST ONE")), _word("CHOOSE")),
    "sound": (
        Form(tr("a tone that rises"), _sound((523.2511, 1046.5023)), felt_whole=True),
        Form(tr("a tone that falls"), _sound((1046.5023, 523.2511)), felt_whole=True),
        Form(tr("two even tones"), _sound((750.0, 0.0), (0.0, 0.0), (750.0, 0.0)), felt_whole=True),
    ),
}  # fmt: skip
