"""Run the worker of any channel: keep the schedule, wait, fire, report.

The order within a turn makes it punctual: due orders first, then the device's own tick, then messages and reports.
Messages that take long to read wait while a begin is nearer than 20 ms, but for at most half a second, and not if an
urgent one is behind them; the last part of the wait is spun.
"""

import gc
import signal
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import FrameType

from tocsin import monotime
from tocsin.channels.device import Channel, Event, Shot, ShotResult
from tocsin.channels.installed import PackageError
from tocsin.model.clock.schedule import Order, Schedule
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Rig
from tocsin.pipe import Inbox, LineWriter, MessageError, own_streams
from tocsin.speech.word_file import frames_in
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers import priority
from tocsin.workers.bench import Bench, bench_of_environment
from tocsin.workers.protocol import (
    UNSAFE,
    Arm,
    Busy,
    Command,
    Down,
    Fired,
    FiringOutcome,
    Give,
    Granted,
    Heartbeat,
    Hello,
    Load,
    NewOrigins,
    Opened,
    Safe,
    ShowStatus,
    SpokenWords,
    Steer,
    TimelineLoaded,
    Up,
    decode_down,
    encode,
    is_urgent,
)

ALIVE_NS = 100 * NS_PER_MS
PREPARE_NS = 120 * NS_PER_MS           # how far ahead the next shots are made ready
QUIET_NS = 20 * NS_PER_MS              # this close to a begin nothing is done that takes long
READ_WITHIN_NS = 500 * NS_PER_MS       # cues may follow each other so closely that it is never quiet
SAFE_WITHIN_NS = 2 * NS_PER_S          # how long a device is looked for at the end that must be made safe
LOOK_NS = 10 * NS_PER_MS


def channel_of(name: ChannelName, rig: Rig) -> Channel:
    """Return the channel of that name; only its own module is imported, so the light needs no pygame."""
    match name:
        case "rumble":
            from tocsin.channels.rumble.channel import RumbleChannel

            return RumbleChannel(rig)
        case "light":
            from tocsin.channels.light.channel import LightChannel

            return LightChannel(rig)
        case "screen":
            from tocsin.channels.screen.channel import ScreenChannel

            return ScreenChannel(rig)
        case "sound":
            from tocsin.channels.sound.channel import SoundChannel

            return SoundChannel(rig)


def latency_ns(name: ChannelName, rig: Rig) -> int:
    """Return the delay of a channel's device in nanoseconds; for pads 0, since each has a delay of its own."""
    device = {"light": rig.light, "screen": rig.screen, "sound": rig.sound}.get(name)
    return device.latency_ns if device else 0


