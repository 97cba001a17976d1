"""Define the records of a journal: one JSON object a line, told apart by ``kind``.

``at_ns`` is always the shared monotonic time of the event. Keys may be added with a default, never removed or given
another meaning: a reader skips kinds and keys that it does not know. Keys with the remark "extra" stand beside the
design's table.
"""

import hashlib
from collections.abc import Iterable
from typing import Annotated, Any, Literal

import msgspec

from tocsin.model.mark import Mark
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Priority
from tocsin.model.timeline.timeline import Timeline
from tocsin.readable import utf8_json
from tocsin.translation import tr
from tocsin.units import MOST_NS, Count, Ns

FORMAT = "tocsin-journal/1"

Cause = Literal["start", "begin", "resume", "nudge", "sync", "sleep", "call", "mark"]
FiringOutcome = Literal["played", "resumed", "skipped", "failed"]
RunOutcome = Literal["over", "standby", "scrapped", "crashed"]
DeviceState = Literal["ready", "absent", "lost", "failed"]

# ``what`` of the fault that stands for a worker's restart: the summary counts these by themselves.
RESTARTED = "restarted"
# ``what`` of the conductor's fault that a run was cut short and is gone on with: all workers are new.
RESUMED = "resumed"
# ``what`` of the fault that is a line on a worker's stderr: system libraries talk there without anything being wrong.
MISFIT = tr("a report that fits nothing")
STDERR = "stderr"
# ``what`` of the faults whose ``why`` says all: of a worker's process, and of a priority that was not granted.
WORKER = "worker"
PRIORITY = "priority"
# ``why`` of a firing that had no device to go to, of one whose worker came to it too late, of one that the clock was
# started or set behind, of one that a call by hand stood for, and of one below another on its device.
ABSENT = "absent"
LATE = "late"
CROSSED = "crossed"
GIVEN = "given"
OUTRANKED = "outranked"

# ``tocsin run --rate`` takes 0.1 to 100.
Rate = Annotated[float, msgspec.Meta(ge=0.01, le=1000)]

# As far as a time of day can be from UTC.
UtcOffset = Annotated[int, msgspec.Meta(gt=-86_400, lt=86_400)]

# Identifies a firing over restarts and versions: cue, n, channel, role, instance.
FiringKey = tuple[str, int, str, str | None, int]


class FileRecord(msgspec.Struct, frozen=True, kw_only=True):
    """A game, plan or rig as it was read: ``name`` says which, ``text`` is all of it."""

    name: str
    sha256: str
    text: str

    @classmethod
    def of(cls, name: str, text: str) -> "FileRecord":
        """Return the file's text with its SHA-256 as hexadecimal digits of its UTF-8 bytes."""
        return cls(name=name, sha256=hashlib.sha256(text.encode()).hexdigest(), text=text)

    def intact(self) -> bool:
        """Return whether the text still has its SHA-256."""
        return FileRecord.of(self.name, self.text).sha256 == self.sha256


class Worker(msgspec.Struct, frozen=True, kw_only=True):
    """A worker's process; pid and start time (seconds since 1970, as psutil reads it) together are unique."""

    channel: ChannelName
    pid: Annotated[int, msgspec.Meta(gt=0, lt=1 << 31)]
    started_s: float


class Lateness(msgspec.Struct, frozen=True, kw_only=True):
    """How late ``n`` played firings were, in milliseconds; None with too few of them."""

    n: int = 0
    p50: float | None = None
    p90: float | None = None
    p99: float | None = None
    max: float | None = None


class ChannelSummary(msgspec.Struct, frozen=True, kw_only=True):
    """One channel's share of a run. ``firings`` counts firings, the four outcomes count their records: a sustained
    firing that a restarted worker shows again is one firing, played once and resumed once. ``skipped_why`` counts the
    skipped by their ``why``, ``troubles`` lists each fault once. ``lateness_ms`` leaves the ``by_hand`` out: nobody
    knew of such a call before, so no device's latency can be subtracted."""

    device: DeviceState
    firings: int = 0
    played: int = 0
    resumed: int = 0
    skipped: int = 0
    failed: int = 0
    restarts: int = 0
    faults: int = 0
    priority: Priority = "ordinary"
    lateness_ms: Lateness = Lateness()
    by_hand: int = 0               # extra: of the played ones
    skipped_why: dict[str, int] = {}    # extra
    troubles: tuple[str, ...] = ()      # extra


class Summary(msgspec.Struct, frozen=True, kw_only=True):
    """What ``tocsin run --json`` prints at the end."""

    outcome: RunOutcome
    exit: int
    journal: str
    disturbed: bool
    channels: dict[ChannelName, ChannelSummary]


class Header(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="header"):
    """First record: everything that is needed to play the run again. ``wall`` is RFC 3339 in UTC; ``boot`` tells one
    start of the machine from another, since ``at_ns`` is only valid within one. ``utc_offset_s`` is how far the time of
    day where the run was played was ahead of UTC; ``packages`` are package and version of each device that the rig
    names, by its name."""

    at_ns: Ns
    format: str = FORMAT
    wall: str
    boot: str
    versions: dict[str, str] = {}
    options: dict[str, Any] = {}
    label: str = ""
    files: tuple[FileRecord, ...] = ()
    timeline: Timeline | None = None
    workers: tuple[Worker, ...] = ()
    utc_offset_s: UtcOffset | None = None          # extra
    packages: dict[str, str] = {}                  # extra


