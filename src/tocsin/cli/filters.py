"""Say which runs a command is about: by drill, crew, person and days; and what is told of those that cannot be read."""

import argparse
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from pathlib import Path

from tocsin import monotime
from tocsin.analysis.seasons.row import Row
from tocsin.cli.lines import tell
from tocsin.cli.parser import Parser
from tocsin.errors import JournalError, TocsinError, UsageError
from tocsin.features.records.run_list import Wanted, is_drill
from tocsin.journal.people import KEY, People
from tocsin.model.drill import CREWS
from tocsin.translation import tr
from tocsin.units import NS_PER_S

PEOPLE_UNKNOWN = tr("people unknown: an earlier version gave both crews of this drill the first one's people")
_PATIENCE_NS = 2 * NS_PER_S            # so long nobody wonders
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


def add_filters(parser: Parser) -> None:
    """Add the options that choose runs; ``wanted`` reads them."""
    add = parser.add_argument
    add("--drill", default="", metavar="NAME", help=tr("only rounds of this drill"))
    add("--crew", default="", choices=CREWS, help=tr("only rounds of this crew"))
    add("--who", default="", metavar="NAME", help=tr("only runs with this person (or the key of one)"))
    add("--since", default="", metavar="DATE", help=tr("only evenings from this day on, e.g. 2026-03-14"))
    add("--until", default="", metavar="DATE", help=tr("only evenings up to this day"))


def demand_dates(given: argparse.Namespace) -> None:
    """Refuse days that are none, or are written otherwise than files write them. Raises UsageError."""
    since, until = day_of(given.since), day_of(given.until)
    if since and until and since > until:
        raise UsageError(
            tr("--since {since} is after --until {until}", since=since, until=until),
            hint=tr("--since is the first day, --until the last"),
        )


def day_of(text: str) -> date | None:
    """Return the day that a text names, None for an empty one. Raises UsageError."""
    if not text:
        return None
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise UsageError(tr("'{day}' is not a date", day=text), hint=tr("write it as 2026-03-14"))


def demand_folders(folders: Iterable[Path]) -> None:
    """Refuse folders of runs that were named and are not there. Raises UsageError."""
    for folder in folders:
        if not folder.is_dir():
            raise UsageError(
                tr("there is no folder {folder}", folder=folder), hint=tr("name the folder that holds your runs"),
            )


def demand_drill(asked: str, rows: Iterable[Row]) -> None:
    """Refuse a drill of which no round is there, where there are rounds of others. Raises UsageError."""
    played = sorted({row.drill for row in rows if row.drill})
    if asked and played and not any(is_drill(asked, drill) for drill in played):
        raise UsageError(
            tr("no round of a drill '{drill}' was played", drill=asked),
            hint=tr("played: {drills}", drills=", ".join(played)),
        )


def wanted(given: argparse.Namespace, folders: Sequence[Path]) -> Wanted:
    """Return the filter that options ask for. Raises UsageError for somebody who is not known in these folders of
    runs, JournalError if their names cannot be read."""
    person = _key_of(given.who, folders) if given.who else ""
    return Wanted(drill=given.drill, crew=given.crew, person=person, since=given.since, until=given.until)


def names_in(folders: Iterable[Path]) -> dict[str, str]:
    """Return people's names by key; where they cannot be read, say so: the runs are told of all the same."""
    found: dict[str, str] = {}
    for folder in folders:
        try:
            found.update(People(folder).names)
        except JournalError as error:
            tell_broken(error)
    return found


def tell_broken(error: TocsinError) -> None:
    """Say on stderr what cannot be read, by whoever goes on without it."""
    tell(tr("tocsin: {line}", line=error.line), sys.stderr)


def _key_of(who: str, folders: Sequence[Path]) -> str:
    people = [People(folder) for folder in folders]            # whom it asks for has to be known
    keys = dict.fromkeys(key for one in people if (key := one.key_of(who)))
    if len(keys) > 1:
        raise UsageError(
            tr("'{who}' has another key in each of these folders", who=who),
            hint=tr("say which: --who {keys}", keys=" or --who ".join(keys)),
        )
    if keys:
        return next(iter(keys))
    if re.fullmatch(KEY, who):                                 # of somebody whose name is on another laptop
        return who
    known = ", ".join(name for one in people for name in one.names.values()) or "nobody"
    raise UsageError(tr("nobody is called '{who}' here", who=who), hint=tr("known: {known}", known=known))


def reading_runs(patience_ns: int = _PATIENCE_NS) -> Callable[[int, int], None]:
    """Return what says on stderr, each time this took so long again, how many runs were read of how many."""
    told_ns = monotime.now_ns()

    def progress(read: int, of: int) -> None:
        nonlocal told_ns
        now_ns = monotime.now_ns()
        if now_ns - told_ns >= patience_ns:
            told_ns = now_ns
            tell(tr("tocsin: {read} of {of} new runs read", read=f"{read:,}", of=f"{of:,}"), sys.stderr)

    return progress
