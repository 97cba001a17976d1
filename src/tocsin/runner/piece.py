"""A piece: what is played in one match."""

from typing import Any, NamedTuple

from tocsin.config.load import Loaded
from tocsin.model.pattern import Patterns
from tocsin.model.plan import Plan
from tocsin.model.timeline.timeline import Point, Timeline


class Piece(NamedTuple):
    """One match: the files that it is of, its timeline, from which point on; what its journal's header says of it
    beside the options.

    ``behind_ns`` is how long after the count-in's last beat the clock begins. ``plan`` is that whose words are spoken,
    None where none are. ``begins`` is where on the match clock people see it begin, if that is not where it does.
    """

    files: Loaded
    timeline: Timeline
    patterns: Patterns
    at: Point
    facts: dict[str, Any]
    behind_ns: int = 0
    plan: Plan | None = None
    begins: Point | None = None
