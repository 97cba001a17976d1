"""Walk through what must be there before a match: each device for half a second, then clock, battery, plan, rules.

A drive team does it while it queues: one key, one line at a time, ten seconds. The program knows whether a device is
there; whether it is felt or seen only people know, so each line of a device ends in that question.
"""

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from tocsin.model.clock.sync import Sync
from tocsin.model.display.status import DeviceFact
from tocsin.model.plan import CHANNELS, ROLES, ChannelName
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.power import Battery
from tocsin.runner.stage import Stage
from tocsin.translation import marked, tr, trn
from tocsin.units import NS_PER_MS

# Pads shake one after another so far apart, by their worker's own clock: a line of the walk lasts as long.
STEP_NS = 750 * NS_PER_MS
_SENSES: dict[ChannelName, str] = {
    "rumble": tr("felt?"),
    "light": tr("seen?"),
    "screen": tr("seen?"),
    "sound": tr("heard?"),
}
_STARTS = {
    "count_in": tr("count-in"),
    "countdown": tr("countdown"),
    "horn": tr("start signal"),
    "press": tr("press"),
}


marked("clock", "battery", "plan", "rules")


class Item(NamedTuple):
    """One thing that must be there: its name, what people read of it, and whether it is there, None for what is left
    out by choice. ``channel`` is that of a device."""

    name: str
    text: str
    there: bool | None
    channel: ChannelName | None = None

    @property
    def line(self) -> str:
        """Return it as one line; what is missing says so in a word."""
        name = tr(self.name)
        told = (
            tr("{name} MISSING: {text}", name=name, text=self.text) if self.there is False
            else f"{name}: {self.text}"
        )
        return f"{told}, {_SENSES[self.channel]}" if self.channel and self.there else told


def items(stage: Stage, battery: Battery | None, allowed: bool | None) -> tuple[Item, ...]:
    """Return all that must be there, in the order of the walk: pads that can shake first, since they shake one after
    another in one go."""
    calls = _calls(stage.piece.timeline)
    devices = [_device(fact, calls, stage) for fact in stage.device_states.facts()]
    pads = sorted((item for item in devices if item.channel == "rumble"), key=lambda item: not item.there)
    others = [item for item in devices if item.channel != "rumble"]
    return (*pads, *others, *_facts(stage, calls, battery, allowed))


def _device(fact: DeviceFact, calls: Counter[str], stage: Stage) -> Item:
    channel: ChannelName = next((one for one in CHANNELS if one == fact.what), "rumble")
    there = None if fact.state == "off" else fact.state == "ready"
    text = fact.text or tr(fact.state)
    if fact.what in ROLES and there:
        text = tr("{text}, {count} in this plan", text=text, count=_count(calls[fact.what]))
    return Item(fact.what, text, there, channel)


def _facts(stage: Stage, calls: Counter[str], battery: Battery | None, allowed: bool | None) -> Iterator[Item]:
    start = stage.rig.start
    error_ms = Sync.started(start).error_ms or 0
    yield Item(
        "clock", tr("± {error:.2f} s from the {starts} on", error=error_ms / 1000, starts=_STARTS[start.by]), True,
    )
    if battery is not None:
        yield Item("battery", battery.text.removeprefix("battery "), not battery.low)
    roles = {pad.role for pad in stage.rig.pads}
    without = [f"{role} {_count(calls[role])}" for role in ROLES if calls[role] and role not in roles]
    plan = stage.files.plans[stage.plan_no].plan.name
    yield Item(
        "plan", tr("{plan}; no pad for {without}", plan=plan, without=", ".join(without)) if without else plan, True,
    )
    said = {
        True: tr("asked, allowed at the field"),
        False: tr("leave it in the pit, use the card"),
        None: tr("not asked"),
    }
    yield Item("rules", said[allowed], {True: True, False: None, None: False}[allowed])


def _calls(timeline: Timeline) -> Counter[str]:
    """Return how many calls each role feels in a match by itself."""
    timed = [firing for firing in timeline.firings if firing.channel == "rumble" and firing.match_ns is not None]
    return Counter(str(role) for role, _, _ in {(one.role, one.cue, one.n) for one in timed} if role)


def _count(calls: int) -> str:
    return trn("{count} call", "{count} calls", calls) if calls else tr("no call")


class Walk:
    """A walk through all items, begun by a key; ``told`` is its outcome once it is over."""

    def __init__(self) -> None:
        self._names: tuple[str, ...] = ()
        self._begin_ns = 0
        self._step = -1
        self._item: Item | None = None
        self._outcome: tuple[str, ...] = ()
        self._note = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """The lines for people: what is tried now, or what came of it; none before it was walked."""
        if self._item is not None:
            return (
                tr(
                    "Preflight {step} of {count}: {line}", step=self._step + 1, count=len(self._names),
                    line=self._item.line,
                ),
            )
        return self._outcome

    @property
    def walks(self) -> bool:
        """Whether it is under way."""
        return self._item is not None

    def begin(self, stage: Stage, now_ns: int, battery: Battery | None, allowed: bool | None) -> None:
        """Begin, or begin again."""
        found = items(stage, battery, allowed)
        pads = Counter(str(pad.role) for pad in stage.rig.pads)
        # A role with two pads has two turns.
        self._names = tuple(item.name for item in found for _ in range(max(1, pads[item.name])))
        self._begin_ns, self._step, self._outcome, self._note = now_ns, -1, (), ""
        self.turn(stage, now_ns, battery, allowed)

    def turn(self, stage: Stage, now_ns: int, battery: Battery | None, allowed: bool | None) -> None:
        """Go on to the line that is due, and let its device be felt, seen or heard."""
        if not self._names:
            return
        known = {item.name: item for item in items(stage, battery, allowed)}
        due = (now_ns - self._begin_ns) // STEP_NS
        while self._step < min(due, len(self._names) - 1):
            self._step += 1
            self._try(stage, known, now_ns)
        self._item = known.get(self._names[self._step])
        if due >= len(self._names):
            self._end([known[name] for name in dict.fromkeys(self._names) if name in known])

    def stop(self) -> None:
        """End it as it is, since a match begins."""
        self._names, self._item = (), None

    def forget(self) -> None:
        """Begin anew for the next match."""
        self.stop()
        self._outcome, self._note = (), ""

    def take_note(self) -> str:
        """Return what came of it, for the journal, once; an empty text if it was not walked to its end."""
        note, self._note = self._note, ""
        return note

    def _try(self, stage: Stage, known: dict[str, Item], now_ns: int) -> None:
        item = known.get(self._names[self._step])
        if item is None or item.channel is None or not item.there:
            return
        is_first_pad = item.channel == "rumble" and self._step == 0
        if is_first_pad or item.channel != "rumble":
            stage.try_devices(now_ns, item.channel)

    def _end(self, found: list[Item]) -> None:
        self.stop()
        missing = [item for item in found if item.there is False]
        there = [item.name for item in found if item.there and item.channel]
        names = ", ".join(item.name for item in missing)
        verdict = tr("Preflight: MISSING {names}", names=names) if missing else tr("Preflight: all there")
        tried = tr("tried: {there}", there=", ".join(there)) if there else tr("no device was tried")
        self._note = f"{verdict.removeprefix('Preflight: ')}; {tried}"
        self._outcome = (f"{verdict}; {tried}", *(item.line for item in missing))
