"""Keep the state of the devices, each channel and its parts, for status and summary."""

from collections.abc import Mapping

import msgspec

from tocsin.channels.device import DeviceState, Event
from tocsin.model.display.status import DeviceFact
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.translation import tr

NOT_IN_RIG = tr("not in the rig")
LEFT_OUT = tr("left out")
LEFT_OUT = tr("left out")


class DeviceStates:
    """Keeps the newest event of each channel and each of its parts (roles' pads); what has not spoken has no state.

    ``left_out`` says of a channel that has no worker why, where people should read more than that it was left out.
    """

    def __init__(
        self, channels: tuple[ChannelName, ...], rig: Rig, left_out: Mapping[ChannelName, str] | None = None
    ) -> None:
        self._channels = channels
        self._left_out = left_out or {}
        self._off = set(CHANNELS) - set(rig.channels)
        self._confirmed = _confirmed(rig)
        silent = Event(kind="device", at_ns=0)
        self._known: dict[tuple[ChannelName, str], Event] = {(channel, ""): silent for channel in channels}
        self._ever_ready: set[ChannelName] = set()
        self.level = ""

    def take(self, channel: ChannelName, event: Event) -> bool:
        """Take a device's event; return whether anything visible has changed."""
        before = self._known.get((channel, event.what), event)
        known = msgspec.structs.replace(event, name=event.name or before.name)
        is_new = (channel, event.what) not in self._known
        self._known[channel, event.what] = known
        if event.state == "ready" and not event.what:
            self._ever_ready.add(channel)
        return is_new or (before.state, before.name, before.why) != (known.state, known.name, known.why)

    def fail(self, channel: ChannelName, why: str) -> None:
        """Note that a channel's worker has failed for now."""
        self._known[channel, ""] = msgspec.structs.replace(self._known[channel, ""], state="failed", why=why)

    def state(self, channel: ChannelName) -> DeviceState:
        """Return a channel's state; one that has not reported is absent."""
        known = self._known.get((channel, ""))
        return known.state or "absent" if known else "absent"

    def why(self, channel: ChannelName) -> str:
        """Return what is wrong with a channel, and the fix."""
        known = self._known.get((channel, ""))
        return NOT_IN_RIG if self.off(channel) else known.why if known else ""

    def off(self, channel: ChannelName) -> bool:
        """Return whether the rig has no such device and nothing stands in for it: that is wanted, not a fault."""
        return channel in self._off and self.state(channel) == "absent"

    def ever_ready(self, channel: ChannelName) -> bool:
        """Return whether the channel had a device at any time of this run: only then is a lost firing a failure."""
        return channel in self._ever_ready

    def events(self, now_ns: int) -> list[tuple[ChannelName, Event]]:
        """Return the present state of all devices as events, for a journal that begins now."""
        return [
            (channel, msgspec.structs.replace(known, at_ns=now_ns))
            for (channel, _), known in self._known.items()
            if known.state is not None
        ]

    def facts(self) -> tuple[DeviceFact, ...]:
        """Return the devices as people see them, channels in order, parts behind their channel."""
        facts: list[DeviceFact] = []
        for channel in CHANNELS:
            if channel not in self._channels and (channel, "") not in self._known:
                facts.append(DeviceFact(what=channel, state="off", text=self._left_out.get(channel, LEFT_OUT)))
                continue
            if self.off(channel):
                facts.append(DeviceFact(what=channel, state="off", text=NOT_IN_RIG))
                continue
            parts = [(part, k) for (name, part), k in self._known.items() if name == channel and part]
            for part, known in parts:
                facts.append(_fact(part, known, self._confirmed.get(part, "")))
            if not parts:
                facts.append(_fact(channel, self._known[channel, ""], self._confirmed.get(channel, "")))
        return tuple(facts)


def _fact(what: str, known: Event, confirmed: str) -> DeviceFact:
    text = known.name if known.state == "ready" else known.why or known.name
    if known.state == "ready" and what in CHANNELS and known.why:
        text = f"{text}; {known.why}"
    if known.state == "ready" and confirmed:
        text = tr("{text}; confirmed {confirmed}", text=text, confirmed=confirmed)
    return DeviceFact(what=what, state=known.state or "absent", text=text)


def _confirmed(rig: Rig) -> dict[str, str]:
    """Return when a person last confirmed each device of the rig, by channel or role; of several pads of a role the one
    that waits longest, and nothing while one of them never was. Who reads this sees the screen, or has none."""
    days: dict[str, str] = {}
    for pad in rig.pads:
        days[pad.role] = min(pad.confirmed, days.get(pad.role, pad.confirmed))
    devices = {"light": rig.light, "sound": rig.sound}
    return days | {channel: device.confirmed for channel, device in devices.items() if device is not None}
