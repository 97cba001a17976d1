"""Try the pads, one after another: who holds which, and whether it is felt."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from tocsin import monotime
from tocsin.channels.holders import programs_at_pads, tellable
from tocsin.channels.rumble.pads import FoundPad, bind, entry_of, listing
from tocsin.features.devices.inventory import pad_title
from tocsin.features.devices.tryout.channel import Setting, TriedChannel
from tocsin.features.devices.tryout.forms import FORMS, full_strength
from tocsin.features.devices.tryout.people import LEAVE_OUT, NO, YES
from tocsin.features.devices.tryout.remedies import pad_fixes
from tocsin.features.devices.tryout.result import Hub, Tried
from tocsin.features.devices.tryout.verdict import DeviceOutcome, Question, Verdict, find_out
from tocsin.model.plan import ROLES, Role
from tocsin.model.rig import Pad, Rig
from tocsin.translation import tr

BUTTONS = 32                           # as many as most pads' drivers report at the most
HUB_S = 2
_ROBOT = tr("These pads may drive a robot. Is every robot that they could move disabled?")
_HUB_NOTE = tr("a hub with its own power, or the laptop's own ports, fixes it")


class _Hand(NamedTuple):
    """A pad of the rig while it is tried: ``part`` is the role by which the worker knows it, no two alike; ``held_by``
    is whose button went down on it, None if nobody's did."""

    slot: int
    pad: Pad
    part: Role
    held_by: Role | None = None


