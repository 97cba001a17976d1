"""Record matches that Tocsin did not clock: from marks in a video, or from the log lines of exported robot code."""

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import msgspec

from tocsin import monotime
from tocsin.analysis.csv_table import MOST_BYTES, TableError
from tocsin.analysis.rounds.video_marks import Alignment, Seen, VideoMark, align, on_clock, read_table, video_time_ns
from tocsin.config.load import Loaded
from tocsin.errors import JournalError, MistakeError, UsageError, reason
from tocsin.intake import read_given
from tocsin.journal import records
from tocsin.journal.local_time import offset_at
from tocsin.journal.place import boot_text
from tocsin.journal.writer import JournalWriter
from tocsin.model.mark import OBSERVED, Mark
from tocsin.model.moment import MomentError
from tocsin.model.plan import ROLES, Role
from tocsin.model.timeline.shown import locate_given
from tocsin.model.timeline.timeline import Firing, PeriodSlot, Timeline
from tocsin.runner.match.record import versions
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

BY_ROBOT = ("robot",)                  # of a firing that a robot's own program gave
_ROBOT_ERROR_MS = 100                  # the ± of a robot's own timer against the match (estimate, no source)
_LINE = re.compile(
    r"TOCSIN1 period=(?P<period>\S+) ms=(?P<ms>-?\d{1,9}) cue=(?P<cue>\S+) n=(?P<n>\d{1,9}) role=(?P<role>\S*)"
    r" outcome=(?P<outcome>\w+)"
)
MOST_LOG_BYTES = 20_000_000            # hours of a robot's own lines beside ours
_MOST_LINES = 20_000                   # of ours: as many as a plan may have firings
_MOST_PROBLEMS = 50
_LONGEST_SHOWN = 120                   # letters of a line that a message repeats
_NO_PERIOD, _CLOCK_LOST = "-", "clock-lost"
_OUTCOMES: dict[str, records.FiringOutcome] = {"played": "played", "called": "played", "resumed": "resumed"}


def seen_in_video(texts: Iterable[str], timeline: Timeline) -> tuple[Seen, ...]:
    """Return moments from ``TIME=MOMENT`` on the command line, also as the display shows them. Raises UsageError."""
    found = []
    for text in texts:
        time, _, moment = text.partition("=")
        ns = video_time_ns(time)
        if ns is None or not moment:
            hint = tr("write when the video shows which moment, e.g. 0:12.4=driver.begin")
            raise UsageError(tr("'{text}' is not a video time", text=text), hint=hint)
        try:
            found.append(Seen(ns, locate_given(moment.strip(), timeline)))
        except MomentError as error:
            likely = (
                tr("did you mean {readings}?", readings=" or ".join(error.readings)) if error.readings
                else error.expected
            )
            raise UsageError(tr("'{moment}' is not in this match", moment=moment), hint=likely) from error
    return tuple(found)


def table_of(path: Path) -> tuple[VideoMark, ...]:
    """Return the marks of a CSV file. Raises UsageError if it is missing, MistakeError with all its mistakes."""
    try:
        return read_table(read_given(path, MOST_BYTES).decode("utf-8-sig"))
    except OSError as error:
        raise UsageError(tr("{path} cannot be read: {reason}", path=path, reason=reason(error))) from error
    except UnicodeDecodeError as error:
        raise MistakeError(
            tr("{path} is not saved as UTF-8", path=path), hint=tr("save it again as UTF-8"),
        ) from error
    except TableError as error:
        raise MistakeError("\n".join(f"{path}, {problem}" for problem in error.problems)) from error


def aligned(seen: Sequence[Seen]) -> Alignment:
    """Return the alignment by seen moments. Raises UsageError if they disagree or there is none."""
    if not seen:
        hint = tr("add --seen TIME=MOMENT, e.g. --seen 0:12.4=driver.begin")
        raise UsageError(tr("nothing says where the match is in the video"), hint=hint)
    try:
        return align(seen)
    except ValueError as error:
        raise UsageError(str(error), hint=tr("look at the video again")) from error


def log_video(
    runs: Path,
    found: Loaded,
    label: str,
    options: dict[str, Any],
    marks: Sequence[VideoMark],
    seen: Sequence[Seen],
) -> Path:
    """Write a run from marks in a video; return its folder. ``options`` stand in its header. Raises UsageError,
    JournalError."""
    alignment = aligned(seen)
    zero_ns = monotime.now_ns()
    origins = [
        records.OriginRecord(
            at_ns=zero_ns, anchor=anchor, origin_ns=zero_ns + ns, cause="sync",
            error_ms=alignment.error_ns // NS_PER_MS,
        )
        for anchor, ns in alignment.zeros_ns.items()
    ]  # fmt: skip
    noted = [mark_record(mark, zero_ns, OBSERVED) for mark in on_clock(marks, zero_ns, alignment.error_ns)]
    timeline = found.plans[0].timeline
    last_ns = max([mark.end_ns or mark.begin_ns for mark in noted], default=zero_ns)
    ended_ns = max(last_ns, zero_ns + max(alignment.zeros_ns.values()) + _length_ns(timeline))
    return _write(runs, found, label, options, [*origins, *noted], ended_ns)


