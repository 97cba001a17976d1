"""Play a round of events as a programme: the runner of a match plays it, and its journal says how late it was."""

import random
from collections.abc import Iterable, Iterator, Sequence

import msgspec

from tocsin.channels.device import DeviceState
from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.features.trial.cue_files import CueSheet, WrittenCue, numbered
from tocsin.journal import records
from tocsin.model.plan import CHANNELS, ROLES, ChannelName, Role
from tocsin.model.rig import Priority, Rig
from tocsin.runner.device_states import DeviceStates
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.runner.run import Say
from tocsin.runner.stage import Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

LEAD_IN_MS = 1500                      # before the first event: time to read the caution and to press Ctrl-C
TAIL_MS = 500
# Irregular, so that no timer's own rhythm fits them, and far enough apart for a rumble step and a strip's frame.
SHORTEST_MS, LONGEST_MS = 230, 330
# An event that is later is left out of the figures as lost; less would hide the very lateness that is looked for.
LATE_LIMIT_NS = 5 * NS_PER_S
_EVENT = "event_"                      # begins the cues' ids
# The strip stays far below what counts as a flash, a change of 0.10 of full luminance (WCAG 2.2, "flash"): LEDs are
# dimmed in proportion, so that level and light are the same share. On the screen one word stands all the time. Each
# lasts until the next event has come, so that nothing goes on and off in between.
_PATTERNS = """\
[pattern.rumble.faint]
steps = [ { weak = 0.2, lasts = "50ms" } ]

[pattern.light.dim]
form = "plain"
colours = ["white"]
level = 0.02
lasts = "700ms"

[pattern.light.dimmer]
form = "plain"
colours = ["white"]
level = 0.04
lasts = "700ms"

[pattern.screen.word]
field = "none"
colours = ["white"]
letters = "white"
frame = "none"
full = "0s"
lasts = "700ms"

[pattern.sound.soft_tick]
steps = [ { hz = 750, level = 0.08, lasts = "20ms" } ]
"""


def times_ms(events: int, seed: int) -> tuple[int, ...]:
    """Return the times of a round's events in milliseconds of the round; equal seeds give equal times."""
    rng = random.Random(seed)
    now = LEAD_IN_MS
    found = []
    for _ in range(events):
        found.append(now)
        now += rng.randint(SHORTEST_MS, LONGEST_MS)
    return tuple(found)


def events_of(times: Sequence[int], channels: Iterable[ChannelName], roles: Sequence[Role], rig: FileText) -> Loaded:
    """Return the events, ready to play on these channels; ``rig`` is the rig's own file, ``roles`` are its pads' roles.
    Raises DiagnosticsError if the rig's text is not valid."""
    wanted = set(channels)
    sheet = CueSheet(
        by="tocsin measure lateness",
        what="measured",
        game="Measuring",
        plan=tr("Measuring lateness"),
        period="Lateness",
        lasts_ns=(times[-1] + TAIL_MS) * NS_PER_MS,
        cues=[
            WrittenCue(
                id=f"{_EVENT}{no}",
                at_ns=at_ms * NS_PER_MS,
                patterns={channel: name for channel, name in _patterns_of(no) if channel in wanted},
                word="Measuring",
                roles=roles,
                late_limit_ns=LATE_LIMIT_NS,
            )
            for no, at_ms in enumerate(times)
        ],
        patterns=[_PATTERNS],
    )
    return sheet.loaded(rig)


def event_no(cue: str) -> int | None:
    """Return the event number, from 0, of a cue; None for any other cue."""
    return numbered(_EVENT, cue)


def _patterns_of(no: int) -> Iterator[tuple[ChannelName, str]]:
    """Yield each channel's pattern for an event; the strip's differs from event to event, so that each is a change."""
    names = {"rumble": "faint", "light": ("dim", "dimmer")[no % 2], "screen": "word", "sound": "soft_tick"}
    for channel in CHANNELS:
        yield channel, names[channel]


TELL_NS = 5 * NS_PER_S                 # how often progress is told
_KEPT_KEYS = ("scrap", "leave", "mute", "softer", "all_keys")
# What the system's libraries say on stderr is none; a refused priority is told of by itself.
_NO_FAULTS = (records.STDERR, "priority")

Part = tuple[ChannelName, Role | None]


