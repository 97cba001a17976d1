"""Record one run as it happens: the journal on disk, and the data for its summary.

The journal begins with the run, not with standby: earlier device events wait in memory and follow the header.
"""

import contextlib
import platform
from collections.abc import Callable, Iterator, Sequence
from importlib import metadata
from pathlib import Path
from typing import Any

import msgspec

from tocsin import __version__
from tocsin.channels.device import Event
from tocsin.journal import records
from tocsin.journal.local_time import offset_at
from tocsin.journal.place import boot_text
from tocsin.journal.writer import JournalWriter
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Key
from tocsin.model.mark import Mark
from tocsin.model.plan import ROLES, ChannelName, Role
from tocsin.model.timeline import timeline
from tocsin.translation import tr
from tocsin.workers.protocol import Fired


def versions() -> dict[str, str]:
    """Return the versions that help to understand a run later."""
    # Not platform.platform(): on Linux and macOS it starts a process to ask for the processor's name.
    uname = platform.uname()
    system = f"{uname.system} {uname.release} {uname.version} {uname.machine}"
    found = {"tocsin": __version__, "python": platform.python_version(), "system": system}
    for package in ("pygame", "pygame-ce", "pyserial", "python-statemachine"):
        try:
            found[package] = metadata.version(package)
        except metadata.PackageNotFoundError:
            continue
    return found


class Heading(msgspec.Struct, frozen=True, kw_only=True):
    """The content of a run's header beside times: options, label, files, and package and version of named devices."""

    packages: dict[str, str] = {}
    options: dict[str, Any]
    label: str
    files: tuple[records.FileRecord, ...]


def _nobody(record: records.Record) -> None:
    """Hear a record that nobody else is told of."""


