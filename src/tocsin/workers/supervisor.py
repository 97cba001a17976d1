"""Keep the workers alive: start them, notice their silence, restart them with everything they must know.

A worker that ends is restarted at once; after three restarts in 10 s its channel has failed and is tried every 10 s. A
silent one is replaced once the evidence says that it hangs (``suspicion``), and no firing that it may still give is
nearer than a new worker could be ready. In every case, the last worker of rumble and light makes their device safe.
Time is an argument, and so is the function that makes processes.
"""

from collections.abc import Callable, Iterable
from queue import SimpleQueue
from typing import Literal

from tocsin.channels.device import Event
from tocsin.errors import reason
from tocsin.model.clock.schedule import Key
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.process import WorkerProcess
from tocsin.workers.protocol import (
    UNSAFE,
    Busy,
    Down,
    Granted,
    Heartbeat,
    Opened,
    TimelineLoaded,
    Up,
)
from tocsin.workers.slot import Maker, Process, Slot
from tocsin.workers.suspicion import BURNT_NS, STOPPED

OPENING_NS = 15 * NS_PER_S             # boards boot for up to 2.5 s, a window may take its time
SILENCE_NS: dict[ChannelName, int] = {
    "light": 500 * NS_PER_MS,
    "sound": 500 * NS_PER_MS,
    "rumble": 500 * NS_PER_MS,
    "screen": 10 * NS_PER_S,           # a dragged window stops its process on Windows
}
LOADING_NS = 5 * NS_PER_S              # sounds and frames are made meanwhile; it is standby
LOADING_BURNT_NS = 15 * NS_PER_S       # of its own processor time
BUSY_SILENCE_NS = 5 * NS_PER_S         # a pad's driver over bad radio
SPARED_NS = NS_PER_S                   # the longest that a worker which hangs may still give a firing after all
RESTARTS = 3
RESTARTS_WITHIN_NS = 10 * NS_PER_S
RETRY_NS = 10 * NS_PER_S
END_S = 4.0                            # a worker that ends looks for two seconds for a device that it must make safe
SILENT_END_S = 1.0                     # what sounds and shows ends with its process, be it killed
LAST_S = 10.0                          # a fresh one starts and waits for its board as well
LASTS = 2                              # fresh ones that try it, one after another
UNREACHED = tr("its device could not be made safe: if it still shakes or shines, unplug it")
DRIVEN: tuple[ChannelName, ...] = ("rumble", "light")      # devices that go on by themselves

Note = tuple[Literal["fault", "failed", "restart"], ChannelName, str]
Done = Callable[[ChannelName], tuple[Key, ...]]


