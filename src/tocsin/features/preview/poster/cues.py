"""What a poster says of each cue, and whose sheet it stands on. Pure."""

import msgspec

from tocsin.export.drawing.fitting import NOBREAK
from tocsin.export.occurrences import shown_at
from tocsin.export.rows import CardRow, content
from tocsin.export.source import Source
from tocsin.model.plan import Cue
from tocsin.model.timeline.timeline import Firing
from tocsin.translation import tr
from tocsin.units import format_clock

DRIVERS_MOST = 3                       # cues on the drivers' sheet: more are not learnt, nor told apart in a push
_WHOLE = 34                            # letters that have room on any line
_DRIVERS = {"driver", "operator"}


class PosterCue(msgspec.Struct, frozen=True, kw_only=True):
    """A cue as people read of it. ``firings`` are those of its first occurrence, one a channel; ``count`` is how often
    it comes on the screen."""

    cue: Cue
    word: str
    reading: str
    about: str
    why: str
    firings: tuple[Firing, ...]
    count: int


class Crew(msgspec.Struct, frozen=True, kw_only=True):
    """Whose sheets they are, and the cues on them in order."""

    title: str
    cues: tuple[PosterCue, ...]


def crews(source: Source) -> tuple[Crew, ...]:
    """Return the drivers' cues of the highest priority, three at most, those that are for the driver before those for
    the operator alone; and then all others, for the coach."""
    found = _cues(source)
    theirs = [number for number, item in enumerate(found) if _DRIVERS & set(item.cue.roles)]

    def rank(number: int) -> tuple[bool, int, int]:
        return "driver" not in found[number].cue.roles, -found[number].cue.priority, number

    first = set(sorted(theirs, key=rank)[:DRIVERS_MOST])
    sheets = (
        Crew(title=tr("Drivers"), cues=tuple(found[number] for number in sorted(first))),
        Crew(title=tr("Coach"), cues=tuple(item for number, item in enumerate(found) if number not in first)),
    )
    return tuple(crew for crew in sheets if crew.cues)


def _cues(source: Source) -> list[PosterCue]:
    """Return all cues that come, in the order of the match."""
    rows: dict[str, list[tuple[str, CardRow]]] = {}
    for group in content(source, 0).groups:
        for row in group.rows:
            for entry in row.entries:
                if entry is not None:
                    rows.setdefault(entry.cue, []).append((group.heading, row))
    cues = {cue.id: cue for cue in source.plan.cues}
    return [_cue(source, cues[cue], given) for cue, given in rows.items()]


def _cue(source: Source, cue: Cue, rows: list[tuple[str, CardRow]]) -> PosterCue:
    heading, first = rows[0]
    of_cue = [firing for firing in source.timeline.firings if firing.cue == cue.id]
    firings = {firing.channel: firing for firing in reversed(of_cue)}
    entry = next(entry for entry in first.entries if entry is not None)
    until = next((firing.until for firing in of_cue if firing.until is not None), None)
    shown = shown_at(source.timeline, until) if until is not None else ""
    about = (
        tr("for {roles}", roles=entry.roles),
        heading,
        first.note,
        tr("until {shown}", shown=shown) if shown else "",
        tr("only if: {only}", only=entry.only) if entry.only else "",
        _also([row for _, row in rows[1:]]),
        *_announcing(source, cue),
    )
    return PosterCue(
        cue=cue, word=entry.word, reading=first.reading.replace(NOBREAK, " "), why=cue.why,
        about=" · ".join(_whole(part) for part in about if part), firings=tuple(firings.values()),
        count=sum(firing.channel == "screen" for firing in of_cue),
    )  # fmt: skip


def _whole(part: str) -> str:
    """Return a part of a sentence that does not break, unless it is long."""
    return part.replace(" ", NOBREAK) if len(part) <= _WHOLE else part


def _also(rows: list[CardRow]) -> str:
    """Return when else the cue comes."""
    readings = dict.fromkeys(row.reading.replace(NOBREAK, " ") for row in rows)
    return tr("also {readings}", readings=", ".join(readings)) if readings else ""


def _announcing(source: Source, cue: Cue) -> list[str]:
    """Return what announces the cue, and what it announces."""
    words = {other.id: other.say or other.id.replace("_", " ").capitalize() for other in source.plan.cues}
    said = []
    if cue.announces:
        said.append(tr("{seconds} before “{words}”", seconds=_seconds(cue.ahead_ns), words=words[cue.announces]))
    for other in source.plan.cues:
        if other.announces == cue.id:
            said.append(tr("“{words}” comes {seconds} before", words=words[other.id], seconds=_seconds(other.ahead_ns)))
    return said


def _seconds(ahead_ns: int | None) -> str:
    return format_clock(ahead_ns or 0).replace("s", " s")
