"""The drills of the evening: chosen for tonight by keys, each played by the programme of a single drill."""

import secrets
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

from tocsin.config.drills import load_drill
from tocsin.errors import INTERRUPTED, TERMINATED, TocsinError
from tocsin.features.devices.tryout.people import EndedError
from tocsin.features.drills.run import new_key, resume_drill, run_drill
from tocsin.features.evening.talk import Say
from tocsin.features.records.round_files import newest_session
from tocsin.features.records.run_list import session_rows
from tocsin.features.review.closing import sentence
from tocsin.journal import records
from tocsin.journal.tonight import DrillState, PlannedDrill, Tonight
from tocsin.model.drill import CREWS
from tocsin.runner.boards.standing import StandingBoards
from tocsin.runner.ending import Ending
from tocsin.runner.options import Roster, RunOptions
from tocsin.translation import tr, trn

OptionsOf = Callable[[str, Roster], RunOptions]
_MARKS = {"to come": " ", "on": ">", "done": "x", "skipped": "-"}
_WORDS = {"to come": tr("to come"), "on": tr("begun"), "done": tr("done"), "skipped": tr("skipped")}


def planned(name: str, options_of: OptionsOf) -> PlannedDrill:
    """Return a drill of tonight, by the name or file that it is started by.

    Raises the errors of loading it: a mistake in a file is told now, and not at its turn.
    """
    options = options_of(name, {})
    drill = load_drill(name, options.rig, next(iter(options.plans), None), options.game, options.shared).drill
    return PlannedDrill(
        name=name, title=drill.name, trains=drill.trains, rounds=drill.rounds, key=new_key(),
        seed=secrets.randbelow(1 << 31),
    )  # fmt: skip


def again(drill: PlannedDrill) -> PlannedDrill:
    """Return the same drill once more, dealt anew."""
    return PlannedDrill(
        name=drill.name, title=drill.title, trains=drill.trains, rounds=drill.rounds, key=new_key(),
        seed=secrets.randbelow(1 << 31),
    )  # fmt: skip


def plan_lines(tonight: Tonight) -> Iterator[str]:
    """Yield the drills of tonight, the next one marked by a word, not by a place alone."""
    yield tr("Drills tonight")
    for number, drill in enumerate(tonight.drills):
        word = tr("next") if number == tonight.place and drill.state == "to come" else _WORDS[drill.state]
        rounds = trn("{count} round", "{count} rounds", drill.rounds)
        mark = ">" if number == tonight.place else _MARKS[drill.state]
        yield tr(
            "{mark} {number}  {word:<8} {title}, {rounds} a crew: {trains}", mark=mark, number=number + 1, word=word,
            title=drill.title, rounds=rounds, trains=drill.trains,
        )
        if drill.state != "done" and any(drill.played.values()):
            yield f"              {played_text(drill)}"


def played_text(drill: PlannedDrill) -> str:
    """Return how many of its rounds each crew has behind it."""
    return ", ".join(
        tr("crew {crew} {count} of {rounds}", crew=crew, count=count, rounds=drill.rounds)
        for crew, count in sorted(drill.played.items())
    )


def look_up(drill: PlannedDrill, runs: Path, crews: Iterable[str]) -> DrillState:
    """Set and return what a drill came to by its journals: it is done once all was played, begun once a round was.

    ``crews`` are those who are there tonight. Raises JournalError.
    """
    past = newest_session(runs, lambda broken: None, drill.key)
    if past is None:
        drill.state = "done" if session_rows(runs, drill.key, lambda broken: None) else "to come"
        drill.played = {}
        return drill.state
    places = past.session.places
    drill.played = {crew: places.get(crew, 0) for crew in {*places, *(crews or CREWS[:1])}}
    drill.state = "on" if any(drill.played.values()) else "to come"
    return drill.state


def play(
    drill: PlannedDrill, options: RunOptions, runs: Path, say: Say, *, json_output: bool,
    boards: StandingBoards | None = None,
) -> int:  # fmt: skip
    """Play a drill, or go on with one that was begun, until its end or until somebody pauses it; return its exit code,
    0 or 1. ``boards`` keep one service through the evening.

    A drill that was played to its end before that was noted is played no more. Raises EndedError for a signal, and the
    errors of ``run_drill``.
    """
    closing = partial(sentence, runs)
    if newest_session(runs, lambda broken: None, drill.key) is not None:
        try:
            summary = resume_drill(
                options.runs, options.roster, say, devices=False, json_output=json_output, key=drill.key, pauses=True,
                closing=closing, board=options.board, boards=boards, rate=options.rate,
            )
        except TocsinError:
            if _has_ended(drill, runs):                # all rounds were played, and only the note was missing
                return 0
            raise
    elif session_rows(runs, drill.key, lambda broken: None) is not None:
        return 0
    else:
        summary = run_drill(
            drill.name, options, drill.seed, say, json_output=json_output, key=drill.key, pauses=True, closing=closing,
            boards=boards,
        )  # fmt: skip
    return _code(summary)


def _has_ended(drill: PlannedDrill, runs: Path) -> bool:
    """Return whether there are rounds of a drill and none is to come."""
    if newest_session(runs, lambda broken: None, drill.key) is not None:
        return False
    return session_rows(runs, drill.key, lambda broken: None) is not None


def _code(summary: records.Summary) -> int:
    if summary.exit in (INTERRUPTED, TERMINATED):
        raise EndedError(Ending(outcome="scrapped", exit=summary.exit, why=tr("told to end")))
    return int(summary.exit)