class Follows(msgspec.Struct, frozen=True, kw_only=True):
    """How another laptop's clock was told by this one's: it lies ``offset_ns`` ahead, known to ± ``error_ns``, a bound;
    since then both may drift apart."""

    offset_ns: Ns
    error_ns: Annotated[int, msgspec.Meta(ge=0, le=MOST_NS)]


class OriginRecord(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="origin"):
    """An anchor's origin became known, moved, or (``origin_ns`` None) was withdrawn. ``error_ms`` is its ± (95 %)."""

    at_ns: Ns
    anchor: str
    origin_ns: Ns | None
    rate: Rate = 1.0
    cause: Cause
    error_ms: Count | None = None
    instance: Count = 0            # extra: which mark or call of its anchor, from 0
    starts_ns: Ns = 0              # extra: when a clock that begins in mid-match is started
    early_ms: Count = 0            # extra: by how much calls come before this origin, the clock being unsure
    gives: tuple[Count, ...] = ()  # extra: numbers of the firings that a call by hand stands for
    follows: Follows | None = None  # extra: where another laptop keeps the clock, by which offset it was told here


class State(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="state"):
    """The lifecycle settled in ``states`` after ``event``; ``refused`` says why the event did not apply."""

    at_ns: Ns
    states: tuple[str, ...]
    event: str = ""
    refused: str = ""
    variant: str | None = None     # extra: the variant in force from now on, where it was chosen or changed
    held_ns: Ns | None = None      # extra: the shared time at which the clock stopped, while held
    source: str = ""               # extra: the board or program that wished the event; empty for keys


class FiringRecord(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="firing"):
    """The outcome of a firing. ``late_ns`` is the begin of the device call minus (due minus latency), real nanoseconds,
    None without a device call; ``took_ns`` how long that call took."""

    at_ns: Ns
    cue: str
    n: Count
    channel: ChannelName
    role: Role | None = None
    anchor: str
    due_ns: Ns
    match_ns: Ns | None = None
    late_ns: Ns | None = None
    took_ns: Ns | None = None
    outcome: FiringOutcome
    why: str = ""
    no: Count | None = None        # extra: its place in the timeline
    instance: Count = 0            # extra: which mark or call of its anchor, from 0
    by: tuple[str, ...] = ()       # extra: the parts of the device that it went to

    def key(self) -> FiringKey:
        """Return what identifies the firing over restarts and versions."""
        return (self.cue, self.n, self.channel, self.role, self.instance)


class MarkRecord(Mark, frozen=True, tag_field="kind", tag="mark"):
    """A mark, and the time of its writing. ``open``, ``error_ns`` and ``pointlike`` are extra.

    Not keyword-only, since such fields come last: a line begins with ``at_ns`` as all others do."""

    at_ns: Ns
    role: Role | None = None


class Device(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="device"):
    """A channel's device, or one part of it, is in a new state."""

    at_ns: Ns
    channel: ChannelName
    state: DeviceState
    name: str = ""
    why: str = ""
    role: Role | None = None               # extra: the part is this role's pad; None is the whole channel
    worker: Worker | None = None           # extra: the process that owns it from now on
    priority: Priority | None = None       # extra: what the system granted


class Fault(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="fault"):
    """A fault; ``channel`` is empty if it is the conductor's own. ``what`` RESTARTED is a restart."""

    at_ns: Ns
    channel: ChannelName | Literal[""]
    what: str
    why: str = ""


class Note(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="note"):
    """What people said or did beside the match: a safety question answered, a new battery, a round dropped and why;
    ``values`` are its figures, for example of how well somebody steered."""

    at_ns: Ns
    what: str
    text: str = ""
    values: dict[str, float] = {}
    source: str = ""               # extra: the board or program that wished it; empty for keys


class End(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="end"):
    """Last record of a run; marks may still be added after it."""

    at_ns: Ns
    outcome: RunOutcome
    exit: int
    why: str = ""
    summary: Summary | None = None


Record = Header | OriginRecord | State | FiringRecord | MarkRecord | Device | Fault | Note | End


def marks_of(run: Iterable[Record]) -> tuple[MarkRecord, ...]:
    """Return all marks of a run, in their order, withdrawn ones too."""
    return tuple(record for record in run if isinstance(record, MarkRecord))


class _Tagged(msgspec.Struct):
    kind: str


KINDS = frozenset(["header", "origin", "state", "firing", "mark", "device", "fault", "note", "end"])

_decoder = msgspec.json.Decoder(Record)
_TOO_DEEP = tr("its brackets are nested too deeply")
_tag_decoder = msgspec.json.Decoder(_Tagged)


def encode(record: Record) -> bytes:
    """Return the record as one line of JSON, with its newline."""
    return utf8_json(record) + b"\n"


def kind_of(line: bytes) -> str:
    """Return the kind of a line. Raises msgspec.DecodeError if it is no JSON object with a ``kind``."""
    try:
        return _tag_decoder.decode(line).kind
    except RecursionError as error:
        raise msgspec.DecodeError(_TOO_DEEP) from error


def decode(line: bytes) -> Record | None:
    """Return the record of a line, None for a kind of a later version. Raises msgspec.DecodeError if it is no JSON
    object with a ``kind``, or lacks the keys of its kind."""
    if kind_of(line) not in KINDS:
        return None
    try:
        return _decoder.decode(line)
    except RecursionError as error:
        raise msgspec.DecodeError(_TOO_DEEP) from error


def is_whole(line: bytes) -> bool:
    """Return whether a line without its newline is a whole record of any kind: a JSON object never ends early."""
    try:
        kind_of(line)
    except msgspec.DecodeError:
        return False
    return True
