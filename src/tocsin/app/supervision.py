"""Keeps the workers alive: starts them, hears their silence, starts them again with everything they must know.

A worker that ends is started again at once; three restarts in 10 s make its channel failed, tried every 10 s. Silence
counts only while the conductor itself ran.
"""

from collections import deque
from collections.abc import Callable, Iterable
from queue import SimpleQueue
from typing import Literal

import msgspec

from tocsin.app.messages import Alive, Arm, Busy, Command, Down, Give, Load, Loaded, Opened, Origins, Safe, Show, Up
from tocsin.app.process import WorkerProcess
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.units import NS_PER_MS, NS_PER_S

OPENING_NS = 15 * NS_PER_S             # boards boot for up to 2.5 s, a window may take its time
SILENCE_NS: dict[ChannelName, int] = {
    "light": 500 * NS_PER_MS,
    "sound": 500 * NS_PER_MS,
    "rumble": 500 * NS_PER_MS,
    "screen": 10 * NS_PER_S,           # a dragged window stops its process on Windows
}
LOADING_NS = 5 * NS_PER_S              # sounds and frames are made meanwhile; it is standby
BUSY_SILENCE_NS = 5 * NS_PER_S         # a pad's driver over bad radio
SLICE_NS = 100 * NS_PER_MS             # the most silence that one turn of the conductor adds
RESTARTS = 3
RESTARTS_WITHIN_NS = 10 * NS_PER_S
RETRY_NS = 10 * NS_PER_S

Note = tuple[Literal["fault", "failed", "restart"], ChannelName, str]
Inbox = SimpleQueue[tuple[WorkerProcess, "Up | str | None"]]


class _Post(msgspec.Struct):
    """One channel's post: its process and what a successor must be told."""

    process: WorkerProcess | None = None
    opened: bool = False
    loading: bool = False
    busy: bool = False
    silent_ns: int = 0
    failed: bool = False
    retry_ns: int = 0
    restarts: int = 0
    restarted_at: deque[int] = msgspec.field(default_factory=deque)
    load: Load | None = None
    origins: Origins | None = None
    given: tuple[int, ...] = ()
    show: Show | None = None
    arm: Arm | None = None