class WorkerLoop:
    """A channel, its schedule, and its messages with the conductor."""

    def __init__(
        self, channel: Channel, inbox: Inbox, writer: LineWriter, bench: Bench, *, inherited: bool = False
    ) -> None:
        self._channel = channel
        self._inbox = inbox
        self._writer = writer
        self._bench = bench
        self._schedule = Schedule((), ())
        self._prepared: set[tuple[int, int, int]] = set()
        self._alive_ns = 0
        self._busy = False
        self._realtime = False
        self._leaving = False
        self._run = 0
        self._loads = 0                            # timelines that are ready, but that has not been said
        self._unread_ns: int | None = None         # since when lines wait for a quieter moment
        # Whether something may be left driven that cannot be reached now: by a predecessor, or since the device went.
        self._owed = inherited

    def leave(self) -> None:
        """End after the current turn, with the device made safe."""
        self._leaving = True

    def run(self) -> bool:
        """Open the device, serve until the conductor is gone, close it; return whether it was left safe."""
        try:
            events = self._channel.open(monotime.now_ns())
            if self._owed:
                self._channel.take_over(monotime.now_ns())
            self._bench.opened(self._channel, monotime.now_ns())
            self._tell(events)
            self._send(Opened(now_ns=monotime.now_ns()))
            while not (self._leaving or self._inbox.ended):
                self._turn()
                self._wait()
            return self._made_safe()
        finally:
            self._channel.close()

    def _made_safe(self) -> bool:
        """Make the device safe; look a while for one that is not there but may still be driven."""
        until_ns = monotime.now_ns() + SAFE_WITHIN_NS
        while not self._channel.make_safe(monotime.now_ns()):
            self._tell(self._channel.tick(monotime.now_ns()))
            if not self._owed:
                return True
            if monotime.now_ns() > until_ns:
                return False
            monotime.sleep_ns(LOOK_NS)
        return True

    def _turn(self) -> None:
        now_ns = monotime.now_ns()
        reports = []
        for order in self._schedule.due(now_ns):
            reports.append(self._do(order, now_ns))
            if self._realtime:
                monotime.give_way()            # another channel may wait for this processor with what is due now
        now_ns = monotime.now_ns()
        self._tell(self._channel.tick(now_ns))
        self._bench.tick(self._channel, now_ns)
        for report in reports:
            if report is not None:
                self._send(report)
        self._answer_loads()
        if self._may_read(now_ns):
            for line in self._inbox.take():
                self._read(line)
        self._prepare(now_ns)
        self._announce(now_ns)
        if now_ns - self._alive_ns >= ALIVE_NS:
            self._alive_ns = now_ns
            self._writer.send(encode(Heartbeat(now_ns=now_ns)), droppable=True)

    def _answer_loads(self) -> None:
        """Say that a timeline is ready once what was sent behind it has been done too: the next firing is played."""
        if self._loads and not self._inbox.any(lambda line: True):
            for _ in range(self._loads):
                self._send(TimelineLoaded())
            self._loads = 0

    def _may_read(self, now_ns: int) -> bool:
        """Return whether lines are to be read now; what is urgent is read with all that stands before it."""
        begin_ns = self._schedule.next_begin_ns()
        if begin_ns is None or begin_ns - now_ns > QUIET_NS or self._inbox.any(is_urgent):
            self._unread_ns = None
            return True
        if self._unread_ns is None:
            self._unread_ns = now_ns
        return now_ns - self._unread_ns > READ_WITHIN_NS

    def _wait(self) -> None:
        now_ns = monotime.now_ns()
        wake_ns = now_ns + self._channel.tick_ns
        device_ns = self._channel.next_ns(now_ns)
        due_ns = self._schedule.next_ns()
        soonest_ns = min((ns for ns in (device_ns, due_ns) if ns is not None), default=None)
        calm_ns = min(wake_ns, wake_ns if soonest_ns is None else soonest_ns - QUIET_NS) - now_ns
        # On Windows a wait for messages ends up to 15.6 ms late: it is for channels that are in no hurry.
        if self._channel.tick_ns > QUIET_NS and calm_ns > 0:
            self._inbox.wait(calm_ns / NS_PER_S)
            return
        if device_ns is not None:
            wake_ns = min(wake_ns, device_ns)
        if due_ns is not None and due_ns <= wake_ns + monotime.SPIN_NS:
            if due_ns == self._schedule.next_begin_ns():
                monotime.wait_until(due_ns, share=self._realtime)
                return
            wake_ns = min(wake_ns, due_ns)
        monotime.sleep_ns(wake_ns - now_ns)

    def _do(self, order: Order, now_ns: int) -> Fired | None:
        """Carry an order out; return the report of it, to be sent after everything that is due has been done."""
        shot = order.shot
        if order.verb == "end":
            self._channel.end(shot, now_ns)
            return None
        if order.verb == "skip":
            return self._report(shot, ShotResult(outcome="skipped", why=order.why))
        began_ns = monotime.now_ns()
        shown = self._channel.fire(shot, began_ns)
        took_ns = monotime.now_ns() - began_ns
        if order.verb == "change":
            return None
        if shown.outcome == "skipped":
            return self._report(shot, shown)
        if order.verb == "resume":
            return self._report(shot, shown, "resumed" if shown.outcome == "played" else shown.outcome, None, took_ns)
        return self._report(shot, shown, shown.outcome, began_ns - shot.begin_ns, took_ns)

    def _report(
        self, shot: Shot, shown: ShotResult, outcome: FiringOutcome = "skipped", late_ns: int | None = None,
        took_ns: int | None = None,
    ) -> Fired:  # fmt: skip
        return Fired(
            shot.firing.no, shot.instance, outcome, shown.why, shot.begin_ns, late_ns, took_ns, shown.by, self._run
        )

    def _read(self, line: bytes) -> None:
        """Do what a line asks for; one that is no message is told as a fault, and the timetable goes on."""
        now_ns = monotime.now_ns()
        try:
            message = decode_down(line)
        except MessageError as error:
            self._tell([Event(kind="fault", at_ns=now_ns, what=tr("a line is not a message"), why=str(error))])
            return
        self._take(message, now_ns)

    def _take(self, message: Down, now_ns: int) -> None:
        match message:
            case Load():
                self._load(message)
            case NewOrigins() | Give() if message.run != self._run:
                return                                 # of a run that this worker no longer plays
            case NewOrigins():
                self._schedule.withdraw()
                self._schedule.choose(message.variant)
                for origin in message.origins:
                    self._schedule.set_origin(origin)
            case Give():
                self._schedule.give(message.numbers)
            case ShowStatus():
                self._channel.show_status(message.status, now_ns)
            case Command():
                self._tell(self._channel.command(message.verb, now_ns))
            case Steer():
                self._channel.steer(message.seed, now_ns)
            case Arm():
                self._arm(message)
            case Safe():
                self._channel.make_safe(now_ns)
            case Hello():
                self._tell(
                    [Event(kind="fault", at_ns=now_ns, what=tr("a line is out of place"), why=tr("a second hello"))],
                )

    def _load(self, message: Load) -> None:
        timeline, rig = message.timeline, self._channel.rig
        self._run = message.run
        own = [firing for firing in timeline.firings if firing.channel == self._channel.name]
        segments = [segment.anchor for segment in timeline.segments]
        self._schedule = Schedule(
            own, segments, latency_ns=latency_ns(self._channel.name, rig), done=message.done
        )
        if self._channel.name == "rumble":
            self._schedule.set_role_latency({pad.role: pad.latency_ns for pad in reversed(rig.pads)})
        self._channel.take_words(_samples_of(message.words), message.words.note)
        self._channel.load(timeline, message.patterns)
        self._prepared.clear()
        self._loads += 1
        gc.collect()                               # here, since it would take from the first cues once the clock runs

    def _arm(self, message: Arm) -> None:
        if message.priority is None:
            priority.hand_back()
            self._realtime = False
            gc.enable()
            gc.unfreeze()
            return
        gc.freeze()
        gc.disable()
        granted, why = priority.raise_self(message.priority, self._channel.name)
        self._realtime = granted == "realtime"
        self._send(Granted(granted, why))

    def _prepare(self, now_ns: int) -> None:
        for shot in self._schedule.upcoming(now_ns + PREPARE_NS):
            mark = (*shot.key, shot.begin_ns)
            if mark not in self._prepared:
                self._prepared.add(mark)
                self._channel.prepare(shot, now_ns)

    def _announce(self, now_ns: int) -> None:
        """Tell ahead that driver calls may hold this process up: pads' drivers take up to seconds over bad radio."""
        if self._channel.name != "rumble":
            return
        busy = bool(self._schedule.upcoming(now_ns + 3 * PREPARE_NS)) or self._channel.next_ns(now_ns) is not None
        if busy != self._busy:
            self._busy = busy
            self._send(Busy(busy))

    def _tell(self, events: Sequence[Event]) -> None:
        for event in events:
            if event.kind == "device" and not event.what:
                self._owed = event.state == "lost" or (self._owed and event.state != "ready")
            self._send(event)

    def _send(self, message: Up) -> None:
        self._writer.send(encode(message))


