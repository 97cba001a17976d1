"""Make a block of a reaction test into cues, one for each signal, at its moment.

The patterns are those of the tested plan: those of its cue ``home``, and for a channel that ``home`` leaves out, those
of the most important cue that uses it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

import msgspec

from tocsin.analysis.reactions.order import ANSWER_WINDOW_NS, CATCH, Trial
from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.config.toml.phrases import quoted
from tocsin.features.trial.cue_files import CueSheet, WrittenCue, numbered
from tocsin.model.pattern import (
    Pattern,
    RumblePattern,
    RumbleStep,
    SoundPattern,
    SoundStep,
    lasts_ns,
)
from tocsin.model.plan import CHANNELS, ChannelName, Cue, Plan, Role
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

MAIN = "home"                          # the cue whose patterns are tested
GAME_NAME = tr("Reaction test")
TAIL_NS = NS_PER_S                     # behind the last window: a button that was pressed there comes up
_SIGNAL = "signal_"                    # begins the cues' ids

Step = TypeVar("Step", RumbleStep, SoundStep)


class PlacedTrial(msgspec.Struct, frozen=True, kw_only=True):
    """A trial and its moment in the block: its signal lands (or stays out) at ``at_ns`` of match time."""

    trial: Trial
    at_ns: int


class Signal(msgspec.Struct, frozen=True, kw_only=True):
    """One channel's signal: a pattern by its name in the plan, and the word shown with it."""

    name: str
    pattern: Pattern
    word: str


Signals = Mapping[ChannelName, Signal]


def placed(trials: Iterable[Trial]) -> tuple[PlacedTrial, ...]:
    """Return the trials of a block with their moments, each a wait after the answer window before it."""
    found: list[PlacedTrial] = []
    free_ns = 0
    for trial in trials:
        found.append(PlacedTrial(trial=trial, at_ns=free_ns + trial.wait_ns))
        free_ns += trial.wait_ns + ANSWER_WINDOW_NS
    return tuple(found)


def signals_of(plan: Plan, role: Role) -> dict[ChannelName, Signal]:
    """Return each channel's signal to a role in a plan, cut to the answer window."""
    ranked = sorted(plan.cues, key=lambda cue: (cue.id != MAIN, -cue.priority))
    found: dict[ChannelName, Signal] = {}
    for channel in CHANNELS:
        cue = next((cue for cue in ranked if _uses(cue, channel, role)), None)
        if cue is not None:
            name = cue.patterns[channel]
            pattern: Pattern = getattr(plan.patterns, channel)[name]
            word = cue.say or cue.id.replace("_", " ").capitalize()
            found[channel] = Signal(name=name, pattern=cut(pattern), word=word)
    return found


def cut(pattern: Pattern) -> Pattern:
    """Return a pattern that ends with the answer window, so that the devices are still when the next signal comes."""
    if lasts_ns(pattern) <= ANSWER_WINDOW_NS:
        return pattern
    if isinstance(pattern, RumblePattern):
        return msgspec.structs.replace(pattern, steps=_first_steps(pattern.steps, pattern.times), times=1)
    if isinstance(pattern, SoundPattern):
        return msgspec.structs.replace(pattern, steps=_first_steps(pattern.steps, pattern.times), times=1)
    return msgspec.structs.replace(pattern, lasts_ns=ANSWER_WINDOW_NS)


def files_of(title: str, trials: Sequence[PlacedTrial], signals: Signals, role: Role, rig: FileText) -> Loaded:
    """Return a block, ready to play, as long as its trials, with a cue for each signal; a catch trial has none.

    ``rig`` is the rig's own file. Raises DiagnosticsError if the rig's text is no longer valid.
    """
    used = {channel for one in trials for channel in one.trial.condition}
    sheet = CueSheet(
        by="tocsin react",
        what="reaction",
        game=GAME_NAME,
        plan=title,
        period=title,
        lasts_ns=trials[-1].at_ns + ANSWER_WINDOW_NS + TAIL_NS,
        cues=[_cue(one, signals, role) for one in trials if one.trial.condition != CATCH],
        patterns=[_pattern_text(channel, signals[channel]) for channel in CHANNELS if channel in used],
    )
    return sheet.loaded(rig)


def signal_no(cue: str) -> int | None:
    """Return the trial number of a cue's signal, None for any other cue."""
    return numbered(_SIGNAL, cue)


def _uses(cue: Cue, channel: ChannelName, role: Role) -> bool:
    """Return whether a role notices a cue on a channel: pads shake for the cue's own roles only."""
    return channel in cue.patterns and (channel != "rumble" or role in cue.roles)


def _first_steps(steps: Sequence[Step], times: int) -> tuple[Step, ...]:
    """Return the steps that end within the answer window, of a first one that is longer as much as fits."""
    kept: list[Step] = []
    left_ns = ANSWER_WINDOW_NS
    for step in list(steps) * times:
        if step.lasts_ns > left_ns:
            break
        kept.append(step)
        left_ns -= step.lasts_ns
    return tuple(kept) or (msgspec.structs.replace(steps[0], lasts_ns=ANSWER_WINDOW_NS),)


def _cue(one: PlacedTrial, signals: Signals, role: Role) -> WrittenCue:
    condition = one.trial.condition
    return WrittenCue(
        id=f"{_SIGNAL}{one.trial.no}",
        at_ns=one.at_ns,
        patterns={channel: signals[channel].name for channel in condition},
        word=signals["screen" if "screen" in condition else condition[0]].word,
        roles=(role,),
    )


def _pattern_text(channel: ChannelName, signal: Signal) -> str:
    return f"[pattern.{channel}.{signal.name}]\n" + "".join(f"{line}\n" for line in _lines(signal.pattern))


def _lines(pattern: Pattern) -> Iterator[str]:
    for name, value in msgspec.structs.asdict(pattern).items():
        if name == "steps":
            yield f"steps = [ {', '.join(_step_text(step) for step in value)} ]"
        elif name == "colours":
            yield f"colours = [{', '.join(_colour(*colour) for colour in value)}]"
        elif name == "letters":
            yield f"letters = {_colour(*value)}"
        else:
            yield _key_text(name, value)


def _step_text(step: RumbleStep | SoundStep) -> str:
    # A step without a tone is a silence; TOML knows no other word for it than leaving the key out.
    values = {name: value for name, value in msgspec.structs.asdict(step).items() if value or "hz" not in name}
    return f"{{ {', '.join(_key_text(name, value) for name, value in values.items())} }}"


def _key_text(name: str, value: str | int | float) -> str:
    if name.endswith("_ns"):
        return f'{name.removesuffix("_ns")} = "{format_clock(int(value))}"'
    return f"{name} = {quoted(value) if isinstance(value, str) else repr(value)}"


def _colour(red: int, green: int, blue: int) -> str:
    return f'"#{red:02x}{green:02x}{blue:02x}"'
