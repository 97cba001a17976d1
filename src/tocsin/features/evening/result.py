"""What an evening came to: at most ten lines, of what was counted and clean a drill and crew, and what is left open."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

import msgspec

from tocsin.errors import BrokenRunError
from tocsin.features.records.round_files import REPEATED
from tocsin.features.records.rows import RunRow
from tocsin.features.records.run_list import session_rows
from tocsin.journal.tonight import PlannedDrill, Tonight
from tocsin.model.display.round_picture import SHAPES, Shape
from tocsin.translation import tr, trn

_MOST_DRILLS = 3                       # a line each; with heading, what is open, devices, sentence, pictures, end: ten
_MOST_OPEN = 4


class CrewResult(msgspec.Struct, frozen=True, kw_only=True):
    """A crew's rounds of one drill: ``shapes`` in their order, how many were ``counted``, ``clean`` of these, or cannot
    be told (``open``), and how many are ``left`` to play. ``people`` are keys by role; ``seconds`` stand in the order
    of the shapes: to spare (below 0: too late), else ``turn`` and how long that took, empty where nothing was noted."""

    crew: str
    shapes: tuple[Shape, ...]
    counted: int
    clean: int
    open: int
    left: int
    people: dict[str, str] = {}
    seconds: tuple[str, ...] = ()

    def named(self, names: Mapping[str, str]) -> str:
        """Return the crew with those of its people whose names are known, ``names`` by key."""
        known = ", ".join(names[key] for key in self.people.values() if key in names)
        if known:
            return tr("crew {crew} ({people})", crew=self.crew, people=known)
        return tr("crew {crew}", crew=self.crew)


class DrillResult(msgspec.Struct, frozen=True, kw_only=True):
    """A drill of the evening, crew by crew; no crew if it was not begun."""

    title: str
    state: str
    key: str
    crews: tuple[CrewResult, ...] = ()


class EveningResult(msgspec.Struct, frozen=True, kw_only=True):
    """An evening: its day where this laptop is, the project, the drills, the devices that nobody confirmed. The
    ``sentence`` and the ``page`` are those of its review, ``picture`` shows all drills; empty where there is none."""

    day: str
    project: str
    drills: tuple[DrillResult, ...]
    unconfirmed: tuple[str, ...]
    picture: str = ""
    sentence: str = ""
    page: str = ""


def result_of(tonight: Tonight, runs: Path, say: Callable[[str], None], confirmed: str) -> EveningResult:
    """Return what an evening's rounds came to, by their journals; ``say`` is told of those that cannot be read. Raises
    JournalError."""

    def broken(error: BrokenRunError) -> None:
        say(error.line)

    drills = []
    for planned in tonight.drills:
        begun = planned.state in ("on", "done") or any(planned.played.values())
        found = session_rows(runs, planned.key, broken) if begun else None
        rows = [row for row in found.rows if row.outcome == "over"] if found else []
        crews = sorted({row.crew for row in rows} | (set(tonight.roster) if rows else set()))
        results = tuple(_crew(crew, rows, planned, tonight.roster.get(crew, {})) for crew in crews)
        drills.append(DrillResult(title=planned.title, state=planned.state, key=planned.key, crews=results))
    day = datetime.fromisoformat(tonight.began).astimezone().date().isoformat()
    unconfirmed = tuple(f"{name} ({what})" for name, what in tonight.devices.items() if what != confirmed)
    return EveningResult(day=day, project=tonight.project, drills=tuple(drills), unconfirmed=unconfirmed)


def _crew(crew: str, rows: Sequence[RunRow], planned: PlannedDrill, people: dict[str, str]) -> CrewResult:
    own = [row for row in rows if row.crew == crew]
    counted = [row for row in own if row.counted]
    played = {row.round for row in own if row.taken_out != REPEATED}
    return CrewResult(
        crew=crew,
        shapes=tuple(map(_shape, own)),
        counted=len(counted),
        clean=sum(row.clean is True for row in counted),
        open=sum(row.clean is None for row in counted),
        left=max(0, planned.rounds - len(played)),
        people=(own[-1].people if own else {}) or people,
        seconds=tuple(map(_seconds, own)),
    )


def _seconds(row: RunRow) -> str:
    margin_s = row.home_margin_s if row.break_off_margin_s is None else row.break_off_margin_s
    if margin_s is not None:
        return f"{margin_s:+.1f}"
    return "" if row.turn_s is None else tr("turn {turn:.1f}", turn=row.turn_s)


def each_once(drills: Iterable[DrillResult]) -> list[DrillResult]:
    """Return each drill once, its repeats of the evening put together, in the order of the first of each."""
    found: dict[str, list[DrillResult]] = {}
    for drill in drills:
        found.setdefault(drill.title, []).append(drill)
    return [_together(parts) for parts in found.values()]


def _together(parts: list[DrillResult]) -> DrillResult:
    letters = sorted({crew.crew for part in parts for crew in part.crews})
    crews = tuple(_summed([crew for part in parts for crew in part.crews if crew.crew == one]) for one in letters)
    begun = next((part for part in parts if part.crews), parts[0])
    return msgspec.structs.replace(begun, crews=crews)


def _summed(parts: list[CrewResult]) -> CrewResult:
    return msgspec.structs.replace(
        parts[-1],
        shapes=tuple(shape for part in parts for shape in part.shapes),
        counted=sum(part.counted for part in parts),
        clean=sum(part.clean for part in parts),
        open=sum(part.open for part in parts),
        left=sum(part.left for part in parts),
        seconds=tuple(one for part in parts for one in part.seconds),
    )


def _shape(row: RunRow) -> Shape:
    if not row.counted:
        return "open"
    return "question" if row.clean is None else "filled" if row.clean else "cross"


def lines_of(result: EveningResult, names: Mapping[str, str]) -> Iterator[str]:
    """Yield the evening in at most seven lines, the marks of the rounds beside the figures; ``names`` are people's by
    key."""
    crews = [crew for drill in result.drills for crew in drill.crews]
    rounds, counted, clean = (
        sum(len(crew.shapes) for crew in crews), sum(crew.counted for crew in crews), sum(crew.clean for crew in crews),
    )  # fmt: skip
    yield tr(
        "{title}: {rounds}, {counted} counted, {clean} of these clean.", title=evening_title(result),
        rounds=_rounds(rounds), counted=counted, clean=clean,
    )
    drills = each_once(result.drills)
    begun = [drill for drill in drills if drill.crews]
    for drill in begun[:_MOST_DRILLS]:
        yield f"  {drill.title}: " + "; ".join(_crew_text(crew, names) for crew in drill.crews)
    if len(begun) > _MOST_DRILLS:
        yield tr("  and {count} more drills: the picture has them, `tocsin runs` too", count=len(begun) - _MOST_DRILLS)
    left_open = [*_open(drills), *_unclear(result)]
    more = [tr("{count} more", count=len(left_open) - _MOST_OPEN)] if len(left_open) > _MOST_OPEN else []
    yield tr("Left open: {what}.", what="; ".join([*left_open[:_MOST_OPEN], *more]) or tr("nothing"))
    if result.unconfirmed:
        yield tr("Devices that nobody confirmed: {unconfirmed}.", unconfirmed=", ".join(result.unconfirmed))


def evening_title(result: EveningResult) -> str:
    """Return the evening's day and project as a heading."""
    if result.project:
        return tr("Evening of {day}, {project}", day=result.day, project=result.project)
    return tr("Evening of {day}", day=result.day)