class RunRecord:
    """One run's records, kept in order; written from ``begin`` on.

    ``fired`` holds the (number, instance) pairs that have an outcome, by channel. ``heard`` is called with each record
    as it is written, the header first.
    """

    def __init__(self, runs: Path, heading: Heading, heard: Callable[[records.Record], None] = _nobody) -> None:
        self._runs = runs
        self._heading = heading
        self._heard = heard
        self._header: records.Header | None = None
        self._writer: JournalWriter | None = None
        self._together: list[records.Record] | None = None
        self._source = ""
        self._told = ""
        self.kept: list[records.Record] = []
        self.fired: dict[str, set[Key]] = {}

    @property
    def begun(self) -> bool:
        """Whether there is a journal."""
        return self._writer is not None and not self._writer.refused

    @property
    def path(self) -> Path | None:
        """The run's folder, or None before it begins or if it could not be made."""
        return self._writer.folder if self._writer is not None and not self._writer.refused else None

    @property
    def written(self) -> tuple[records.Record, ...]:
        """The records of a run that has begun, its header among them, also those of an earlier process."""
        if self._writer is None:
            return ()
        return (self._header, *self.kept) if self._header is not None else tuple(self.kept)

    def trouble(self) -> str:
        """Return what has disturbed the journal since the last call, or an empty text."""
        failed = self._writer.failed if self._writer is not None else ""
        told, self._told = self._told, failed
        return failed if failed != told else ""

    def set_fact(self, name: str, value: Any) -> None:
        """Change a fact of the header before it is written, such as the number of a match."""
        self._heading = msgspec.structs.replace(
            self._heading, options={**self._heading.options, name: value}
        )

    def begin(self, now_ns: int, wall: str, plan: timeline.Timeline, workers: tuple[records.Worker, ...]) -> None:
        """Begin the journal. Never raises and never waits for the disk: a match continues without a journal, and
        ``trouble`` says why."""
        header = self._header = self.header(now_ns, wall, plan, workers)
        self._writer = JournalWriter.begin(self._runs, header)
        self._heard(header)
        for record in self.kept:
            self._append(record)

    def header(
        self, now_ns: int, wall: str, plan: timeline.Timeline, workers: tuple[records.Worker, ...] = ()
    ) -> records.Header:
        """Return the header that the journal would begin with at this time."""
        return records.Header(
            at_ns=now_ns, wall=wall, boot=boot_text(), versions=versions(), options=self._heading.options,
            label=self._heading.label, files=self._heading.files, timeline=plan, workers=workers,
            utc_offset_s=offset_at(wall), packages=self._heading.packages,
        )  # fmt: skip

    def reopen(self, folder: Path, past: tuple[records.Record, ...]) -> None:
        """Continue behind an earlier process's records, the header among them. Raises JournalError."""
        self._writer = JournalWriter.reopen(folder)
        self.take_over(past)

    def take_over(self, past: tuple[records.Record, ...]) -> None:
        """Take over an earlier process's records as this one's."""
        self.kept = list(past)
        for record in past:
            if isinstance(record, records.FiringRecord) and record.no is not None:
                self.fired.setdefault(record.channel, set()).add((record.no, record.instance))

    def close(self) -> str:
        """Write the rest; return why the journal is incomplete, or an empty text."""
        return self._writer.close() if self._writer is not None else ""

    @contextlib.contextmanager
    def together(self) -> Iterator[None]:
        """Write all records of the context as one: a crash keeps all of them or none, so that no state is read back
        without its origins."""
        if self._together is not None:
            yield
            return
        self._together = []
        try:
            yield
        finally:
            added, self._together = self._together, None
            if added:
                self._append(*added)

    @contextlib.contextmanager
    def wished_by(self, source: str) -> Iterator[None]:
        """Say in the records of the context which board or program wished what they tell."""
        self._source = source
        try:
            yield
        finally:
            self._source = ""

    def add(self, record: records.Record) -> None:
        """Append a record."""
        if self._source and isinstance(record, records.State | records.Note) and not record.source:
            record = msgspec.structs.replace(record, source=self._source)
        self.kept.append(record)
        if self._together is not None:
            self._together.append(record)
        else:
            self._append(record)

    def _append(self, *added: records.Record) -> None:
        if self._writer is not None:
            self._writer.append(*added)
            for record in added:
                self._heard(record)

    def origin(
        self,
        now_ns: int,
        origin: Origin,
        cause: records.Cause,
        error_ms: int | None,
        early_ms: int = 0,
        gives: Sequence[int] = (),
    ) -> None:
        """Note where an anchor's zero lies now, by how much calls come before it, and which firings a call replaces."""
        self.add(
            records.OriginRecord(
                at_ns=now_ns, anchor=origin.anchor, origin_ns=origin.origin_ns, rate=origin.rate, cause=cause,
                error_ms=error_ms, instance=origin.instance, starts_ns=origin.starts_ns,
                early_ms=early_ms, gives=tuple(gives),
            )
        )  # fmt: skip

    def mark(self, now_ns: int, mark: Mark) -> None:
        """Note a mark."""
        self.add(records.MarkRecord(at_ns=now_ns, **msgspec.structs.asdict(mark)))

    def firing(self, now_ns: int, firing: timeline.Firing, report: Fired) -> None:
        """Note the outcome of a firing."""
        self.fired.setdefault(firing.channel, set()).add((report.no, report.instance))
        self.add(
            records.FiringRecord(
                at_ns=now_ns, cue=firing.cue, n=firing.n, channel=firing.channel, role=firing.role,
                anchor=firing.begin.anchor, due_ns=firing.begin.offset_ns, match_ns=firing.match_ns,
                late_ns=report.late_ns, took_ns=report.took_ns, outcome=report.outcome, why=report.why,
                no=report.no, instance=report.instance, by=report.by,
            )
        )  # fmt: skip

    def ever_ready(self) -> set[ChannelName]:
        """Return the channels that had a device at some time of this run, also in an earlier process."""
        devices = [record for record in self.kept if isinstance(record, records.Device)]
        return {device.channel for device in devices if device.state == "ready"}

    def device(self, channel: ChannelName, event: Event) -> None:
        """Note a device's new state."""
        if event.state is not None:
            self.add(
                records.Device(
                    at_ns=event.at_ns, channel=channel, state=event.state, name=event.name or event.what, why=event.why,
                    role=_role(event.what),
                )
            )  # fmt: skip

    def worker(self, now_ns: int, channel: ChannelName, pid: int, started_s: float) -> None:
        """Note the process that owns a channel from now on."""
        worker = records.Worker(channel=channel, pid=pid, started_s=started_s)
        self.add(records.Device(at_ns=now_ns, channel=channel, state="absent", why=tr("worker started"), worker=worker))

    def fault(self, now_ns: int, channel: ChannelName | None, what: str, why: str = "") -> None:
        """Note a fault; without a channel it is the conductor's own."""
        self.add(records.Fault(at_ns=now_ns, channel=channel or "", what=what, why=why))


def _role(part: str) -> Role | None:
    return next((role for role in ROLES if role == part), None)
