"""Measure how late this laptop is: the runner of a match plays rounds of events, beside the usual ways.

Nothing is kept as a run: the journals lie in a temporary folder.
"""

import os
import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import accumulate
from pathlib import Path

import msgspec
import psutil

from tocsin.config.load import Loaded, load
from tocsin.errors import OVER, DeviceError, JournalError, UsageError
from tocsin.features.measure import helper as companion
from tocsin.features.measure.lateness import null_device as stand_in
from tocsin.features.measure.lateness.baselines import WAYS, BaselineTimes
from tocsin.features.measure.lateness.result import LatenessRow, Measured
from tocsin.features.measure.lateness.round import (
    LEAD_IN_MS,
    LONGEST_MS,
    SHORTEST_MS,
    LatenessRound,
    Lost,
    MeasuredDevice,
    Part,
    events_of,
    quiet_rig,
    times_ms,
)
from tocsin.features.measure.lateness.verdict import verdict
from tocsin.features.measure.lateness.words import caution
from tocsin.journal.records import Fault, Lateness
from tocsin.journal.summary import lateness_of
from tocsin.model.plan import CHANNELS, ChannelName, Role
from tocsin.model.rig import Rig
from tocsin.runner.ending import Ending, heard, signals_given_back, take_signals
from tocsin.runner.options import RunOptions
from tocsin.runner.power import battery_text
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

A_ROUND = 50                           # events at most: more rounds, and what is compared lies closer together
_AROUND_S = 3                          # devices are opened before a round, and ring out after it
_WAYS_LIMIT = 4                        # times what they should take; then they hang
_LOOK_S = 0.5                          # how long other programs' use of the processor is looked at


class LatenessRequest(msgspec.Struct, frozen=True, kw_only=True):
    """The request of the command line. ``only`` None takes all channels; named ones must be present. ``busy`` processes
    keep the processor busy. ``pads`` allows shaking pads beside a program that drives a robot. ``board`` says where
    boards are served meanwhile, nowhere if empty."""

    rig: str = "nothing"
    only: tuple[ChannelName, ...] | None = None
    events: int = 100
    busy: int = 0
    beside: bool = False
    pads: bool = False
    board: str = ""


class _StoppedError(Exception):
    """A signal of the system ended the measurement."""

    def __init__(self, ending: Ending) -> None:
        super().__init__(ending.why)
        self.ending = ending


def measure(wish: LatenessRequest, say: Say) -> Measured:
    """Measure, for about 0.3 s an event; ``say`` prints progress for people.

    After Ctrl-C the result holds the events so far, and its ``exit`` is 130 (143 when told to end). Raises UsageError,
    MistakeError, DeviceError if a requested channel is missing or another Tocsin is running, JournalError if nothing
    can be written.
    """
    files = load(None, ("full",), wish.rig)
    measurement = _Measurement(wish, files, say)
    with alone(), _interruptible(measurement), companion.busy(wish.busy):
        measurement.run()
    measured = measurement.result()
    return msgspec.structs.replace(measured, verdict=verdict(measured))


@contextmanager
def _interruptible(measurement: "_Measurement") -> Iterator[None]:
    """Let signals end what stands inside, with the exit code that belongs to them."""
    with signals_given_back():
        _raise_on_signals()
        try:
            yield
        except _StoppedError as left:
            measurement.exit = left.ending.exit


def _raise_on_signals() -> None:
    def leave(ending: Ending) -> None:
        raise _StoppedError(ending)

    take_signals(leave)


@contextmanager
def _scratch() -> Iterator[Path]:
    """Yield a folder that goes away with the context. Raises JournalError where there is no room for one."""
    try:
        folder = tempfile.TemporaryDirectory(prefix="tocsin-measure-", ignore_cleanup_errors=True)
    except OSError as error:
        hint = tr("set TMPDIR (on Windows TEMP) to a folder of your own with room in it")
        raise JournalError(
            tr("no folder for temporary files: {strerror}", strerror=error.strerror or error), hint=hint,
        ) from error
    with folder as name:
        yield Path(name)


