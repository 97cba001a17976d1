"""Run one channel's real worker while its devices are tried: fire a known form on it, and receive its messages."""

from collections import deque
from collections.abc import Callable, Sequence
from random import Random
from types import TracebackType
from typing import NamedTuple

from tocsin import monotime
from tocsin.channels.device import DeviceState, Event
from tocsin.features.devices.probed import ProbeResults
from tocsin.features.devices.tryout.forms import Form, programme
from tocsin.features.devices.tryout.people import Dialogue
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.pattern import lasts_ns
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import MATCH
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Fired, Load, NewOrigins, ShowStatus, TimelineLoaded
from tocsin.workers.supervisor import Supervisor


class Setting(NamedTuple):
    """``rig`` was read from a file, or, if it is ``new``, made of the ``found`` devices."""

    people: Dialogue
    rig: Rig
    found: ProbeResults
    random: Random
    new: bool


LEAD_NS = 300 * NS_PER_MS              # so far ahead a form is fired: the worker prepares it 120 ms ahead
LOOK_NS = NS_PER_S
PATIENCE_NS = 10 * NS_PER_S            # for a worker to answer; supervision starts a silent one again before


class Press(NamedTuple):
    """A button went down on a role's pad, at a time of the shared clock."""

    part: str
    at_ns: int


class TriedChannel:
    """The worker of one channel, open while the context lasts; afterwards its device is safe.

    ``presses`` are the buttons that went down on pads, ``lost`` the parts that went away since the last form was fired,
    even if they are back. Errors are told to the people at once.
    """

    def __init__(self, rig: Rig, channel: ChannelName, people: Dialogue) -> None:
        self.channel = channel
        self.presses: deque[Press] = deque()
        self.lost: list[str] = []
        self._people = people
        self._supervisor = Supervisor(rig, (channel,), people.ring)
        self._run = 0                              # tells a form's reports from those of the one before
        self._known: dict[str, Event] = {}
        self._fired: list[Fired] = []
        self._loaded = False

    def __enter__(self) -> "TriedChannel":
        self._supervisor.start(monotime.now_ns())
        try:
            self._until(lambda: self._supervisor.opened(self.channel))
        except BaseException:
            self._finish()
            raise
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._finish()

    def state(self, part: str = "") -> DeviceState:
        """Return the state of the channel's device, or of a role's pad."""
        known = self._known.get(part)
        return known.state or "absent" if known else "absent"

    def name(self, part: str = "") -> str:
        """Return the device's own name."""
        return self._known[part].name if part in self._known else ""

    def why(self, part: str = "") -> str:
        """Return what is wrong with the device."""
        return self._known[part].why if part in self._known else ""

    def turn(self) -> None:
        """Read the worker's messages, and check that it is alive."""
        for _, message in self._supervisor.receive(monotime.now_ns()):
            match message:
                case Event():
                    self._told(message)
                case Fired() if message.run == self._run:
                    self._fired.append(message)
                case TimelineLoaded():
                    self._loaded = True
                case str():
                    self._people.say(f"  {self.channel}: {message}")
        for kind, _, text in self._supervisor.check(monotime.now_ns(), self._done):
            self._people.say(f"  {self.channel}: {text}")
            if kind == "failed":
                self._known[""] = Event(kind="device", at_ns=monotime.now_ns(), state="failed", why=text)

    def fire(self, form: Form, roles: Sequence[Role] = (), parts: Sequence[str] = ("",)) -> str:
        """Fire a form, and wait until people can judge it; return why it did not come, or an empty text."""
        timeline, patterns = programme(self.channel, form, roles)
        self._loaded, self._fired = False, []
        self._run += 1
        self.lost.clear()
        self._supervisor.send(Load(timeline, patterns, self._run))
        self._wait(lambda: self._loaded, parts)
        begin_ns = monotime.now_ns() + LEAD_NS
        self._supervisor.send(NewOrigins((Origin(anchor=MATCH, origin_ns=begin_ns),), "", self._run))
        self._wait(lambda: len(self._fired) >= len(timeline.firings), parts)
        if form.felt_whole:
            end_ns = begin_ns + lasts_ns(form.pattern)
            self._wait(lambda: monotime.now_ns() > end_ns, parts)
        if len(self._fired) < len(timeline.firings):
            return next(filter(None, map(self.why, parts)), "") or tr("the worker did not answer")
        return next((report.why or report.outcome for report in self._fired if report.outcome != "played"), "")

    def settle(self, parts: Sequence[str]) -> None:
        """Wait a moment for devices: some systems report pads only after a while."""
        end_ns = monotime.now_ns() + LOOK_NS
        self._until(lambda: self.ready(parts) or monotime.now_ns() > end_ns)

    def show(self, status: Status) -> None:
        """Show a status on the window."""
        self._supervisor.send(ShowStatus(status))

    def _told(self, event: Event) -> None:
        match event.kind:
            case "device":
                self._known[event.what] = event
                if event.state == "lost":
                    self.lost.append(event.what)
            case "fault":
                self._people.say(f"  {event.what}: {event.why}")
            case "press" if self.channel == "rumble":
                self.presses.append(Press(event.what.removeprefix("pad.").partition(".")[0], event.at_ns))
            case "press":
                self._people.typed.put(event.what)                 # the window has the keyboard once it is clicked
            case "leave":
                self._known[""] = Event(kind="device", at_ns=event.at_ns, state="lost", why=tr("the window was closed"))

    def _finish(self) -> None:
        for _, channel, text in self._supervisor.finish(monotime.now_ns()):
            self._people.say(f"  {channel}: {text}")

    def _done(self, channel: ChannelName) -> tuple[tuple[int, int], ...]:
        return tuple((report.no, report.instance) for report in self._fired)

    def _wait(self, done: Callable[[], bool], parts: Sequence[str]) -> None:
        """Wait for something that the worker does, as long as the devices are there and patience lasts."""
        end_ns = monotime.now_ns() + PATIENCE_NS
        self._until(lambda: done() or not self.ready(parts) or monotime.now_ns() > end_ns)

    def ready(self, parts: Sequence[str]) -> bool:
        """Return whether all of these devices are ready."""
        return all(self.state(part) == "ready" for part in parts)

    def _until(self, done: Callable[[], bool]) -> None:
        while not done():
            self._people.wait()
            self.turn()