class PadsTry:
    """Tries all pads of the rig. ``held`` maps the role whose button was pressed to the pad's place in the rig; ``hub``
    is the result of two pads at full strength, None if that was not tried."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._people = setting.people
        self._rig = setting.rig
        self.held: dict[int, Role] = {}
        self.hub: Hub | None = None

    def walk(self) -> Iterator[Tried]:
        """Yield each pad's result as soon as it is known. Raises LeftError, EndedError."""
        if not self._rig.pads:
            return
        if why := self._alone():
            yield from (
                self._tried(slot, DeviceOutcome("left_alone", why=why), "") for slot in range(len(self._rig.pads))
            )
            return
        hands, beyond = _hands(self._rig.pads)
        yield from (self._tried(slot, DeviceOutcome("left_out", why=tr("more pads than roles")), "") for slot in beyond)
        with TriedChannel(_rig_of(self._rig, hands), "rumble", self._people) as channel:
            yield from self._each(channel, hands)
        there = [hand for hand in hands if channel.state(hand.part) == "ready" and not hand.pad.device]
        if len(there) > 1:
            self.hub = self._try_hub(hands, [hand.part for hand in there])

    def _each(self, channel: TriedChannel, hands: Sequence[_Hand]) -> Iterator[Tried]:
        channel.settle([hand.part for hand in hands])
        there = [hand for hand in hands if channel.state(hand.part) == "ready"]
        for hand in hands:
            if hand not in there:
                why = channel.why(hand.part) or channel.why()
                yield self._tried(hand.slot, DeviceOutcome("absent", why=why), "")
        pads = [hand for hand in there if not hand.pad.device]         # a package's shaker has no buttons
        held = {hand.slot: hand for hand in (self._whose(channel, pads) if len(pads) > 1 else pads)}
        for hand in there:
            yield self._felt(channel, held.get(hand.slot, hand))

    def _alone(self) -> str:
        """Return why the pads are left alone, or nothing."""
        if all(pad.device for pad in self._rig.pads):
            return ""                          # no robot hangs on what a package drives
        if by := programs_at_pads():
            return tr(
                "a program that may drive a robot has a pad open: {map}; end it first", map=", ".join(map(str, by)),
            )
        if not tellable():
            self._people.say(tr("This system does not tell whether another program uses the pads."))
        if self._rig.drives_robot and not self._people.agree(_ROBOT, tr("the pads are left alone")):
            return tr("a robot may be enabled: try the pads when it is not")
        return ""

    # -- who holds which

    def _whose(self, channel: TriedChannel, there: Sequence[_Hand]) -> list[_Hand]:
        """Return the pads with those whose button went down on them."""
        self._people.say(tr("Whose pad is whose? Each of you, press a button on your own pad when you are called."))
        for role in ROLES if self._setting.new else dict.fromkeys(hand.pad.role for hand in there):
            free: dict[str, _Hand] = {hand.part: hand for hand in there if hand.slot not in self.held}
            if not free:
                break
            part = self._pressed(channel, role, free)
            if part is not None:
                self.held[free[part].slot] = role
                self._people.say(f"  {role}: {self._name(channel, free[part])}")
        return [hand._replace(held_by=self.held.get(hand.slot)) for hand in there]

    def _pressed(self, channel: TriedChannel, role: Role, free: dict[str, _Hand]) -> Role | None:
        """Return on which of the free pads a button went down, None if nobody has one."""
        asked_ns = monotime.now_ns()               # before the question is seen: nothing that answers it is lost
        found: list[Role] = []

        def turn() -> bool:
            channel.turn()
            while channel.presses and not found:
                press = channel.presses.popleft()
                hand = free.get(press.part)
                if hand is not None and press.at_ns >= asked_ns:
                    found.append(hand.part)
                elif hand is not None:
                    self._people.say(tr(
                        "  {name} was pressed too early: wait for the call", name=self._name(channel, hand),
                    ))
                elif press.at_ns >= asked_ns:
                    self._people.say(tr("  that pad is somebody's already: press on another one"))
            return bool(found)

        self._people.ask(
            tr("{role}: press a button. {no}: nobody holds it", role=role.capitalize(), no=NO), (NO,), turn,
        )
        if not found and (others := self._not_named()):
            self._people.say(tr(
                "  the rig does not name {others}: is it that one? `tocsin devices` shows its ids", others=others,
            ))
        return found[0] if found else None

    def _not_named(self) -> str:
        """Return the plugged-in pads that no entry of the rig takes."""
        bound = bind(self._rig.pads, self._setting.found.pads.found, {}).pads.values()
        return listing(pad for pad in self._setting.found.pads.found if pad not in bound)

    def _name(self, channel: TriedChannel, hand: _Hand) -> str:
        """Return a pad's name, and which of several equal ones it is."""
        pad, setting = _found_pad(self._setting, hand.slot), self._setting
        order = entry_of(pad, setting.found.pads.found, hand.pad.role).order if pad else None
        return channel.name(hand.part) + (tr(" (equal pads: order = {order})", order=order) if order else "")

    # -- what is felt

    def _felt(self, channel: TriedChannel, hand: _Hand) -> Tried:
        def gone() -> bool:
            channel.turn()
            return not channel.ready([hand.part])

        title = tr(
            "{held_by}, hold {name} in both hands.", held_by=(hand.held_by or hand.pad.role).capitalize(),
            name=self._name(channel, hand),
        )
        said = self._people.ask(
            tr("{title} {yes}: shake it, {leave_out}: leave it out", title=title, yes=YES, leave_out=LEAVE_OUT),
            (YES, LEAVE_OUT),
            gone,
        )
        if said != YES:
            left = DeviceOutcome("left_out") if said else DeviceOutcome("lost", why=channel.why(hand.part))
            return self._tried(hand.slot, left, channel.name(hand.part))
        question = Question(
            tr("What did you feel?"), FORMS["rumble"],
            lambda form: channel.fire(form, [hand.part], [hand.part]), gone,
        )  # fmt: skip
        found = find_out(question, self._people, self._setting.random)
        if found.verdict == "lost":
            found = found._replace(why=channel.why(hand.part))
        elif hand.held_by not in (None, hand.pad.role) and not self._setting.new:
            # Whoever holds it, a pad that nobody feels is first of all that.
            verdict: Verdict = "swapped" if found.verdict == "confirmed" else found.verdict
            found = found._replace(verdict=verdict, why="; ".join(filter(None, (found.why, self._swap(hand)))))
        return self._tried(hand.slot, found, channel.name(hand.part), hand.held_by)

    def _swap(self, hand: _Hand) -> str:
        """Return who holds a pad that the rig gives to somebody else, and what to write."""
        pad, role = _found_pad(self._setting, hand.slot), hand.held_by or hand.pad.role
        told = tr("the rig says {role}, but the {role_2} has the pad", role=hand.pad.role, role_2=role)
        if pad is None:
            return told
        entry = entry_of(pad, self._setting.found.pads.found, role)
        keys = [f'usb = "{entry.usb}"' if entry.usb else f'name = "{entry.name}"']
        keys += [f"order = {entry.order}"] if entry.order else []
        return tr(
            "{told}: swap pads, or write {keys} in the {role}'s [[pad]]", told=told, keys=", ".join(keys), role=role,
        )

    def _tried(self, slot: int, found: DeviceOutcome, name: str, role: Role | None = None) -> Tried:
        pad = self._rig.pads[slot]
        fixes = pad_fixes(pad) if found.verdict == "not_confirmed" else ()
        return Tried(
            device=pad_title(self._rig.pads, slot), channel="rumble", verdict=found.verdict, name=name,
            role=role or pad.role, number=slot, why=found.why, fixes=fixes,
        )  # fmt: skip

    # -- two at once

    def _try_hub(self, hands: Sequence[_Hand], parts: Sequence[Role]) -> Hub | None:
        """Shake all pads at full strength at once. A hub without its own power lets one drop out, or its motor fade."""
        warning = tr(
            "Do USB hub and cables carry all pads at full strength for {hub} s? Hold each one firmly.", hub=HUB_S,
        )
        keys = tr("{yes}: shake them, {no}: leave it out", yes=YES, no=LEAVE_OUT)
        if self._people.ask(f"{warning} {keys}", (YES, LEAVE_OUT)) != YES:
            return None
        full = [hand._replace(pad=msgspec.structs.replace(hand.pad, strength=1.0)) for hand in hands]
        with TriedChannel(_rig_of(self._rig, full), "rumble", self._people) as channel:
            channel.settle(parts)
            there = [part for part in parts if channel.state(part) == "ready"]
            why = channel.fire(full_strength(HUB_S), there, there)
            channel.turn()
            gone = [channel.name(part) for part in parts if part in channel.lost or channel.state(part) != "ready"]
            if gone or why:
                return Hub(
                    holds=False,
                    why=tr("{gone}: dropped out; {hub_note}", gone=", ".join(gone) or why, hub_note=_HUB_NOTE),
                )
            said = self._people.ask(
                tr("How was it? 1: all shook evenly to the end, 2: one faded or stopped"), ("1", "2"),
            )
        return Hub(
            holds=said == "1", why="" if said == "1" else tr("one faded or stopped; {hub_note}", hub_note=_HUB_NOTE),
        )


