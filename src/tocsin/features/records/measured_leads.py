"""Measure the leads that a team needed in its own runs of a game."""

from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

from tocsin.analysis.rounds.leads import CallResponse, Needed, answer_of, needed
from tocsin.errors import BrokenRunError, JournalError
from tocsin.features.records.round_files import DROPPED, REPEATED, facts_of, note_of
from tocsin.features.records.round_report import played_of
from tocsin.journal.reader import Journal, OnBroken, all_runs, reckoning

NEWEST = 100                           # runs that are looked at: what was half a year ago says little of today


def measured_leads(runs: Path, game: str, on_broken: OnBroken) -> dict[str, Needed]:
    """Return the needed leads, by their names, from the newest runs below ``runs`` in the game called ``game``.

    Matches and rounds of drills count alike, dropped or repeated rounds do not. An unreadable folder gives nothing:
    `tocsin runs` says why. ``on_broken`` gets each broken run.
    """
    try:
        return needed(_answers(islice(all_runs(runs, on_broken), NEWEST), game, on_broken))
    except JournalError:
        return {}


def _answers(found: Iterable[Journal], game: str, on_broken: OnBroken) -> Iterator[CallResponse]:
    for run in found:
        try:
            with reckoning(run):
                answer = _answer(run, game)
        except BrokenRunError as error:
            on_broken(error)
        else:
            if answer is not None:
                yield answer


def _answer(run: Journal, game: str) -> CallResponse | None:
    """Return how the drivers of a run answered its call home; None for a run that does not count here."""
    timeline, facts = run.header.timeline, facts_of(run.header)
    if timeline is None or timeline.game != game or note_of(run, DROPPED, REPEATED):
        return None
    if run.end is None or run.end.outcome != "over":
        return None
    return answer_of(timeline, played_of(run.records, half_speed=facts is not None and facts.half_speed))