class Supervision:
    """The workers of a run. ``wake`` is called from their threads whenever something lies in the inbox."""

    def __init__(self, rig: Rig, channels: Iterable[ChannelName], wake: Callable[[], None]) -> None:
        self._rig = rig
        self._wake = wake
        self._inbox: Inbox = SimpleQueue()
        self._posts: dict[ChannelName, _Post] = {channel: _Post() for channel in channels}
        self._checked_ns: int | None = None

    @property
    def channels(self) -> tuple[ChannelName, ...]:
        """The channels that have a worker."""
        return tuple(self._posts)

    def restarts(self, channel: ChannelName) -> int:
        """Return how often the channel's worker was started again."""
        return self._posts[channel].restarts

    def opened(self, channel: ChannelName) -> bool:
        """Return whether the channel's worker has opened its device or found it absent."""
        post = self._posts[channel]
        return post.opened or post.failed

    def processes(self) -> list[WorkerProcess]:
        """Return the processes that run now."""
        return [post.process for post in self._posts.values() if post.process is not None]

    def start(self, now_ns: int) -> None:
        """Start all workers."""
        for channel, post in self._posts.items():
            self._spawn(channel, post, now_ns)

    def send(self, message: Down, channel: ChannelName | None = None) -> None:
        """Send a message to one or all workers and keep it for their successors."""
        for name, post in self._posts.items():
            if channel in (None, name):
                self._keep(post, message)
                if post.process is not None:
                    post.process.send(message, droppable=isinstance(message, Show))

    def dismiss(self, channel: ChannelName) -> None:
        """End a channel's worker for good: something else plays it."""
        post = self._posts.pop(channel, None)
        if post is not None and post.process is not None:
            post.process.finish(1.0)

    def give(self, numbers: tuple[int, ...]) -> None:
        """Tell all workers which firings were given by hand."""
        self.send(Give(numbers))

    def hello_ns(self, channel: ChannelName) -> int:
        """Return when the channel's worker was greeted."""
        process = self._posts[channel].process
        return process.hello_ns if process else 0

    def receive(self) -> list[tuple[ChannelName, Up | str]]:
        """Return what workers said since the last call: messages, and lines of stderr as text."""
        said: list[tuple[ChannelName, Up | str]] = []
        while not self._inbox.empty():
            process, message = self._inbox.get()
            post = self._posts.get(process.channel)
            if post is None:
                continue
            if post.process is not process or message is None:
                # A predecessor's last words still count, its signs of life do not.
                if message is not None and not isinstance(message, Alive | Busy | Opened):
                    said.append((process.channel, message))
                continue
            post.silent_ns = 0
            if isinstance(message, Opened):
                post.opened = True
            if isinstance(message, Loaded):
                post.loading = False
            if isinstance(message, Busy):
                post.busy = message.on
            said.append((process.channel, message))
        return said

    def check(self, now_ns: int, done: Callable[[ChannelName], tuple[tuple[int, int], ...]]) -> list[Note]:
        """Restart what ended or fell silent; ``done`` tells what a channel has recorded already in this run."""
        passed_ns = min(now_ns - self._checked_ns, SLICE_NS) if self._checked_ns is not None else 0
        self._checked_ns = now_ns
        notes: list[Note] = []
        for channel, post in self._posts.items():
            if post.process is None:
                if now_ns >= post.retry_ns:
                    self._restart(channel, post, now_ns, done(channel), notes)
                continue
            post.silent_ns += passed_ns
            if post.process.gone():
                notes.append(("fault", channel, f"worker {post.process.exit_text()}"))
            elif post.silent_ns > self._limit_ns(channel, post):
                notes.append(("fault", channel, f"worker silent for {post.silent_ns / NS_PER_S:.1f} s, killed"))
                post.process.kill()
            else:
                continue
            self._after_death(channel, post, now_ns, done(channel), notes)
        return notes

    def finish(self, timeout_s: float = 1.0) -> list[Note]:
        """End all workers, devices made safe; kill what does not end. A dead or killed worker of rumble or light is
        followed by a fresh one that makes the device safe."""
        notes: list[Note] = []
        for channel, post in self._posts.items():
            process, post.process = post.process, None
            if process is None:
                continue
            died = process.gone()
            if (not process.finish(timeout_s) or died) and channel in ("rumble", "light"):
                notes.append(("fault", channel, "worker did not end by itself; a fresh one made the device safe"))
                successor = WorkerProcess(channel, self._rig, process.hello_ns, lambda *_: None)
                successor.send(Safe())
                successor.finish(3.0)
        return notes

    def _limit_ns(self, channel: ChannelName, post: _Post) -> int:
        if not post.opened:
            return OPENING_NS
        if post.loading:
            return max(LOADING_NS, SILENCE_NS[channel])
        return BUSY_SILENCE_NS if post.busy else SILENCE_NS[channel]

    def _keep(self, post: _Post, message: Down) -> None:
        match message:
            case Load():
                post.load, post.given, post.loading = message, (), True
            case Origins():
                post.origins = message
            case Give():
                post.given += message.numbers
            case Show():
                post.show = message
            case Arm():
                post.arm = message
            case Command() | Safe():
                return
            case _:
                raise ValueError(f"{message} is no message for a running worker")

    def _spawn(self, channel: ChannelName, post: _Post, now_ns: int) -> None:
        post.process = WorkerProcess(channel, self._rig, now_ns, self._on_message)
        post.opened = post.busy = post.loading = False
        post.silent_ns = 0

    def _on_message(self, process: WorkerProcess, message: Up | str | None) -> None:
        self._inbox.put((process, message))
        self._wake()

    def _after_death(
        self, channel: ChannelName, post: _Post, now_ns: int, done: tuple[tuple[int, int], ...], notes: list[Note]
    ) -> None:
        post.process = None
        while post.restarted_at and now_ns - post.restarted_at[0] > RESTARTS_WITHIN_NS:
            post.restarted_at.popleft()
        if len(post.restarted_at) >= RESTARTS:
            post.failed = True
            post.retry_ns = now_ns + RETRY_NS
            notes.append(("failed", channel, f"{RESTARTS} restarts within 10 s; tried again every 10 s"))
            return
        self._restart(channel, post, now_ns, done, notes)

    def _restart(
        self, channel: ChannelName, post: _Post, now_ns: int, done: tuple[tuple[int, int], ...], notes: list[Note]
    ) -> None:
        post.restarts += 1
        post.restarted_at.append(now_ns)
        post.failed = False
        self._spawn(channel, post, now_ns)
        notes.append(("restart", channel, f"worker started again ({post.restarts})"))
        assert post.process is not None  # just spawned
        post.process.send(Safe())
        if post.load is not None:
            post.process.send(msgspec.structs.replace(post.load, done=done))
            post.loading = True
        for message in (post.arm, Give(post.given) if post.given else None, post.origins, post.show):
            if message is not None:
                post.process.send(message)