def _samples_of(words: SpokenWords) -> dict[str, bytes]:
    """Return the samples of words by cue; one that has been damaged or taken away since it was found is left out."""
    found = {file: frames_in(Path(file)) for file in set(words.files.values())}       # many cues may say the same
    return {cue: frames for cue, file in words.files.items() if (frames := found[file]) is not None}


def _first_line(inbox: Inbox) -> bytes | None:
    ended = False
    while not ended:
        ended = inbox.ended                    # asked first: what came before the end is read
        if lines := inbox.take():
            inbox.put_back(lines[1:])
            return lines[0]
        monotime.sleep_ns(2 * NS_PER_MS)
    return None


def main(arguments: Sequence[str]) -> int:
    """Serve one channel until stdin ends; return 0 then, 75 if its device could not be made safe, 2 for a wrong call,
    70 for an exception."""
    if len(arguments) != 1 or arguments[0] not in CHANNELS:
        print(tr("usage: python -m tocsin.worker {channels}", channels="|".join(CHANNELS)), file=sys.stderr)
        return 2
    stdin, stdout = own_streams()
    inbox, writer = Inbox(stdin, "inbox"), LineWriter(stdout, "outbox")
    line = _first_line(inbox)
    if line is None:
        return 0
    try:
        hello = decode_down(line)
        if not isinstance(hello, Hello):
            raise ValueError("the first line must be a hello")
        channel = channel_of(arguments[0], hello.rig)
        worker = WorkerLoop(channel, inbox, writer, bench_of_environment(), inherited=hello.inherited)

        def on_signal(number: int, frame: FrameType | None) -> None:
            worker.leave()

        signal.signal(signal.SIGTERM, on_signal)
        return 0 if worker.run() else UNSAFE
    except PackageError as error:
        # People read what failed and whose it is, the package's author the lines on stderr.
        writer.send(encode(Event(kind="fault", at_ns=monotime.now_ns(), what=error.what, why=error.why)))
        traceback.print_exception(error.__cause__)
        return 70
    except Exception:
        # The conductor journals what stands on stderr as a fault and starts this worker again.
        traceback.print_exc()
        return 70
    finally:
        writer.finish(timeout_s=0.5)
