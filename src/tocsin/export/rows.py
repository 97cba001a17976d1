"""Arrange a card's calls as rows: grouped by period, repeats folded, variants side by side. Pure.

All readings are the timeline's own, as ``sheet`` has them; nothing is worked out anew here.
"""

from collections.abc import Iterable, Sequence
from itertools import groupby

import msgspec

from tocsin.export.drawing.fitting import NOBREAK
from tocsin.export.occurrences import CueOccurrence, calls, display_in_words, place, shown_at
from tocsin.export.source import Source
from tocsin.model.plan import DEFAULT_PRIORITY, Cue
from tocsin.model.timeline.point import PeriodSlot, Point
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

BY_HAND = tr("by hand")
AT_MARK = tr("at mark")
FELT = tr("felt on pads only")                  # of use where a robot's program shakes them; there is no word to call


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """What is called in one cell of a row. ``cue`` is the cue's id; ``only`` names the variant if there is no column
    for it."""

    word: str
    roles: str
    why: str
    only: str = ""
    cue: str = ""


class CardRow(msgspec.Struct, frozen=True, kw_only=True):
    """One reading of the display and what is called then.

    One entry stands for all variants; else there is one a column, None where nothing is called. ``large`` rows have a
    word for people. ``important`` ones have the highest priority of the plan, if that is above the ordinary.
    """

    reading: str
    note: str
    entries: tuple[Entry | None, ...]
    large: bool
    important: bool
    priority: int

    @property
    def name(self) -> str:
        """The row in few words, for the list of what was left out."""
        words = dict.fromkeys(entry.word for entry in self.entries if entry is not None)
        return f"{self.reading} {'/'.join(words)}".replace(NOBREAK, " ")


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """Rows under a heading, which is empty where the game has one period only. ``continued`` heads what is left of them
    at the top of a further column."""

    heading: str
    continued: str
    rows: tuple[CardRow, ...]


class Content(msgspec.Struct, frozen=True, kw_only=True):
    """All words of a card. ``columns`` are the variants' titles, none if no call depends on them."""

    title: str
    rules: str
    columns: tuple[str, ...]
    groups: tuple[Group, ...]

    @property
    def rows(self) -> tuple[CardRow, ...]:
        """All rows, in order."""
        return tuple(row for group in self.groups for row in group.rows)

    @property
    def strings(self) -> tuple[str, ...]:
        """All texts that people wrote."""
        entries = (entry for row in self.rows for entry in row.entries if entry is not None)
        headings = (group.heading for group in self.groups)
        return (self.title, *self.columns, *headings, *(text for entry in entries for text in (entry.word, entry.why)))


class _Occurrences(msgspec.Struct, frozen=True, kw_only=True):
    """Occurrences of one cue that make one row: a single one, or repeats."""

    cue: Cue
    calls: tuple[CueOccurrence, ...]
    begin: Point
    last: Point
    order: tuple[int, int]

    @property
    def is_large(self) -> bool:
        return bool(self.cue.say)


def content(source: Source, most_columns: int) -> Content:
    """Return the words of a card on which ``most_columns`` variants have room side by side."""
    runs = _runs(source)
    named = {run.cue.when for run in runs if run.cue.when}
    variants = source.game.variants if named and len(source.game.variants) <= most_columns else ()
    groups = tuple(
        Group(
            heading=heading, continued=continued,
            rows=_rows(source, list(members), tuple(variant.id for variant in variants)),
        )
        for (heading, continued), members in groupby(runs, lambda run: _headings(source, run))
    )
    return Content(
        title=source.title,
        rules=_rules(source, any(row.important for group in groups for row in group.rows)),
        columns=tuple(variant.title for variant in variants),
        groups=groups,
    )


# -- runs: one a row ----------------------------------------------------------------------------------------------


def _runs(source: Source) -> list[_Occurrences]:
    begins = {(firing.cue, firing.n): firing.begin for firing in source.timeline.firings}
    ranks = {segment.anchor: rank for rank, segment in enumerate(source.timeline.segments)}
    cues = {cue.id: cue for cue in source.plan.cues}
    by_cue: dict[str, list[CueOccurrence]] = {}
    for call in calls(source):
        by_cue.setdefault(call.cue, []).append(call)
    runs = []
    for cue_id, given in by_cue.items():
        for part in _folded(given, [begins[call.cue, call.n] for call in given], cues[cue_id].every_ns):
            begin, last = (begins[call.cue, call.n] for call in (part[0], part[-1]))
            order = (ranks.get(begin.anchor, len(ranks) + begin.anchor.startswith("call.")), begin.offset_ns)
            runs.append(_Occurrences(cue=cues[cue_id], calls=part, begin=begin, last=last, order=order))
    places = {cue.id: at for at, cue in enumerate(source.plan.cues)}
    return sorted(runs, key=lambda run: (run.order, not run.is_large, places[run.cue.id]))


def _folded(
    given: Sequence[CueOccurrence], begins: Sequence[Point], every_ns: int | None
) -> list[tuple[CueOccurrence, ...]]:
    """Return the occurrences with repeats put together that follow each other by ``every_ns`` in one period."""
    parts: list[list[CueOccurrence]] = []
    for at, (call, begin) in enumerate(zip(given, begins, strict=True)):
        follows = (
            at > 0
            and every_ns is not None
            and begin == Point(begins[at - 1].anchor, begins[at - 1].offset_ns + every_ns)
            and (call.period, bool(call.shown)) == (given[at - 1].period, bool(given[at - 1].shown))
        )
        if follows:
            parts[-1].append(call)
        else:
            parts.append([call])
    return [tuple(part) for part in parts]


