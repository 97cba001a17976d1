"""Add marks to a run after its end: appended, never overwritten, with their source."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from tocsin import monotime
from tocsin.analysis.rounds.overlaps import passes_ns
from tocsin.analysis.rounds.video_marks import VIDEO_ERROR_NS, VideoMark, on_clock
from tocsin.config.toml.phrases import nearest
from tocsin.errors import JournalError, UsageError
from tocsin.features.records.observed import aligned, mark_record, seen_in_video
from tocsin.features.records.page.run import PAGE
from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory, when_text
from tocsin.journal.local_time import begin_text
from tocsin.journal.reader import Journal
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter
from tocsin.model.clock.origins import Origin
from tocsin.model.counted import Counted, counted, counted_places
from tocsin.model.mark import (
    CONTACT,
    LABELS,
    LATER,
    OBSERVED,
    PROGRAM,
    VIDEO,
    Mark,
    board_number,
    key_source,
    standing_places,
)
from tocsin.model.moment import MomentError
from tocsin.model.timeline.point import Point
from tocsin.model.timeline.shown import locate_given, taken_note
from tocsin.model.timeline.timeline import Timeline
from tocsin.readable import readable_line, typed
from tocsin.runner.keymap import readable
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

_SOURCES = {
    LATER: tr("added later"), VIDEO: tr("from a video"), OBSERVED: tr("logged from a video"),
    PROGRAM: tr("by another program"), "": tr("unknown"),
}  # fmt: skip
_LABEL = re.compile(r"[a-z][a-z0-9_]*")


def marks_at(journal: Journal, label: str, at: str, until: str | None, by: str) -> tuple[Mark, ...]:
    """Return a mark at moments of the match. Raises UsageError for a label or moment that does not fit the run."""
    if not _LABEL.fullmatch(label):
        raise UsageError(
            tr("'{label}' is not a label", label=label), hint=tr("small letters, digits and underscores, e.g. contact"),
        )
    begin_ns = _shared_ns(journal, at)
    end_ns = None if until is None else _shared_ns(journal, until)
    if end_ns is not None and end_ns < begin_ns:
        raise UsageError(
            tr("{until} is before {at}", until=until, at=at),
            hint=tr("write the begin with --at and the end with --until"),
        )
    return (Mark(label=label, begin_ns=begin_ns, end_ns=end_ns, by=by, error_ns=VIDEO_ERROR_NS),)


def taken_notes(journal: Journal, texts: Sequence[str | None]) -> Iterator[str]:
    """Yield a note for each of these moments that is a time which the display shows in several periods."""
    notes = (taken_note(text, _timeline(journal)) for text in texts if text)
    yield from (tr("note: {note}", note=note) for note in dict.fromkeys(notes) if note)


def marks_in_video(journal: Journal, table: Sequence[VideoMark], seen: Sequence[str]) -> tuple[Mark, ...]:
    """Return a video's marks on the run's clock, aligned by moments seen in the video. Raises UsageError."""
    alignment = aligned(seen_in_video(seen, _timeline(journal)))
    anchor, zero_ns = next(iter(alignment.zeros_ns.items()))
    return on_clock(table, _origin(journal, anchor).origin_ns - zero_ns, alignment.error_ns)


def video_command(folder: Path, timeline: Timeline, runs: Path | None) -> str:
    """Return the command that adds a video's marks to a run, with examples for the table and the video's time at the
    end of the match; ``runs`` is the folder of runs if it is not the user's own."""
    end = next((slot.id for slot in reversed(timeline.periods) if slot.kind != "settle"), timeline.periods[-1].id)
    words = ["tocsin", "mark", short_name(folder), *(["--runs", str(runs)] if runs else [])]
    words += ["--video", "marks.csv", "--seen", f"0:12.4={end}.end"]
    return typed(*words)


def doubts(journal: Journal, marks: Sequence[Mark]) -> Iterator[str]:
    """Yield a note for each label that is new in the run and resembles one that results count."""
    known = {*LABELS, *(mark.label for mark in records.marks_of(journal.records))}
    for label in dict.fromkeys(mark.label for mark in marks if mark.label not in known):
        if likely := nearest(label, LABELS):
            yield tr(
                "note: '{label}' is used as a label of your own; did you mean {likely}?", label=label, likely=likely,
            )


def added_notes(journal: Journal, marks: Sequence[Mark], source: str) -> Iterator[str]:
    """Yield a note for what results will not count, now or any more, once these marks are added, and for marks that lie
    behind the end of everything."""
    old = records.marks_of(journal.records)
    new = [mark_record(mark, 0, source) for mark in marks]
    places = counted_places([*old, *new])
    silent = [mark for place, mark in enumerate(new, len(old)) if place not in places]
    silenced = [old[place] for place in counted_places(old) if place not in places]
    for label, count in Counter(mark.label for mark in silent).items():
        yield tr(
            "note: {count} added and not counted: what was seen in a video is counted instead",
            count=_count(count, label),
        )
    for label, count in Counter(mark.label for mark in silenced).items():
        yield tr(
            "note: {count} noted before no longer counted: these ({source}) are counted instead",
            count=_count(count, label), source=source,
        )
    timeline, clock = _timeline(journal), ClockHistory(journal.records)
    ends_ns = passes_ns(timeline, clock.newest(), timeline.last_end())
    for mark in marks:
        if ends_ns is not None and clock.without_holds(mark.begin_ns) >= ends_ns:
            when = when_text(mark.begin_ns, timeline, clock)
            yield tr(
                "note: {label} is {when}, after all that is played: it is in no window",
                label=readable_line(mark.label), when=when,
            )


