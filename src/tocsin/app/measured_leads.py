"""The leads that a team's own runs have shown to be needed in a game."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from tocsin.app.round_files import DROPPED, REPEATED, facts_of, note_of
from tocsin.app.round_report import played_of
from tocsin.errors import JournalError
from tocsin.journal.reader import Journal
from tocsin.journal.runs import all_runs
from tocsin.rehearsal.needed_leads import Answer, Needed, answer_of, needed

NEWEST = 100                           # runs that are looked at: what was half a year ago says little of today


def measured_leads(runs: Path, game: str) -> dict[str, Needed]:
    """Return leads by their names, from the newest runs below ``runs`` in the game called ``game``.

    Matches and rounds of drills count alike, rounds that were dropped or repeated do not. A folder or a run that cannot
    be read tells nothing: `tocsin runs` says why.
    """
    try:
        found = [run for run in islice(all_runs(runs), NEWEST) if isinstance(run, Journal)]
    except JournalError:
        return {}
    return needed(_answers(found, game))


def _answers(found: list[Journal], game: str) -> Iterator[Answer]:
    for run in found:
        timeline, facts = run.header.timeline, facts_of(run.header)
        if timeline is None or timeline.game != game or note_of(run, DROPPED, REPEATED):
            continue
        if run.end is None or run.end.outcome != "over":
            continue
        played = played_of(run.records, half_speed=facts is not None and facts.half_speed)
        if (answer := answer_of(timeline, played)) is not None:
            yield answer