# -- rows ---------------------------------------------------------------------------------------------------------


def _rows(source: Source, runs: Iterable[_Occurrences], columns: Sequence[str]) -> tuple[CardRow, ...]:
    rows: list[CardRow] = []
    keys: list[tuple[Point, Point] | None] = []
    for run in runs:
        row = _row(source, run, columns)
        key = (run.begin, run.last) if run.cue.when and columns else None
        at = next((n for n, known in enumerate(keys) if key is not None and known == key and _free(rows[n], row)), None)
        if at is None:
            rows.append(row)
            keys.append(key)
        else:
            rows[at] = _together(rows[at], row)
    return tuple(rows)


def _row(source: Source, run: _Occurrences, columns: Sequence[str]) -> CardRow:
    cue, first = run.cue, run.calls[0]
    top = max(other.priority for other in source.plan.cues)
    by_hand = run.begin.anchor.startswith("call.")
    elsewhere = by_hand and bool(cue.at)
    titles = {variant.id: variant.title for variant in source.game.variants}
    entry = Entry(
        word=first.word,
        roles=", ".join(map(tr, cue.roles)),
        why="" if elsewhere else cue.why,
        only="" if columns else titles.get(cue.when, ""),
        cue=cue.id,
    )
    reading, note = _reading(source, run)
    if set(cue.patterns) == {"rumble"} and not cue.say:
        note = _joined(note, FELT)
    important = cue.priority == top > DEFAULT_PRIORITY
    return CardRow(
        reading=reading,
        note=note,
        entries=tuple(entry if column == cue.when else None for column in columns)
        if cue.when and columns else (entry,),
        large=(run.is_large or important) and not by_hand,
        important=important,
        priority=cue.priority,
    )  # fmt: skip


def _free(row: CardRow, other: CardRow) -> bool:
    return all(mine is None or theirs is None for mine, theirs in zip(row.entries, other.entries, strict=True))


def _together(row: CardRow, other: CardRow) -> CardRow:
    return msgspec.structs.replace(
        row,
        entries=tuple(mine or theirs for mine, theirs in zip(row.entries, other.entries, strict=True)),
        large=row.large or other.large,
        important=row.important or other.important,
        priority=max(row.priority, other.priority),
    )


def _reading(source: Source, run: _Occurrences) -> tuple[str, str]:
    """Return the text at a row's left, and the remark about it."""
    each = tr("each {every}", every=_every(run.cue.every_ns)) if run.cue.every_ns and len(run.calls) > 1 else ""
    if run.begin.anchor.startswith("call."):
        return BY_HAND, tr("when needed")
    if place(source.timeline, run.begin) is None:
        mark = run.begin.anchor.removeprefix("mark.")
        reading = _span(_since(run.begin.offset_ns), _since(run.last.offset_ns))
        return (AT_MARK if run.last.offset_ns == 0 else reading), _joined(tr("after the mark {mark}", mark=mark), each)
    if run.calls[0].shown:
        return _span(run.calls[0].shown, run.calls[-1].shown), each
    reading = _span(_since(run.calls[0].offset_ns), _since(run.calls[-1].offset_ns))
    return reading, _joined(tr("after it begins"), each)


def _since(offset_ns: int) -> str:
    """Return the seconds since something, to a tenth, which people read off a stop-watch: never later than they are."""
    whole_s, tenth = divmod(offset_ns // (NS_PER_S // 10), 10)
    return f"+{whole_s}.{tenth}s" if tenth else f"+{whole_s}s"


def _span(first: str, last: str) -> str:
    return first if first == last else tr("{first} to{nobreak}{last}", first=first, nobreak=NOBREAK, last=last)


def _every(every_ns: int) -> str:
    text = format_clock(every_ns)
    return "second" if text == "1s" else text


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


# -- headings and rules -------------------------------------------------------------------------------------------


def _headings(source: Source, run: _Occurrences) -> tuple[str, str]:
    """Return the heading of a run's period and that of its further columns; nothing for what hangs on a mark or a call.

    The end of the match belongs to the period that ends there, not to the settle that follows.
    """
    timeline = source.timeline
    found = place(timeline, run.begin)
    if found is None:
        return "", ""
    played = [slot for slot in timeline.periods if slot.kind != "settle"]
    if len(played) == 1:
        return "", ""
    slot = found[0] if found[0].kind != "settle" else played[-1]
    return _joined(slot.title, _from(source, slot)), _joined(slot.title, "continued")


def _from(source: Source, slot: PeriodSlot) -> str:
    shown = shown_at(source.timeline, Point(slot.anchor, slot.begin_ns))
    return tr("from {shown}", shown=shown) if shown else tr("no time limit")


def _rules(source: Source, marks: bool) -> str:
    """Return in words what the display shows and how to read the card."""
    bar = tr(" Bar and bold: what matters most.") if marks else ""
    return tr(
        "{display_in_words} When it shows a time at the left, call its word to those named.{bar}",
        display_in_words=display_in_words(source.timeline), bar=bar,
    )