def legend() -> str:
    """Return what the marks of rounds mean."""
    meanings: dict[Shape, str] = {
        "filled": tr("clean"), "cross": tr("not clean"), "open": tr("not counted"), "question": tr("not known"),
    }  # fmt: skip
    return ", ".join(f"{SHAPES[shape]} {meaning}" for shape, meaning in meanings.items())


def _crew_text(crew: CrewResult, names: Mapping[str, str]) -> str:
    marks = "".join(SHAPES[shape] for shape in crew.shapes)
    told = (
        tr("{clean} of {counted} clean", clean=crew.clean, counted=crew.counted) if crew.counted
        else tr("none counted")
    )
    known = any(crew.seconds)
    seconds = tr(", seconds to spare {bracketed}", bracketed=" ".join(_bracketed(crew))) if known else ""
    named = crew.named(names)
    return f"{named} {marks} {told}{seconds}" if marks else tr("{named} played no round", named=named)


def _bracketed(crew: CrewResult) -> Iterator[str]:
    """Yield the seconds of the rounds, in brackets those of rounds that were not counted."""
    for shape, seconds in zip(crew.shapes, crew.seconds, strict=False):
        yield f"({seconds or '-'})" if shape == "open" else seconds or "-"


def _open(drills: Iterable[DrillResult]) -> Iterator[str]:
    for drill in drills:
        if drill.state == "skipped":
            yield tr("{title} skipped", title=drill.title)
            continue
        if not drill.crews:
            yield tr("{title} not begun", title=drill.title)
        for crew in drill.crews:
            if crew.left:
                yield tr(
                    "{title}, crew {crew}: {rounds} to play", title=drill.title, crew=crew.crew,
                    rounds=_rounds(crew.left),
                )


def _unclear(result: EveningResult) -> Iterator[str]:
    unclear = [
        f"`tocsin runs --show {drill.key}`" for drill in result.drills if any(c.open for c in drill.crews)
    ]
    if unclear:
        count = sum(crew.open for drill in result.drills for crew in drill.crews)
        yield tr("{rounds} without enough marks ({unclear})", rounds=_rounds(count), unclear=", ".join(unclear))


def _rounds(count: int) -> str:
    return trn("{count} round", "{count} rounds", count)