def _found_pad(setting: Setting, slot: int) -> FoundPad | None:
    """Return the plugged-in pad that a rig entry takes, as it was found before."""
    return bind(setting.rig.pads, setting.found.pads.found, {}).pads.get(slot)


def _hands(pads: Sequence[Pad]) -> tuple[list[_Hand], list[int]]:
    """Return the pads, each with a role of its own for the worker, and the places of those for whom none is left.

    Several pads may have one role in a rig, but a form must shake only one of them.
    """
    spare = [role for role in ROLES if role not in {pad.role for pad in pads}]
    hands: list[_Hand] = []
    beyond: list[int] = []
    for slot, pad in enumerate(pads):
        taken = {hand.part for hand in hands}
        if pad.role not in taken:
            hands.append(_Hand(slot, pad, pad.role))
        elif spare:
            hands.append(_Hand(slot, pad, spare.pop(0)))
        else:
            beyond.append(slot)
    return hands, beyond


def _rig_of(rig: Rig, hands: Sequence[_Hand]) -> Rig:
    """Return the rig for the worker, with those roles; every button tells who holds the pad."""
    buttons = {str(number): "press" for number in range(BUTTONS)}
    pads = tuple(msgspec.structs.replace(hand.pad, role=hand.part, buttons=buttons) for hand in hands)
    return msgspec.structs.replace(rig, pads=pads)
