"""The devices of the evening: what the rig asks for, what is there, and half a second of each for people to notice."""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from tocsin import monotime
from tocsin.channels.holders import programs_at_pads
from tocsin.features.devices.inventory import Inventory, take_inventory
from tocsin.features.devices.probing import ask_probes
from tocsin.features.devices.tryout.channel import TriedChannel
from tocsin.features.devices.tryout.forms import Form
from tocsin.features.devices.tryout.people import AGAIN, LEAVE_OUT, YES, Dialogue
from tocsin.features.trial.questions import SOMEBODY_NEW, of_signals, without_key
from tocsin.journal.answers import Answers
from tocsin.model.pattern import LightPattern, RumblePattern, RumbleStep, ScreenPattern, SoundPattern, SoundStep
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Rig
from tocsin.model.safety import OKABE_ITO
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

CONFIRMED, SKIPPED, ABSENT = "confirmed", "skipped", tr("not there")
_HALF_NS = 500 * NS_PER_MS
_WORD = "TEST"
_WHITE = OKABE_ITO["white"]
_ROBOT = tr("These pads may drive a robot. Is every robot that they could move disabled?")
# Half a second each, as at the preflight of a match: faint enough for a room, plain enough to be noticed.
_FORMS: dict[ChannelName, Form] = {
    "rumble": Form("", RumblePattern(steps=(RumbleStep(strong=1.0, weak=1.0, lasts_ns=_HALF_NS),)), felt_whole=True),
    "light": Form("", LightPattern(form="plain", colours=(_WHITE,), level=0.4, lasts_ns=_HALF_NS), felt_whole=True),
    "screen": Form(
        _WORD,
        ScreenPattern(field="none", colours=(_WHITE,), letters=_WHITE, frame="none", lasts_ns=_HALF_NS),
        _WORD,
        felt_whole=True,
    ),
    "sound": Form("", SoundPattern(steps=(SoundStep(hz=750.0, to_hz=750.0, lasts_ns=_HALF_NS),)), felt_whole=True),
}


class Device(NamedTuple):
    """A device to try: its channel, for a pad its role, and what people are asked."""

    name: str
    channel: ChannelName
    question: str
    role: Role | None = None


def devices_of(rig: Rig) -> Iterator[Device]:
    """Yield a rig's devices in the order in which they are tried."""
    for role in dict.fromkeys(pad.role for pad in rig.pads):
        yield Device(tr("{role}'s pad", role=role), "rumble", tr("Did the {role}'s pad shake?", role=role), role)
    if rig.light is not None:
        yield Device("strip", "light", tr("Did the strip light up?"))
    if rig.screen is not None:
        yield Device("screen", "screen", tr("Did a window say {word}?", word=_WORD))
    if rig.sound is not None:
        yield Device("loudspeaker", "sound", tr("Did you hear a tone?"))


def look(rig: Rig) -> Inventory:
    """Return what is plugged in, compared with the rig. It takes a second."""
    return take_inventory(ask_probes(rig), rig, power="", packages=(), today=monotime.today())


def told_of(rig: Rig, inventory: Inventory) -> Iterator[str]:
    """Yield what the rig asks for and what is plugged in, in lines for people."""
    asks = ", ".join(device.name for device in devices_of(rig)) or "nothing"
    yield tr("The rig '{name}' asks for: {asks}.", name=rig.name, asks=asks)
    for missing in inventory.missing:
        yield tr("  Not there: {device}: {fix}", device=missing.device, fix=missing.fix)
    unused = [tr("pad {name}", name=row.name) for row in inventory.pads if not row.roles]
    unused += [tr("port {name}", name=row.name) for row in inventory.ports if row.usb and not row.strip]
    if unused:
        yield tr(
            "  Plugged in and not in this rig: {unused}. `tocsin devices --write my_rig.toml` makes one.",
            unused=", ".join(unused),
        )


class DeviceWalk:
    """Tries one device after another; ``kept`` is told what came of each at once, so that none is tried twice."""

    def __init__(
        self, rig: Rig, inventory: Inventory, answers: Answers, people: Dialogue, kept: Callable[[str, str], None]
    ) -> None:  # fmt: skip
        self._rig = rig
        self._missing = {missing.channel for missing in inventory.missing} - {"rumble"}    # of pads some may be there
        self._answers = answers
        self._people = people
        self._kept = kept

    def go(self, known: dict[str, str]) -> None:
        """Try all devices but those of ``known``. Raises LeftError, EndedError."""
        due = [device for device in devices_of(self._rig) if device.name not in known]
        for channel in dict.fromkeys(device.channel for device in due):
            self._try([device for device in due if device.channel == channel], channel)

    def _try(self, due: list[Device], channel: ChannelName) -> None:
        if channel in self._missing:
            self._leave_out(due, ABSENT)
        elif why := self._left_alone(channel):
            self._leave_out(due, SKIPPED, why)
        else:
            with TriedChannel(self._rig, channel, self._people) as tried:
                self._each(tried, due)

    def _each(self, tried: TriedChannel, due: list[Device]) -> None:
        tried.settle([device.role or "" for device in due])
        there = [device for device in due if tried.ready([device.role or ""])]
        self._leave_out([device for device in due if device not in there], ABSENT)
        if there and not self._agreed(tried.channel):
            self._leave_out(there, SKIPPED, tr("until it is so"))
            return
        for device in there:
            self._note(device, self._one(tried, device))

    def _leave_out(self, devices: list[Device], what: str, why: str = "") -> None:
        for device in devices:
            self._note(device, what, why)

    def _note(self, device: Device, what: str, why: str = "") -> None:
        self._people.say(f"  {device.name}: {what}{f', {why}' if why else ''}")
        self._kept(device.name, what)

    def _left_alone(self, channel: ChannelName) -> str:
        """Return why pads are left alone, or nothing."""
        if channel != "rumble":
            return ""
        if by := programs_at_pads():
            return tr("a program that may drive a robot has a pad open: {map}", map=", ".join(map(str, by)))
        if self._rig.drives_robot and not self._people.agree(_ROBOT, tr("the pads are left alone")):
            return tr("a robot may be enabled")
        return ""

    def _agreed(self, channel: ChannelName) -> bool:
        """Ask what is asked once an evening before signals come; return whether all is so."""
        for question in of_signals([channel]):
            if self._answers.known(question):
                continue
            new = SOMEBODY_NEW if self._answers.asked_others(question) else ""
            if not self._people.agree(new + without_key(question), tr("it is not tried")):
                return False
            self._answers.keep(question)
        return True

    def _one(self, tried: TriedChannel, device: Device) -> str:
        part = device.role or ""
        if device.channel == "screen":                 # half a second is over before an eye has left the terminal
            self._people.ask(
                tr("Look at the window now: it says {word} for half a second. {yes}: show it", word=_WORD, yes=YES),
                (YES,),
            )
        while True:
            why = tried.fire(_FORMS[device.channel], [device.role] if device.role else [], [part])
            if why:
                self._people.say(f"  {device.name}: {why}")
            keys = tr("{yes}: yes, {again}: again, {leave_out}: skip it", yes=YES, again=AGAIN, leave_out=LEAVE_OUT)
            answer = self._people.ask(f"{device.question} {keys}", (YES, AGAIN, LEAVE_OUT))
            if answer != AGAIN:
                return CONFIRMED if answer == YES else SKIPPED