class _Measurement:
    """The rounds of one measurement, and what they have come to so far."""

    def __init__(self, wish: LatenessRequest, files: Loaded, say: Say) -> None:
        self.exit = OVER
        self._wish = wish
        self._say = say
        self._rig_file = next(file for file in files.files if file.kind == "rig")
        self._rig = quiet_rig(files.rig)
        self._left_alone = bool(self._rig.pads) and self._rig.drives_robot and not wish.pads
        self._channels = self._wanted()
        self._late_ms: dict[Part, list[float]] = {}
        self._beside_ms: dict[str, list[float]] = {}
        self._beside_why = ""
        self._window: bool | None = None
        self._devices: dict[ChannelName, MeasuredDevice] = {}
        self._lost: list[Lost] = []
        self._faults: list[Fault] = []
        self._disturbed = self._stand_in = self._whole = False
        self._load_percent = 0.0

    def _wanted(self) -> tuple[ChannelName, ...]:
        only = self._wish.only or CHANNELS
        for channel in self._wish.only or ():
            if channel not in self._rig.channels:
                raise DeviceError(
                    tr(
                        "{channel} was asked for, but the rig '{name}' has no device for it", channel=channel,
                        name=self._rig.name,
                    ),
                    hint=tr("name another with --rig, or leave {channel} out", channel=channel),
                )
        if not self._left_alone:
            return only
        if self._wish.only and "rumble" in self._wish.only:
            raise UsageError(
                tr("the rig says that this laptop drives a robot, so its pads are left alone"),
                hint=tr("with the robot off and its program closed, add --pads"),
            )
        return tuple(channel for channel in only if channel != "rumble")

    def run(self) -> None:
        """Play all rounds, or as many as people let it."""
        for line in caution([channel for channel in self._rig.channels if channel in self._channels]):
            self._say(line)
        # Looked at before anything of ours works, unless we keep the processor busy ourselves.
        self._load_percent = 0.0 if self._wish.busy else psutil.cpu_percent(_LOOK_S)
        rounds = rounds_of(self._wish.events)
        for no, events in enumerate(rounds):
            self._say(tr(
                "Round {no} of {count}: {events} events, about {seconds} s.", no=no + 1, count=len(rounds),
                events=events, seconds=_seconds(events),
            ))
            if not self._play(no, events):
                return
            if self._wish.beside:
                self._say(tr("Simple timers too, about {seconds} s.", seconds=_seconds(events)))
                self._play_beside(no, events)
        self._whole = True

    def _play(self, no: int, events: int) -> bool:
        """Play a round; return whether it was played to its end."""
        if not self._stand_in:
            found = self._round(no, events, self._rig, self._channels, asked=self._wish.only or ())
            self._devices = found.devices
            if not found.idle or self.exit:
                return self._keep(found)
            self._stand_in = True
            self._say(tr("No device is there. A test port is used in place of the strip."))
        with stand_in.strip() as light:
            rig = msgspec.structs.replace(self._rig, pads=(), sound=None, screen=None, light=light)
            found = self._round(no, events, rig, ("light",), asked=())
        granted, refused = found.devices["light"].granted, found.devices["light"].refused
        self._devices["light"] = msgspec.structs.replace(self._devices["light"], granted=granted, refused=refused)
        return self._keep(found)

    def _round(
        self, no: int, events: int, rig: Rig, channels: tuple[ChannelName, ...], *, asked: tuple[ChannelName, ...]
    ) -> LatenessRound:
        roles = tuple(dict.fromkeys(pad.role for pad in rig.pads)) or ("driver",)
        loaded = events_of(times_ms(events, no), channels, roles, self._rig_file)
        files = Loaded(loaded.plans, rig, loaded.files)
        with _scratch() as folder:
            options = RunOptions(
                plans=(tr("measured plan"),), rig=self._wish.rig, runs=folder, start="now", screen="none",
                only=channels, asked=asked, board=self._wish.board,
            )  # fmt: skip
            programme = LatenessRound(files, options, self._say)
            summary = play(files, options, lambda line: None, json_output=True, programme=programme)
        _raise_on_signals()                    # until here the conductor has taken them
        came = heard()                         # maybe when the round was over already
        self.exit = came.exit if came else OVER if summary.outcome == "over" else summary.exit
        return programme

    def _keep(self, found: LatenessRound) -> bool:
        """Keep a round's figures; return whether it was played to its end."""
        for part, late_ms in found.late_ms.items():
            self._late_ms.setdefault(part, []).extend(late_ms)
        self._lost += found.lost
        self._faults += found.faults
        self._disturbed |= found.disturbed
        return not (found.left or self.exit)

    def _play_beside(self, no: int, events: int) -> None:
        """Let the usual ways play as many events each, in turn and as irregularly, in a process of their own."""
        rng = random.Random(no)
        gaps = (rng.randint(SHORTEST_MS // len(WAYS), LONGEST_MS // len(WAYS)) for _ in range(events * len(WAYS)))
        times = msgspec.json.encode(list(accumulate(gaps))).decode()
        process = companion.start("ways", times)
        try:
            line = companion.answer(process, _WAYS_LIMIT * _seconds(events))
        finally:
            companion.end(process)
        if not line:
            self._beside_why = tr("their program ended early, or hung; is the display there, and pygame whole?")
            return
        played = msgspec.json.decode(line, type=BaselineTimes)
        self._window = played.window
        for way, late_ms in played.late_ms.items():
            self._beside_ms.setdefault(way, []).extend(late_ms)

    def result(self) -> Measured:
        """Return what has been measured so far."""
        wish, rig = self._wish, self._rig
        beside = (
            LatenessRow(title=way, lateness_ms=_lateness(late_ms), late_ms=tuple(late_ms))
            for way, late_ms in self._beside_ms.items()
        )
        return Measured(
            exit=self.exit, events=wish.events, busy=wish.busy, cores=os.cpu_count() or 1,
            load_percent=self._load_percent, power=battery_text(), rig=rig.name, drives_robot=rig.drives_robot,
            asked=rig.priority, devices=self._devices, stand_in=self._stand_in, pads_left_alone=self._left_alone,
            rows=self._rows(), beside=tuple(beside), beside_why=self._beside_why, window=self._window,
            lost=tuple(self._lost), faults=tuple(self._faults), disturbed=self._disturbed, whole=self._whole,
        )  # fmt: skip

    def _rows(self) -> tuple[LatenessRow, ...]:
        parts = sorted(self._late_ms, key=lambda part: CHANNELS.index(part[0]))
        return tuple(
            LatenessRow(
                title=self._title(channel, role), channel=channel, role=role,
                lateness_ms=_lateness(self._late_ms[channel, role]), late_ms=tuple(self._late_ms[channel, role]),
            )
            for channel, role in parts
        )  # fmt: skip

    def _title(self, channel: ChannelName, role: Role | None) -> str:
        if self._stand_in:
            return "stand-in"
        return f"{channel} {role}" if role else channel


def rounds_of(events: int) -> list[int]:
    """Return how many events each round has: as equal as possible, at least one, at most ``A_ROUND``.

    >>> rounds_of(100), rounds_of(101)
    ([50, 50], [34, 34, 33])
    """
    count = -(-events // A_ROUND)
    return [events // count + (no < events % count) for no in range(count)]


def _seconds(events: int) -> int:
    return round((LEAD_IN_MS + events * (SHORTEST_MS + LONGEST_MS) / 2) / 1000 + _AROUND_S)


def _lateness(late_ms: list[float]) -> Lateness:
    return lateness_of(round(ms * NS_PER_MS) for ms in late_ms)
