"""Write the plan as JSON: everything in the timeline, for other programs. ``schema.json`` beside it describes it.

The schema is the contract with those programs: a change of the types here needs the same change there by hand, and a
new ``Format``. ``tests/export/test_schema.py`` compares the two.
"""

from typing import Annotated, Any, Literal, get_args

import msgspec

from tocsin.export.occurrences import CueOccurrence, calls
from tocsin.export.source import CAUTIONS, Source
from tocsin.model.game import Stake, Threshold, Variant
from tocsin.model.pattern import Patterns
from tocsin.model.plan import CHANNELS
from tocsin.model.timeline.point import PeriodSlot, Point, Segment, WindowSpan
from tocsin.model.timeline.timeline import Firing

Format = Literal["tocsin-export/2"]

Sha256 = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$", description="SHA-256 of the file's text in UTF-8")]


class WindowFacts(msgspec.Struct, frozen=True, kw_only=True):
    """One span of a window: ``[begin, end)``. ``n`` counts the window's spans from 0. Moments in the files of plan and
    game count them from 1: ``door.2`` is the span of ``door`` whose ``n`` is 1."""

    id: str
    n: int
    title: str
    begin: Point
    end: Point


class GameFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The game: how the official display rounds and what it counts; periods placed in segments, windows in spans."""

    name: str
    sha256: Sha256
    digits: Literal["ceil", "floor"]
    counts: Literal["period", "match"]
    segments: tuple[Segment, ...]
    periods: tuple[PeriodSlot, ...]
    windows: tuple[WindowFacts, ...]
    variants: tuple[Variant, ...]
    stakes: tuple[Stake, ...]
    thresholds: tuple[Threshold, ...]


class PlanFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The plan: the language of its words (a BCP 47 tag), leads in nanoseconds by id, and the patterns that its firings
    use, by channel and id."""

    name: str
    sha256: Sha256
    language: str
    leads_ns: dict[str, int]
    patterns: Patterns


class PlanDocument(msgspec.Struct, frozen=True, kw_only=True):
    """A plan compiled in its game. All times are integer nanoseconds; intervals are half open; ``n`` counts from 0
    everywhere. The nominal match time of a point is its ``offset_ns`` and the ``match_ns`` of the segment of its anchor
    together.

    ``calls`` are for people (one an occurrence of a cue), ``firings`` for devices (one a channel and role), both in
    order; those that hang on marks and calls by hand stand last.
    """

    format: Format
    made_by: str
    cautions: tuple[str, ...]
    game: GameFacts
    plan: PlanFacts
    calls: tuple[CueOccurrence, ...]
    firings: tuple[Firing, ...]


def document(source: Source) -> PlanDocument:
    """Return all facts of the JSON document."""
    timeline = source.timeline
    return PlanDocument(
        format=get_args(Format)[0],
        made_by=source.origin_lines[0],
        cautions=CAUTIONS,
        game=GameFacts(
            name=timeline.game,
            sha256=source.game_sha256,
            digits=timeline.digits,
            counts=timeline.counts,
            segments=timeline.segments,
            periods=timeline.periods,
            windows=tuple(_window(span) for span in timeline.windows),
            variants=source.game.variants,
            stakes=source.game.stakes,
            thresholds=source.game.thresholds,
        ),
        plan=PlanFacts(
            name=timeline.plan,
            sha256=source.plan_sha256,
            language=source.plan.language,
            leads_ns=timeline.leads,
            patterns=_used(source),
        ),
        calls=calls(source),
        firings=timeline.firings,
    )


def json_text(source: Source) -> str:
    """Return the plan as JSON text, indented, with a line break at its end."""
    return msgspec.json.format(msgspec.json.encode(document(source)), indent=1).decode() + "\n"


def _window(span: WindowSpan) -> WindowFacts:
    return WindowFacts(id=span.id, n=span.n - 1, title=span.title, begin=span.begin, end=span.end)


def _used(source: Source) -> Patterns:
    used: dict[str, dict[str, Any]] = {}
    for channel in CHANNELS:
        names = {firing.pattern for firing in source.timeline.firings if firing.channel == channel}
        known = getattr(source.plan.patterns, channel)
        used[channel] = {name: known[name] for name in sorted(names)}
    return Patterns(**used)