def log_robot(runs: Path, found: Loaded, label: str, options: dict[str, Any], lines: Iterable[str]) -> Path:
    """Write a run from the log lines of exported robot code; return its folder. ``options`` stand in its header. Other
    lines are skipped.

    Raises MistakeError for a line with a period or cue that the plan lacks, UsageError if there is no line at all.
    """
    timeline = found.plans[0].timeline
    zero_ns = monotime.now_ns()
    slots = {slot.id: slot for slot in timeline.periods}
    firings: dict[tuple[str, int, str], Firing] = {
        (firing.cue, firing.n, firing.role or ""): firing for firing in timeline.firings if firing.channel == "rumble"
    }
    origins: dict[str, records.OriginRecord] = {}
    played: list[records.Record] = []
    problems: list[str] = []
    for number, line in enumerate(lines, 1):
        match = _LINE.search(line)
        if match is None or match["period"] == _NO_PERIOD or match["cue"] == _CLOCK_LOST:
            continue                       # these two say nothing of when in the match
        slot = slots.get(match["period"])
        firing = firings.get((match["cue"], int(match["n"]), match["role"]))
        if slot is None or firing is None or match["outcome"] not in _OUTCOMES:
            problems.append(tr(
                "line {number}: '{match}' is not of this plan and game", number=number, match=match[0][:_LONGEST_SHOWN],
            ))
            if len(problems) == _MOST_PROBLEMS:
                problems.append(tr("those after it were not checked: fix these first"))
                break
            continue
        begin_ns = zero_ns + _nominal_ns(timeline, slot)
        at_ns = begin_ns + int(match["ms"]) * NS_PER_MS
        origins.setdefault(slot.anchor, _robot_origin(slot, begin_ns, zero_ns))
        played.append(_robot_firing(firing, at_ns, _OUTCOMES[match["outcome"]], origins[slot.anchor]))
        if len(played) > _MOST_LINES:
            hint = tr("take the log of one match")
            raise MistakeError(
                tr("the log has more than {most_lines:,} lines of Tocsin's, the limit", most_lines=_MOST_LINES),
                hint=hint,
            )
    if problems:
        raise MistakeError(
            "\n".join(problems), hint=tr("take the log of a robot whose code was exported from this plan"),
        )
    if not played:
        raise UsageError(tr("no line of Tocsin's is in this log"), hint=tr("such a line begins with TOCSIN1"))
    ended_ns = zero_ns + _length_ns(timeline)
    return _write(runs, found, label, options, [*origins.values(), *played], max(ended_ns, played[-1].at_ns))


def mark_record(mark: Mark, at_ns: int, source: str) -> records.MarkRecord:
    """Return a mark as a journal keeps it."""
    return records.MarkRecord(at_ns=at_ns, **{**msgspec.structs.asdict(mark), "source": source})


def _robot_origin(slot: PeriodSlot, begin_ns: int, zero_ns: int) -> records.OriginRecord:
    return records.OriginRecord(
        at_ns=zero_ns, anchor=slot.anchor, origin_ns=begin_ns - slot.begin_ns, cause="sync", error_ms=_ROBOT_ERROR_MS
    )  # fmt: skip


def _robot_firing(
    firing: Firing, at_ns: int, outcome: records.FiringOutcome, origin: records.OriginRecord
) -> records.FiringRecord:
    known = firing.begin.anchor == origin.anchor
    due_ns = (origin.origin_ns or 0) + firing.begin.offset_ns if known else at_ns
    role: Role | None = next((role for role in ROLES if role == firing.role), None)
    return records.FiringRecord(
        at_ns=at_ns, cue=firing.cue, n=firing.n, channel="rumble", role=role, anchor=firing.begin.anchor,
        due_ns=firing.begin.offset_ns, match_ns=firing.match_ns, late_ns=max(0, at_ns - due_ns), outcome=outcome,
        no=firing.no, by=BY_ROBOT,
    )  # fmt: skip


def _nominal_ns(timeline: Timeline, slot: PeriodSlot) -> int:
    segment = next(segment for segment in timeline.segments if segment.anchor == slot.anchor)
    return segment.match_ns + slot.begin_ns


def _length_ns(timeline: Timeline) -> int:
    last = timeline.segments[-1]
    return last.match_ns + (last.lasts_ns or 0)


def _write(
    runs: Path, found: Loaded, label: str, options: dict[str, Any], body: Sequence[records.Record], ended_ns: int
) -> Path:
    wall = monotime.wall_text()
    header = records.Header(
        at_ns=min((record.at_ns for record in body), default=0),
        wall=wall,
        utc_offset_s=offset_at(wall),
        boot=boot_text(),
        versions=versions(),
        options={**options, "source": OBSERVED},
        label=label,
        files=tuple(records.FileRecord.of(file.name, file.text) for file in found.files),
        timeline=found.plans[0].timeline,
    )
    writer = JournalWriter.create(runs, header)
    for record in body:
        writer.append(record)
    writer.append(records.End(at_ns=ended_ns, outcome="over", exit=0, why=OBSERVED))
    if failed := writer.close():
        raise JournalError(f"{writer.folder}: {failed}")
    return writer.folder
