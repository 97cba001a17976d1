"""Make the starts of a match, as a rig says that they are given, into a series of cues.

A count-in beats like Tocsin's own, a countdown shows its digits, a horn sounds, and a seen start comes without warning.
Random waits lie between them, so that nobody can press by the rhythm of the starts.
"""

import random
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import msgspec

from tocsin.analysis.delays.start_error import COUNTED
from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.errors import UsageError
from tocsin.features.trial.answer_keys import ANSWER, bench_keys
from tocsin.features.trial.cue_files import CueSheet, WrittenCue
from tocsin.features.trial.guided import played_in
from tocsin.journal import records
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig, Start, StartBy
from tocsin.runner.match.count_in import BEATS, beat_sound
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

ANSWERED_NS = 1500 * NS_PER_MS         # after a start, before the next wait begins
TAIL_NS = NS_PER_S
_COUNTED_WAIT_NS = (1 * NS_PER_S, 3 * NS_PER_S)
_SUDDEN_WAIT_NS = (2 * NS_PER_S, 8 * NS_PER_S)
_START, _BEAT = "start_", "beat_"      # begin the cues' ids


class Way(NamedTuple):
    """The channels that give a start: all available ones of ``together``, else the first available of ``instead``."""

    together: tuple[ChannelName, ...]
    instead: tuple[ChannelName, ...] = ()


_WAYS: dict[StartBy, Way] = {
    "count_in": Way(("light", "screen", "sound")),
    "countdown": Way(("screen",), ("light",)),
    "horn": Way(("sound",)),
    "press": Way(("screen",), ("light",)),
}
# The horn's stand-in is a plain tone, which is like no official signal.
_PATTERNS = """\
[pattern.screen.beat]
field = "none"
colours = ["white"]
letters = "white"
frame = "none"
lasts = "800ms"

[pattern.screen.start]
field = "plain"
colours = ["white"]
letters = "white"
full = "600ms"
frame = "none"
lasts = "600ms"

[pattern.light.beat]
form = "plain"
colours = ["yellow"]
level = 0.6
lasts = "200ms"

[pattern.light.start]
form = "plain"
colours = ["white"]
level = 0.6
lasts = "200ms"

[pattern.sound.horn]
steps = [ { hz = 660, level = 0.7, lasts = "400ms" } ]
"""


def channels_of(rig: Rig) -> tuple[ChannelName, ...]:
    """Return the channels of a rig that give its starts. Raises UsageError if it has none of them."""
    way = _WAYS[rig.start.by]
    there = tuple(channel for channel in way.together if getattr(rig, channel) is not None)
    there = there or tuple(channel for channel in way.instead if getattr(rig, channel) is not None)[:1]
    if not there:
        wanted = " or ".join(f"[{channel}]" for channel in (*way.together, *way.instead))
        raise UsageError(
            tr("the rig '{name}' has no device for a {by}", name=rig.name, by=rig.start.by),
            hint=tr("add {wanted}", wanted=wanted),
        )
    return there


def rig_of_starts(rig: Rig) -> Rig:
    """Return the rig with its start key, and the pads' buttons for it, as answer keys."""
    keys = msgspec.structs.replace(bench_keys(rig, {ANSWER: rig.keys.start}), start=())
    pads = tuple(
        msgspec.structs.replace(
            pad, buttons={button: f"mark.{ANSWER}" for button, action in pad.buttons.items() if action == "start"}
        )
        for pad in rig.pads
    )
    return msgspec.structs.replace(rig, keys=keys, pads=pads, start=Start(by="press"))


def start_times_ns(by: StartBy, count: int, seed: int) -> tuple[int, ...]:
    """Return the times of the starts in nanoseconds; equal seeds give equal times."""
    rng = random.Random(seed)
    lead_ns, wait_ns = (BEATS * NS_PER_S, _COUNTED_WAIT_NS) if by in COUNTED else (0, _SUDDEN_WAIT_NS)
    times: list[int] = []
    free_ns = 0
    for _ in range(count):
        # Of the generator only random() is promised to stay the same in later Pythons.
        times.append(free_ns + wait_ns[0] + int(rng.random() * (wait_ns[1] - wait_ns[0])) + lead_ns)
        free_ns = times[-1] + ANSWERED_NS
    return tuple(times)


def starts_of(rig: Rig, times_ns: Sequence[int], rig_file: FileText) -> Loaded:
    """Return starts at these times, ready to play on a rig with its own file ``rig_file``. Raises UsageError if the rig
    cannot give them, DiagnosticsError if its text is not valid."""
    by, channels = rig.start.by, channels_of(rig)
    sheet = CueSheet(
        by="tocsin measure start",
        what="shown",
        game="Measuring",
        plan="Starts",
        period="Starts",
        lasts_ns=times_ns[-1] + ANSWERED_NS + TAIL_NS,
        cues=[cue for number, at_ns in enumerate(times_ns, 1) for cue in _cues(by, number, at_ns, channels)],
        patterns=[_PATTERNS, *(_sound(left) for left in range(BEATS + 1))],
    )
    found = sheet.loaded(rig_file)
    return Loaded(found.plans, rig_of_starts(rig), found.files)


def landed_ns(kept: Iterable[records.Record]) -> tuple[int, ...]:
    """Return when each given start landed, in nanoseconds on the shared clock: by the rig's latencies, on its first
    channel."""
    found: dict[str, int] = {}
    for played in played_in(kept):
        if played.cue.startswith(_START):
            found[played.cue] = min(played.at_ns, found.get(played.cue, played.at_ns))
    return tuple(sorted(found.values()))


def _cues(by: StartBy, number: int, at_ns: int, channels: Sequence[ChannelName]) -> Iterator[WrittenCue]:
    if by in COUNTED:
        for left in range(BEATS, 0, -1):
            beat = f"{_BEAT}{number}_{left}"
            patterns = {channel: f"beat_{left}" if channel == "sound" else "beat" for channel in channels}
            yield WrittenCue(id=beat, at_ns=at_ns - left * NS_PER_S, patterns=patterns, word=str(left))
    sound = "horn" if by == "horn" else "beat_0"
    patterns = {channel: sound if channel == "sound" else "start" for channel in channels}
    word = "0" if by in COUNTED else "Start"
    yield WrittenCue(id=f"{_START}{number}", at_ns=at_ns, patterns=patterns, word=word)


def _sound(left: int) -> str:
    """Return the sound of a count-in's beat as a table of a patterns file; a step without hz is a silence."""
    steps = (
        f'{{ {f"hz = {step.hz}, " if step.hz else ""}level = {step.level}, lasts = "{step.lasts_ns // NS_PER_MS}ms" }}'
        for step in beat_sound(left).steps
    )
    return f"[pattern.sound.beat_{left}]\nsteps = [ {', '.join(steps)} ]\n"
