"""Pass messages of workers and their supervision on: into the journal, onto the devices' states, to people."""

from tocsin.channels.device import Event
from tocsin.errors import DeviceError
from tocsin.journal import records
from tocsin.model.plan import ChannelName
from tocsin.runner.actions import Actions
from tocsin.runner.match.match import Match
from tocsin.runner.stage import Stage
from tocsin.translation import tr
from tocsin.workers.protocol import Fired, Granted, Opened, TimelineLoaded, Up
from tocsin.workers.supervisor import Note

_LEVEL = "level"                       # of a notice: how loud the sound is


class WorkerEvents:
    """Takes messages: reports, device events, presses."""

    def __init__(self, stage: Stage, actions: Actions) -> None:
        self._stage = stage
        self._actions = actions

    def hear(self, channel: ChannelName, message: Up | str, now_ns: int) -> None:
        """Take a worker's message, or a line of its stderr. Raises DeviceError if the worker reads another clock."""
        match message:
            case Fired():
                # On --resume cues may fall due before it is known that there is no window: the terminal shows those.
                if channel == "screen" and message.why == records.ABSENT and not self._stage.front.opened:
                    return
                self.fired(channel, message, now_ns)
            case Event():
                self.told(channel, message, now_ns)
            case TimelineLoaded():
                self._stage.awaited.discard(channel)
            case Granted():
                self._stage.priorities[channel] = message.priority
                if message.why:
                    self._stage.match.record.fault(now_ns, channel, records.PRIORITY, message.why)
            case Opened():
                self._check_clock(channel, message, now_ns)
            case str():
                self._stage.match.record.fault(now_ns, channel, records.STDERR, message)

    def fired(self, channel: ChannelName, report: Fired, now_ns: int) -> None:
        """Take the report of a channel's firing; one that does not fit this run is a fault."""
        why = self._misfit(channel, report)
        if why:
            self._stage.match.record.fault(now_ns, channel, records.MISFIT, why)
            return
        firing = self._stage.match.timeline.firings[report.no]
        self._stage.match.record.firing(now_ns, firing, report)
        if report.outcome == "failed":
            self._stage.notice(
                tr("{channel} failed: {why}", channel=firing.channel, why=report.why),
                now_ns,
                replace_key=firing.channel,
            )

    def _misfit(self, channel: ChannelName, report: Fired) -> str:
        """Return why a report is of no firing of this run and channel, or nothing."""
        firings = self._stage.match.timeline.firings
        what = tr("signal {no} {outcome}", no=report.no, outcome=report.outcome)
        if report.run != self._stage.run_no:
            return tr("{what}: of an earlier run, which has ended", what=what)
        if not 0 <= report.no < len(firings) or firings[report.no].channel != channel:
            return tr("{what}: this channel has no such firing", what=what)
        return ""

    def told(self, channel: ChannelName, event: Event, now_ns: int) -> None:
        """Take an event of a channel."""
        match event.kind:
            case "device":
                if self._stage.device_states.take(channel, event):
                    self._stage.match.record.device(channel, event)
            case "fault":
                self._stage.match.record.fault(event.at_ns, channel, event.what, event.why)
                self._stage.notice(f"{channel}: {event.what}", now_ns, replace_key=channel)
            case "press" | "release":
                # Nobody presses in the future, and nothing that is measured may lie there.
                at_ns = min(event.at_ns, now_ns)
                self._actions.key(event.what, at_ns, now_ns, down=event.kind == "press")
            case "level":
                self._stage.notice(tr("sound: {what}", what=event.what), now_ns, replace_key=_LEVEL)
            case "note":
                self._stage.match.record.add(records.Note(at_ns=event.at_ns, what=event.what, values=event.values))
            case "leave":
                self._stage.leave(tr("the window was closed"))

    def _check_clock(self, channel: ChannelName, opened: Opened, now_ns: int) -> None:
        hello_ns = self._stage.supervisor.hello_ns(channel)
        if not hello_ns <= opened.now_ns <= now_ns:
            raise DeviceError(
                tr(
                    "the {channel} worker does not share this system's clock (differs by {now} ns)", channel=channel,
                    now=opened.now_ns - now_ns,
                ),
                hint=tr("run Tocsin outside of containers and emulators that give each process a clock of its own"),
            )

    def note(self, note: Note, now_ns: int) -> None:
        """Take an action of the supervision on a worker."""
        kind, channel, text = note
        match kind:
            case "restart":
                self._stage.match.record.fault(now_ns, channel, records.RESTARTED, text)
                for process in self._stage.supervisor.processes():
                    if process.channel == channel:
                        self._stage.match.record.worker(now_ns, channel, process.pid, process.start_time)
            case "failed":
                self._stage.device_states.fail(channel, text)
                failed = Event(kind="device", at_ns=now_ns, state="failed", why=text)
                self._stage.match.record.device(channel, failed)
                self._stage.awaited.discard(channel)
            case "fault":
                self._stage.match.record.fault(now_ns, channel, records.WORKER, text)
        self._stage.notice(f"{channel}: {text}", now_ns, replace_key=channel)

    def count_lost(self, now_ns: int) -> None:
        """Record firings that fell due while no worker was there to report them."""
        for no, instance in _due_firings(self._stage.match, now_ns):
            firing = self._stage.match.timeline.firings[no]
            fired = self._stage.match.record.fired.get(firing.channel, ())
            if firing.channel in self._stage.channels and (no, instance) not in fired:
                run = self._stage.run_no
                if self._stage.device_states.ever_ready(firing.channel):
                    lost = Fired(no, instance, "failed", tr("lost with its worker"), 0, None, None, run=run)
                else:
                    lost = Fired(no, instance, "skipped", records.ABSENT, 0, None, None, run=run)
                self.fired(firing.channel, lost, now_ns)


def _due_firings(match: Match, now_ns: int) -> list[tuple[int, int]]:
    """Return (number, instance) of the firings due on the match clock by ``now_ns``."""
    if match.broken_ns is not None:
        now_ns = min(now_ns, match.broken_ns)
    origins = {origin.anchor: origin for origin in match.lifecycle.origins}
    due = []
    for firing in match.timeline.firings:
        origin = origins.get(firing.begin.anchor)
        if origin is None or firing.when not in ("", match.lifecycle.variant):
            continue
        if origin.real_ns(firing.begin.offset_ns) <= now_ns:
            due.append((firing.no, origin.instance))
    return due
