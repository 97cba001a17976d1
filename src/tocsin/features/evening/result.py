"""What an evening came to: at most ten lines, of what was counted and clean a drill and crew, and what is left open."""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin.errors import BrokenRunError
from tocsin.features.records.rows import RunRow
from tocsin.features.records.run_list import session_rows
from tocsin.journal.tonight import PlannedDrill, Tonight
from tocsin.model.display.round_picture import SHAPES, Shape

_MOST_DRILLS = 4                       # a line each; with heading, what is open, devices, picture, list: ten
_MOST_OPEN = 4


class CrewResult(msgspec.Struct, frozen=True, kw_only=True):
    """A crew's rounds of one drill: ``shapes`` in their order, how many were ``counted``, ``clean`` of these, or cannot
    be told (``open``), and how many are ``left`` to play."""

    crew: str
    shapes: tuple[Shape, ...]
    counted: int
    clean: int
    open: int
    left: int


class DrillResult(msgspec.Struct, frozen=True, kw_only=True):
    """A drill of the evening, crew by crew; no crew if it was not begun."""

    title: str
    state: str
    key: str
    crews: tuple[CrewResult, ...] = ()


class EveningResult(msgspec.Struct, frozen=True, kw_only=True):
    """An evening: its day where this laptop is, the project, the drills, the devices that nobody confirmed."""

    day: str
    project: str
    drills: tuple[DrillResult, ...]
    unconfirmed: tuple[str, ...]
    picture: str = ""


def result_of(tonight: Tonight, runs: Path, say: Callable[[str], None], confirmed: str) -> EveningResult:
    """Return what an evening's rounds came to, by their journals; ``say`` is told of those that cannot be read. Raises
    JournalError."""

    def broken(error: BrokenRunError) -> None:
        say(error.line)

    drills = []
    for planned in tonight.drills:
        found = None if planned.state in ("to come", "skipped") else session_rows(runs, planned.key, broken)
        rows = found.rows if found else ()
        crews = sorted({row.crew for row in rows} | (set(tonight.roster) if rows else set()))
        results = tuple(_crew(crew, rows, planned) for crew in crews)
        drills.append(DrillResult(title=planned.title, state=planned.state, key=planned.key, crews=results))
    day = datetime.fromisoformat(tonight.began).astimezone().date().isoformat()
    unconfirmed = tuple(f"{name} ({what})" for name, what in tonight.devices.items() if what != confirmed)
    return EveningResult(day=day, project=tonight.project, drills=tuple(drills), unconfirmed=unconfirmed)


def _crew(crew: str, rows: Sequence[RunRow], planned: PlannedDrill) -> CrewResult:
    own = [row for row in rows if row.crew == crew and row.outcome == "over"]
    counted = [row for row in own if row.counted]
    played = {row.round for row in own}
    return CrewResult(
        crew=crew,
        shapes=tuple(map(_shape, own)),
        counted=len(counted),
        clean=sum(row.clean is True for row in counted),
        open=sum(row.clean is None for row in counted),
        left=max(0, planned.rounds - len(played)),
    )


def _shape(row: RunRow) -> Shape:
    if not row.counted:
        return "open"
    return "question" if row.clean is None else "filled" if row.clean else "cross"


def lines_of(result: EveningResult) -> Iterator[str]:
    """Yield the evening in at most eight lines, the marks of the rounds beside the figures."""
    crews = [crew for drill in result.drills for crew in drill.crews]
    rounds, counted, clean = (
        sum(len(crew.shapes) for crew in crews), sum(crew.counted for crew in crews), sum(crew.clean for crew in crews),
    )  # fmt: skip
    head = f"Evening of {result.day}{f', {result.project}' if result.project else ''}"
    yield f"{head}: {_rounds(rounds)}, {counted} counted, {clean} of these clean."
    begun = [drill for drill in result.drills if drill.crews]
    for drill in begun[:_MOST_DRILLS]:
        yield f"  {drill.title}: " + "; ".join(map(_crew_text, drill.crews))
    if len(begun) > _MOST_DRILLS:
        yield f"  and {len(begun) - _MOST_DRILLS} more drills: the picture has them, `tocsin runs` too"
    left_open = list(_open(result))
    more = [f"{len(left_open) - _MOST_OPEN} more"] if len(left_open) > _MOST_OPEN else []
    yield f"Left open: {'; '.join([*left_open[:_MOST_OPEN], *more]) or 'nothing'}."
    if result.unconfirmed:
        yield f"Devices that nobody confirmed: {', '.join(result.unconfirmed)}."


def legend() -> str:
    """Return what the marks of rounds mean."""
    meanings: dict[Shape, str] = {
        "filled": "clean", "cross": "not clean", "open": "not counted", "question": "cannot be told",
    }  # fmt: skip
    return ", ".join(f"{SHAPES[shape]} {meaning}" for shape, meaning in meanings.items())


def _crew_text(crew: CrewResult) -> str:
    marks = "".join(SHAPES[shape] for shape in crew.shapes)
    told = f"{crew.clean} of {crew.counted} clean" if crew.counted else "none counted"
    return f"crew {crew.crew} {marks} {told}" if marks else f"crew {crew.crew} no round"


def _open(result: EveningResult) -> Iterator[str]:
    for drill in result.drills:
        if drill.state == "skipped":
            yield f"{drill.title} skipped"
        elif not drill.crews:
            yield f"{drill.title} not begun"
        for crew in drill.crews:
            if crew.left:
                yield f"{drill.title}, crew {crew.crew}: {_rounds(crew.left)} to play"
    unclear = [f"`tocsin runs --show {drill.key}`" for drill in result.drills if any(c.open for c in drill.crews)]
    if unclear:
        count = sum(crew.open for drill in result.drills for crew in drill.crews)
        yield f"{_rounds(count)} that marks do not tell ({', '.join(unclear)})"


def _rounds(count: int) -> str:
    return f"{count} round{'' if count == 1 else 's'}"