class Supervisor:
    """The workers of a run. Their threads call ``wake`` for each message in the inbox that is more than a heartbeat;
    ``make`` starts a process."""

    def __init__(
        self, rig: Rig, channels: Iterable[ChannelName], wake: Callable[[], None], make: Maker = WorkerProcess
    ) -> None:
        self._rig = rig
        self._wake = wake
        self._make = make
        self._inbox: SimpleQueue[tuple[Process, Up | str | None]] = SimpleQueue()
        self._slots: dict[ChannelName, Slot] = {channel: Slot() for channel in channels}
        self._checked_ns: int | None = None

    @property
    def channels(self) -> tuple[ChannelName, ...]:
        """The channels that have a worker."""
        return tuple(self._slots)

    def restarts(self, channel: ChannelName) -> int:
        """Return how often the channel's worker was restarted."""
        return self._slots[channel].restarts

    def opened(self, channel: ChannelName) -> bool:
        """Return whether the channel's worker has opened its device, or found it absent, and has prepared its
        timeline."""
        slot = self._slots[channel]
        return slot.failed or (slot.opened and not slot.loads)

    def processes(self) -> list[Process]:
        """Return the processes that run now."""
        return [slot.process for slot in self._slots.values() if slot.process is not None]

    def start(self, now_ns: int, driven: Iterable[ChannelName] = ()) -> None:
        """Start all workers; earlier ones may have left the devices of the channels ``driven`` on."""
        for channel, slot in self._slots.items():
            slot.driven = channel in driven
            self._fill(channel, slot, now_ns)

    def send(self, message: Down, channel: ChannelName | None = None) -> None:
        """Send a message to one or all workers and keep it for their successors."""
        for name, slot in self._slots.items():
            if channel in (None, name):
                slot.send(message)

    def dismiss(self, channel: ChannelName) -> None:
        """End a channel's worker for good: something else plays its cues."""
        slot = self._slots.pop(channel, None)
        if slot is not None and slot.process is not None:
            slot.process.leave()
            slot.process.ended(SILENT_END_S)

    def hello_ns(self, channel: ChannelName) -> int:
        """Return when the channel's worker got its first message, in shared nanoseconds."""
        process = self._slots[channel].process
        return process.hello_ns if process else 0

    def receive(self, now_ns: int) -> list[tuple[ChannelName, Up | str]]:
        """Return the workers' messages since the last call, and lines of stderr as text.

        A device's "ready" is passed on only once its worker has prepared its timeline.
        """
        said: list[tuple[ChannelName, Up | str]] = []
        while not self._inbox.empty():
            process, message = self._inbox.get()
            slot = self._slots.get(process.channel)
            if slot is None or message is None:
                continue
            slot.driven |= isinstance(message, Event) and message.state == "ready"
            if slot.process is process:
                said += [(process.channel, one) for one in slot.hear(message, now_ns)]
            elif not isinstance(message, Heartbeat | Busy | Opened | TimelineLoaded | Granted):
                # A predecessor's last words still count, its signs of life do not.
                said.append((process.channel, message))
        return said

    def check(self, now_ns: int, done: Done) -> list[Note]:
        """Restart workers that ended or hang; ``done`` gives a channel's recorded firings in this run."""
        passed_ns = now_ns - self._checked_ns if self._checked_ns is not None else 0
        self._checked_ns = now_ns
        notes: list[Note] = []
        for channel, slot in self._slots.items():
            if slot.process is None:
                if slot.started and now_ns >= slot.retry_ns:
                    self._restart(channel, slot, now_ns, done(channel), notes)
                continue
            slot.suspicion.pass_by(passed_ns)
            if slot.process.gone():
                notes.append(("fault", channel, tr("worker {exit}", exit=slot.process.exit_text())))
            elif why := self._condemned(channel, slot, now_ns, passed_ns, done):
                silent_s = slot.suspicion.silent_ns / NS_PER_S
                notes.append(
                    ("fault", channel, tr("worker silent for {silent:.1f} s, {why}: killed", silent=silent_s, why=why)),
                )
                slot.process.kill()
            else:
                continue
            self._after_death(channel, slot, now_ns, done(channel), notes)
        return notes

    def finish(self, now_ns: int) -> list[Note]:
        """End all workers, devices made safe; kill those that do not end. If rumble or light may still be on, a new
        worker makes the device safe."""
        notes: list[Note] = []
        ending = {channel: slot.empty() for channel, slot in self._slots.items() if slot.started}
        for process in ending.values():
            if process is not None:
                process.leave()
                if (seen := process.evidence()) is not None and seen.state == "stopped":
                    process.kill()
        for channel, process in ending.items():
            code = None if process is None else process.ended(END_S if channel in DRIVEN else SILENT_END_S)
            if channel not in DRIVEN or code == 0:
                continue
            if code != UNSAFE:
                notes.append(("fault", channel, tr("worker did not end by itself; a fresh one makes the device safe")))
                code = self._last(channel, now_ns)
            if code != 0:
                notes.append(("fault", channel, UNREACHED))
        return notes

    def _last(self, channel: ChannelName, now_ns: int) -> int | None:
        """Let a fresh worker make a device safe; return its exit code."""
        code: int | None = None
        for _ in range(LASTS):
            try:
                process = self._make(channel, self._rig, now_ns, lambda *_: None, self._slots[channel].driven)
            except OSError:
                continue
            process.leave()
            code = process.ended(LAST_S)
            if code in (0, UNSAFE):
                break
        return code

    def _condemned(self, channel: ChannelName, slot: Slot, now_ns: int, passed_ns: int, done: Done) -> str:
        """Return why a silent worker is to be replaced now, or nothing."""
        if slot.process is None or slot.suspicion.silent_ns <= self._limit_ns(channel, slot):
            return ""
        burnt_ns = LOADING_BURNT_NS if slot.loads or not slot.opened else BURNT_NS
        why = slot.suspicion.weigh(slot.process.evidence(), passed_ns, burnt_ns)
        if not why:
            slot.condemned_ns = None
            return ""
        slot.condemned_ns = now_ns if slot.condemned_ns is None else slot.condemned_ns
        chance_ns = slot.last_chance_ns(channel, done(channel), now_ns)
        # What a fresh worker would come too late for only this one may still give, should it be healthy after all.
        spared = why != STOPPED and chance_ns is not None and chance_ns < now_ns + slot.takes_ns
        return "" if spared and now_ns < slot.condemned_ns + SPARED_NS else why

    def _limit_ns(self, channel: ChannelName, slot: Slot) -> int:
        if not slot.opened:
            return OPENING_NS
        if slot.loads:
            return max(LOADING_NS, SILENCE_NS[channel])
        return BUSY_SILENCE_NS if slot.busy else SILENCE_NS[channel]

    def _on_message(self, process: Process, message: Up | str | None) -> None:
        self._inbox.put((process, message))
        # A turn of the conductor for each heartbeat would cost more than all the rest.
        if not isinstance(message, Heartbeat):
            self._wake()

    def _after_death(
        self, channel: ChannelName, slot: Slot, now_ns: int, done: tuple[Key, ...], notes: list[Note]
    ) -> None:
        process = slot.empty()
        if process is not None:
            process.leave()
        while slot.restarted_at and now_ns - slot.restarted_at[0] > RESTARTS_WITHIN_NS:
            slot.restarted_at.popleft()
        if len(slot.restarted_at) >= RESTARTS:
            slot.failed = True
            slot.retry_ns = now_ns + RETRY_NS
            notes.append(
                ("failed", channel, tr("{restarts} restarts within 10 s; tried again every 10 s", restarts=RESTARTS)),
            )
            return
        self._restart(channel, slot, now_ns, done, notes)

    def _restart(
        self, channel: ChannelName, slot: Slot, now_ns: int, done: tuple[Key, ...], notes: list[Note]
    ) -> None:
        slot.restarts += 1
        slot.restarted_at.append(now_ns)
        slot.failed = False
        if why := self._fill(channel, slot, now_ns):
            slot.failed = True
            slot.retry_ns = now_ns + RETRY_NS
            notes.append(("failed", channel, tr("{why}; tried again every 10 s", why=why)))
            return
        notes.append(("restart", channel, tr("worker started again ({restarts})", restarts=slot.restarts)))
        slot.brief(done)

    def _fill(self, channel: ChannelName, slot: Slot, now_ns: int) -> str:
        """Start a worker; return why that did not work, or nothing."""
        slot.started = True
        try:
            slot.fill(self._make(channel, self._rig, now_ns, self._on_message, slot.driven), now_ns)
        except OSError as error:                   # no memory, no handles, too many processes
            return tr("no worker could be started: {reason}", reason=reason(error))
        return ""
