"""Find what may be said to come in a match: words of cues, windows, periods. Pure."""

from collections.abc import Iterator
from typing import NamedTuple

from tocsin.model.plan import Role
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_REPEAT_NS = 10 * NS_PER_S             # equal words closer to each other than this are one thing to come


class Landmark(NamedTuple):
    """What may be said to come: where, what, in which variant or any; the number of the firing if it is a cue's."""

    point: Point
    what: str
    when: str = ""
    no: int | None = None


def landmarks(timeline: Timeline) -> Iterator[Landmark]:
    """Yield what may be said to come; among equal places the first one counts."""
    last = timeline.periods[-1] if timeline.periods else None
    end = Point(last.anchor, last.end_ns) if last is not None and last.end_ns is not None else None
    yield from _words(timeline)
    for span in timeline.windows:
        yield Landmark(span.begin, span.title)
    for slot in timeline.periods:
        what = tr("End of the match") if slot.kind == "settle" else slot.title
        yield Landmark(Point(slot.anchor, slot.begin_ns), what)
    for span in timeline.windows:
        if span.end != end:
            yield Landmark(span.end, tr("{title} ends", title=span.title))
    if end is not None and last is not None and last.kind != "settle":
        yield Landmark(end, tr("End of the match"))


def _words(timeline: Timeline) -> Iterator[Landmark]:
    """Yield the words of the cues; of equal words close together only one: the most important, or else the first.

    What only the coach's pad feels is a prompt to the coach: counted down, it would push out what the drivers await.
    """
    prompts = _prompts(timeline)
    seen = [firing for firing in timeline.firings if firing.channel == "screen"] or list(timeline.firings)
    seen = [firing for firing in seen if firing.cue not in prompts]
    said: list[Firing] = []
    for firing in sorted(seen, key=lambda f: (-f.priority, f.no)):
        if firing.word and firing.match_ns is not None and not any(_repeats(firing, other) for other in said):
            said.append(firing)
    for firing in sorted(said, key=lambda f: f.no):
        yield Landmark(firing.begin, firing.word.upper(), firing.when, firing.no)


def _prompts(timeline: Timeline) -> set[str]:
    roles: dict[str, set[Role | None]] = {}
    for firing in timeline.firings:
        if firing.channel == "rumble":
            roles.setdefault(firing.cue, set()).add(firing.role)
    return {cue for cue, felt in roles.items() if felt == {"coach"}}


def _repeats(firing: Firing, other: Firing) -> bool:
    near = abs((firing.match_ns or 0) - (other.match_ns or 0)) < _REPEAT_NS
    return near and firing.word == other.word and (firing.when == other.when or not (firing.when and other.when))
