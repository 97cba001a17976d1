"""Measure the leads that a team needed in its own runs of a game."""

from collections.abc import Sequence
from pathlib import Path

from tocsin.analysis.review.leads import Needed, needed_leads
from tocsin.analysis.seasons.row import Row
from tocsin.errors import JournalError
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.reader import OnBroken

NEWEST = 100                           # runs that are looked at: what was half a year ago says little of today


def measured_leads(runs: Path, game: str, on_broken: OnBroken) -> dict[str, Needed]:
    """Return the needed leads, by their names, from the newest runs below ``runs`` in the game called ``game``.

    Matches and rounds of drills count alike, dropped or repeated rounds do not. An unreadable folder gives nothing:
    `tocsin runs` says why. ``on_broken`` gets each broken run.
    """
    try:
        return leads_of(season_rows([runs], on_broken), game)
    except JournalError:
        return {}


def leads_of(rows: Sequence[Row], game: str) -> dict[str, Needed]:
    """Return the needed leads, by their names, from the newest of a season's rows."""
    return needed_leads(rows[-NEWEST:], game)