def _count(count: int, label: str) -> str:
    return trn("{count} {label} mark", "{count} {label} marks", count, label=readable_line(label))


def add_marks(journal: Journal, marks: Sequence[Mark], source: str) -> None:
    """Append marks to a run's journal. Raises JournalError."""
    _append(journal, [mark_record(mark, monotime.now_ns(), source) for mark in marks])


def take_back(journal: Journal, number: int) -> None:
    """Withdraw a mark by its number from 1. Raises UsageError for one that is missing or withdrawn already."""
    marks = records.marks_of(journal.records)
    place = number - 1
    if place not in standing_places(marks):
        raise UsageError(
            tr("there is no mark {number} to take back", number=number),
            hint=tr("`tocsin mark` lists them with their numbers"),
        )
    now_ns = monotime.now_ns()
    taken = marks[place]
    _append(
        journal,
        [records.MarkRecord(at_ns=now_ns, label=taken.label, begin_ns=now_ns, source=LATER, takes_back=place)],
    )


def title(journal: Journal) -> str:
    """Return a run's short name, when it began where it was played, and its label."""
    when = readable_line(begin_text(journal.header))
    return "  ".join(filter(None, [short_name(journal.path.parent), when, readable_line(journal.header.label)]))


def told(journal: Journal) -> Iterator[str]:
    """Yield a line for each mark of a run, with its number and its time before the match's end."""
    yield title(journal)
    marks = records.marks_of(journal.records)
    held_places, one_of = standing_places(marks), {place: one for one in counted(marks) for place in one.places}
    shown = [(place, mark) for place, mark in enumerate(marks) if mark.takes_back is None]
    if not shown:
        yield tr("  no marks")
        return
    timeline, clock = _timeline(journal), ClockHistory(journal.records)
    rate = max((origin.rate for origin in clock.newest()), default=1.0)
    for place, mark in shown:
        held = source_text(mark.source)
        if place not in held_places:
            held = tr("{source}, undone", source=held)
        elif place not in one_of:
            held = tr("{source}, not counted: there is a better source", source=held)
        elif len(one_of[place].places) > 1:
            held = _counts_with(place, one_of[place], marks)
        by = tr(" by {readable_line}", readable_line=readable_line(mark.by)) if mark.by else ""
        span = tr(", held to the end") if mark.open else ""
        if mark.pointlike:
            span = tr(", end unknown") if mark.label == CONTACT else ""
        if mark.end_ns is not None:
            span = tr(" for {end:.1f} s", end=(mark.end_ns - mark.begin_ns) * rate / NS_PER_S)
        what = f"{readable_line(mark.label)}{by}{span}"
        when = when_text(mark.begin_ns, timeline, clock)
        yield f"  {place + 1:>3}  {when:>23}  {what}  ({readable_line(held)})"


def _counts_with(place: int, one: Counted, marks: Sequence[records.MarkRecord]) -> str:
    """Return where a mark came from that several scribes made, and what it counts with."""
    source, is_counted = source_text(marks[place].source), marks[place].label == one.mark.label
    others = [other for other in one.places if other != place]
    if is_counted:
        numbers = ", ".join(str(other + 1) for other in others)
        return tr("{source}, counts once with {others}", source=source, others=numbers)
    less = ", ".join(str(other + 1) for other in others if marks[other].label == one.mark.label)
    return tr("{source}, not counted: {others} says less of the same moment", source=source, others=less)


def source_text(source: str) -> str:
    """Return where a mark came from in people's words.

    >>> [source_text(source) for source in ("key 7", "key pad.driver.6", "board 2", "later", "key page_up")]
    ['by key 7', 'by button 6 of the driver', 'by board 2', 'added later', 'by key page up']
    """
    number = board_number(source)
    if number is not None:
        return tr("by board {number}", number=number)
    key = source.removeprefix(key_source(""))
    if key != source:
        named = readable(key)
        return tr("by {button}", button=named) if key.startswith("pad.") else tr("by key {key}", key=named)
    if source.partition(" ")[0] == PAGE:
        return tr("on the page")
    return tr(_SOURCES[source]) if source in _SOURCES else source


def _shared_ns(journal: Journal, text: str) -> int:
    try:
        point: Point = locate_given(text, _timeline(journal))
    except MomentError as error:
        hint = (
            tr("did you mean {readings}?", readings=" or ".join(error.readings)) if error.readings
            else error.expected
        )
        raise UsageError(tr("'{text}' is not in this match", text=text), hint=hint) from error
    at_ns = _origin(journal, point.anchor).real_ns(point.offset_ns)
    return ClockHistory(journal.records).with_holds(at_ns)


def _origin(journal: Journal, anchor: str) -> Origin:
    found = next((origin for origin in ClockHistory(journal.records).newest() if origin.anchor == anchor), None)
    if found is None:
        raise UsageError(
            tr("{anchor} never began in this run", anchor=anchor), hint=tr("take a moment of a part that was played"),
        )
    return found


def _timeline(journal: Journal) -> Timeline:
    if journal.header.timeline is None:
        raise JournalError(
            tr("{path}: the header has no timeline", path=journal.path), hint=tr("take a run of this version"),
        )
    return journal.header.timeline


def _append(journal: Journal, marks: Sequence[records.MarkRecord]) -> None:
    writer = JournalWriter.reopen(journal.path.parent)
    for mark in marks:
        writer.append(mark)
    if failed := writer.close():
        raise JournalError(f"{journal.path}: {failed}")
