"""When the cues of a plan occur, those that announce others with these; and what is wrong with how they announce."""

from collections.abc import Sequence

from tocsin.model import diagnostics as code
from tocsin.model.announcing import announced_by
from tocsin.model.compiler.occurrences import CueMoments, Occurrence
from tocsin.model.diagnostics import Diagnostics, listed
from tocsin.model.plan import Cue
from tocsin.model.spelling import only_reading
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.locator import Locator
from tocsin.model.timeline.point import Point
from tocsin.units import format_clock


class CueCalendar:
    """Works out when each cue of a plan occurs, once each: a cue that is announced is asked for by several."""

    def __init__(self, cues: Sequence[Cue], ground: Ground, locator: Locator, found: Diagnostics) -> None:
        self._cues = cues
        self._ground = ground
        self._locator = locator
        self._found = found
        self._announced = announced_by(cues)
        self._places = {cue.id: index for index, cue in reversed(list(enumerate(cues)))}
        self._known: dict[int, list[Occurrence]] = {}

    def occurrences(self, index: int) -> list[Occurrence]:
        """Return the occurrences of a cue in the order in which they come; none if what it announces is a mistake."""
        cue = self._cues[index]
        if not cue.announces:
            return self._own(index)
        if cue.id not in self._announced or not cue.ahead_ns:
            return []
        announced, ahead_ns = self._announced[cue.id]
        given: list[Occurrence] = []
        for occurrence in self._own(self._places[announced.id]):
            begin = occurrence.begin
            if begin.anchor == f"call.{announced.id}":
                continue                           # nobody knows ahead when somebody will call
            point = Point(begin.anchor, begin.offset_ns - ahead_ns)
            problem = self._locator.misplaced(f"{cue.announces} - {format_clock(cue.ahead_ns)}", point)
            if problem is not None:
                self._found.add(problem.code, "plan", ("cue", index, "ahead"), span=problem.span, **problem.facts)
                return []
            given.append(Occurrence(begin=point))
        return given

    def _own(self, index: int) -> list[Occurrence]:
        if index not in self._known:
            moments = CueMoments(self._cues[index], index, self._ground, self._locator, self._found)
            self._known[index] = moments.occurrences()
        return self._known[index]


def check_announcing(cues: Sequence[Cue], found: Diagnostics) -> None:
    """Report every cue that announces nothing, itself, or what nobody knows ahead, or that has moments of its own."""
    by_id = {cue.id: cue for cue in reversed(cues)}
    announced = announced_by(cues)
    told: set[str] = set()
    for index, cue in enumerate(cues):
        if not cue.announces:
            if cue.ahead_ns is not None:
                found.add(code.AHEAD_OF_NOTHING, "plan", ("cue", index, "ahead"), name=cue.id)
            continue
        path = ("cue", index, "announces")
        if cue.ahead_ns is None:
            found.add(code.NO_AHEAD, "plan", ("cue", index), name=cue.id, other=cue.announces)
        if cue.announces == cue.id:
            found.add(code.ANNOUNCES_ITSELF, "plan", path, name=cue.id)
        elif cue.announces not in by_id:
            known = [one for one in by_id if one != cue.id]
            likely = only_reading(cue.announces, known)
            found.add(code.UNKNOWN_CUE, "plan", path, name=cue.announces, likely=likely, expected=listed(known))
        elif cue.id in announced:
            other = announced[cue.id].cue
            if other.callable and not other.at:
                found.add(code.ANNOUNCES_CALL, "plan", path, name=cue.id, other=other.id)
        elif cue.id not in told:
            way = _circle(cue, by_id)
            told.update(way)
            if way:
                found.add(code.ANNOUNCE_CIRCLE, "plan", path, name=cue.id, way=" -> ".join([*way, way[0]]))
        _check_own(cue, index, announced[cue.id].cue if cue.id in announced else cue, found)


def _circle(cue: Cue, by_id: dict[str, Cue]) -> list[str]:
    """Return the ids of a circle of several cues that this one is on, or nothing."""
    way = [cue.id]
    at = by_id.get(cue.announces)
    while at is not None and at.announces and at.id not in way:
        way.append(at.id)
        at = by_id.get(at.announces)
    return way if at is not None and at.id == cue.id and len(way) > 1 else []


def _check_own(cue: Cue, index: int, announced: Cue, found: Diagnostics) -> None:
    """Report what a cue that announces another says of when it comes itself."""
    own = {
        "at": bool(cue.at), "until": bool(cue.until), "callable": cue.callable,
        "every": cue.every_ns not in (None, announced.every_ns), "when": cue.when not in ("", announced.when),
    }  # fmt: skip
    for key, is_said in own.items():
        if is_said:
            found.add(code.OWN_MOMENT, "plan", ("cue", index, key), name=cue.id, other=cue.announces, key=key)