class MeasuredDevice(msgspec.Struct, frozen=True, kw_only=True):
    """A channel's device in a measurement: its state, what is wrong with it, and whether the rig has none.

    ``granted`` is the priority that the system gave, ``refused`` why it refused the requested one. ``missing`` has the
    roles whose pads are missing, each with the fix.
    """

    state: DeviceState
    why: str = ""
    off: bool = False
    granted: Priority = "ordinary"
    refused: str = ""
    missing: dict[Role, str] = {}


class Lost(msgspec.Struct, frozen=True, kw_only=True):
    """An event without a figure: it failed, or was skipped, and why."""

    channel: ChannelName
    role: Role | None
    outcome: str
    why: str


def quiet_rig(rig: Rig) -> Rig:
    """Return the rig without voice and without keys or buttons that could change the clock or give a cue."""
    free = {name: () for name in rig.keys.__struct_fields__ if name not in (*_KEPT_KEYS, "call", "marks")}
    keys = msgspec.structs.replace(rig.keys, **free, call={}, marks={})
    pads = tuple(msgspec.structs.replace(pad, buttons={}) for pad in rig.pads)
    sound = None if rig.sound is None else msgspec.structs.replace(rig.sound, speech=False)
    return msgspec.structs.replace(rig, keys=keys, pads=pads, sound=sound)


class LatenessRound(Programme):
    """Plays one round of events and keeps how late each was, in milliseconds by channel and role.

    Without any device it ends at once with ``idle`` true. ``left``: people ended it early.
    """

    reloads = False

    def __init__(self, files: Loaded, options: RunOptions, say: Say) -> None:
        super().__init__(files, options)
        self.late_ms: dict[Part, list[float]] = {}
        self.lost: list[Lost] = []
        self.devices: dict[ChannelName, MeasuredDevice] = {}
        self.faults: list[records.Fault] = []
        self.disturbed = False
        self.idle = self.left = False
        self._say = say
        self._told_ns = 0

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Report progress, and leave if there is nothing to be timed."""
        if stage.match.lifecycle.phase == "standby":
            return
        states = [stage.device_states.state(channel) for channel in stage.channels]
        if not self.idle and all(state == "absent" for state in states):
            self.idle = True
            stage.leave(tr("no device is there"))
        if not self._told_ns:
            self._told_ns = now_ns
        if now_ns - self._told_ns >= TELL_NS and not self.idle:
            self._told_ns = now_ns
            self._tell(stage)

    def _tell(self, stage: Stage) -> None:
        fired = {record.cue for record in stage.match.record.kept if isinstance(record, records.FiringRecord)}
        events = {firing.cue for firing in stage.match.timeline.firings if event_no(firing.cue) is not None}
        self._say(tr("  {count} of {count_2} events", count=len(fired), count_2=len(events)))

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Keep the round's figures."""
        kept = stage.match.record.kept
        refused = {r.channel: r.why for r in kept if isinstance(r, records.Fault) and r.what == "priority"}
        for channel in stage.channels:
            states = stage.device_states
            self.devices[channel] = MeasuredDevice(
                state=states.state(channel),
                why=states.why(channel),
                off=states.off(channel),
                granted=stage.priorities.get(channel, "ordinary"),
                refused=refused.get(channel, ""),
                missing=_missing(states) if channel == "rumble" else {},
            )
        for record in kept:
            if isinstance(record, records.FiringRecord):
                self._keep(record)
        self.left = ending.outcome != "over" and not self.idle
        self.faults = [r for r in kept if isinstance(r, records.Fault) and r.what not in _NO_FAULTS]
        self.disturbed = stage.match.disturbed
        return ()

    def _keep(self, firing: records.FiringRecord) -> None:
        if firing.outcome == "played" and firing.late_ns is not None:
            self.late_ms.setdefault((firing.channel, firing.role), []).append(firing.late_ns / NS_PER_MS)
        elif firing.why != records.ABSENT:
            self.lost.append(Lost(channel=firing.channel, role=firing.role, outcome=firing.outcome, why=firing.why))


def _missing(states: DeviceStates) -> dict[Role, str]:
    facts = {fact.what: fact for fact in states.facts()}
    return {role: facts[role].text for role in ROLES if role in facts and facts[role].state != "ready"}
