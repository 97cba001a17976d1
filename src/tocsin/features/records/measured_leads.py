"""Measure the leads that a team needed in its own runs of a game."""

from pathlib import Path

from tocsin.analysis.review.leads import Needed, needed_leads
from tocsin.errors import JournalError
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.reader import OnBroken
from tocsin.lint.subject import MeasuredLead
from tocsin.units import NS_PER_S

_TENTH_NS = NS_PER_S // 10


def measured_leads(runs: Path, game: str, on_broken: OnBroken) -> dict[str, Needed]:
    """Return the needed leads, by their names, from the runs below ``runs`` in the game called ``game``.

    They are those of which a review of the season tells, of the same rounds, since two figures for one thing help
    nobody. An unreadable folder gives nothing: `tocsin runs` says why. ``on_broken`` gets each broken run.
    """
    try:
        return needed_leads(season_rows([runs], on_broken), game)
    except JournalError:
        return {}


def to_tenths(needed: Needed) -> MeasuredLead:
    """Return a needed lead as it is told: to the tenth of a second, upwards, since finer nobody notes it."""
    return MeasuredLead(-(-needed.lead_ns // _TENTH_NS) * _TENTH_NS, needed.rounds, needed.missing)
