"""Try the strip: find its port by USB ids and its board's greeting, then light it for people to see."""

from collections.abc import Iterator, Sequence

import msgspec

from tocsin.channels.device import UNANSWERED
from tocsin.features.devices.probed import Ports
from tocsin.features.devices.tryout.channel import Setting, TriedChannel
from tocsin.features.devices.tryout.forms import FORMS
from tocsin.features.devices.tryout.people import LEAVE_OUT, YES
from tocsin.features.devices.tryout.remedies import strip_fixes
from tocsin.features.devices.tryout.result import Tried
from tocsin.features.devices.tryout.verdict import DeviceOutcome, Question, find_out
from tocsin.model.rig import Light
from tocsin.translation import tr

AUTO = "auto"
_OPENING = tr("Opening a port restarts many boards: nothing on them may move now.")
_CARE = tr("Do not look into the strip from near.")


def strip_ports(light: Light, ports: Ports, *, new: bool) -> tuple[str, ...]:
    """Return the ports on which the strip may be: the rig's, all those with its USB ids, or in a ``new`` rig all on
    USB. Empty if there is none. A device of a package takes the place of a port."""
    if light.device:
        return (light.device,)
    if light.port != AUTO:
        return (light.port,)
    return tuple(port.name for port in ports.found if port.usb and (new or port.usb == light.usb.lower()))


class StripTry:
    """Tries the strip."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._people = setting.people

    def walk(self) -> Iterator[Tried]:
        """Yield the strip's result, if the rig has one. Raises LeftError, EndedError."""
        light = self._setting.rig.light
        if light is None:
            return
        ports = strip_ports(light, self._setting.found.ports, new=self._setting.new)
        if not ports:
            why = tr("{why}; without --rig all ports behind USB are searched", why=self._setting.found.ports.why)
            yield _tried(light, light.port, DeviceOutcome("absent", why=why))
            return
        question = tr(
            "The strip, on {ports}. {opening} {care}", ports=tr(" or ").join(ports), opening=_OPENING, care=_CARE,
        )
        if light.device:
            question = tr("The strip, device {name} of a package. {care}", name=light.device, care=_CARE)
        keys = tr("{yes}: open, {no}: leave it out", yes=YES, no=LEAVE_OUT)
        if self._people.ask(f"{question} {keys}", (YES, LEAVE_OUT)) != YES:
            yield _tried(light, ports[0], DeviceOutcome("left_out"))
            return
        yield self._found_on(light, ports)

    def _found_on(self, light: Light, ports: Sequence[str]) -> Tried:
        """Light the ports one after another until the strip is seen; those first whose board greets."""
        results: list[Tried] = []
        for port in self._by_greeting(light, ports):
            results.append(self._lit(_on(light, port)))
            if results[-1].verdict == "confirmed" and not self._setting.new and port != ports[0]:
                why = tr(
                    'it is on {port}, and a match looks on {ports}: write port = "{port}" under [light]', port=port,
                    ports=ports[0],
                )
                return msgspec.structs.replace(results[-1], verdict="not_confirmed", why=why)
            if results[-1].verdict in ("confirmed", "left_out"):
                return results[-1]
        return results[0]

    def _by_greeting(self, light: Light, ports: Sequence[str]) -> list[str]:
        if len(ports) == 1:
            return list(ports)
        greets = {port: self._greets(_on(light, port)) for port in ports}
        return sorted(ports, key=lambda port: not greets[port])

    def _greets(self, light: Light) -> bool:
        with self._open(light) as channel:
            greeted = channel.ready([""]) and channel.why() != UNANSWERED
            self._people.say(f"  {light.port}: {'greets' if greeted else channel.why()}")
            return greeted

    def _lit(self, light: Light) -> Tried:
        with self._open(light) as channel:
            if not channel.ready([""]):
                return _tried(light, light.device or light.port, DeviceOutcome("absent", why=channel.why()))

            def gone() -> bool:
                channel.turn()
                return not channel.ready([""])

            question = Question(tr("What do you see on the strip?"), FORMS["light"], channel.fire, gone)
            found = find_out(question, self._people, self._setting.random)
            if found.verdict == "lost":
                found = found._replace(why=channel.why())
            return _tried(light, channel.name(), found, channel.why())

    def _open(self, light: Light) -> TriedChannel:
        return TriedChannel(msgspec.structs.replace(self._setting.rig, light=light), "light", self._people)


def _on(light: Light, port: str) -> Light:
    return light if light.device else msgspec.structs.replace(light, port=port)


def _tried(light: Light, name: str, found: DeviceOutcome, answered: str = "") -> Tried:
    fixes = strip_fixes(light, found.answers, answered) if found.verdict == "not_confirmed" else ()
    return Tried(
        device="strip", channel="light", verdict=found.verdict, name=name, port="" if light.device else light.port,
        why=found.why, fixes=fixes,
    )
