"""List the runs of a folder as rows: when, what, by whom, how it went."""

from collections.abc import Iterator
from pathlib import Path

import msgspec

from tocsin.config.drills import load_drill_texts
from tocsin.errors import BrokenRunError, TocsinError
from tocsin.features.records.round_files import DROPPED, REPEATED, are_mixed, facts_of, mixes_people, note_of
from tocsin.features.records.round_report import RoundReport, report_of
from tocsin.journal import records
from tocsin.journal.reader import Journal, OnBroken, all_runs, reckoning
from tocsin.model.drill import Drill


class RunRow(msgspec.Struct, frozen=True, kw_only=True):
    """One run. ``wall`` is its begin, RFC 3339 in UTC; ``drill`` and ``round`` are empty and 0 for a match. ``clean``
    is the verdict by the drill's rule, None if unknown; ``counted`` says whether it may be compared with others.
    ``session`` tells apart drills that were begun separately. ``people_unknown``: its journal names people, but not
    whether they are of this crew."""

    folder: str
    wall: str
    label: str
    game: str
    plan: str
    source: str
    outcome: str
    drill: str = ""
    session: str = ""
    round: int = 0
    crew: str = ""
    people: dict[str, str] = {}            # key by role
    people_unknown: bool = False
    marks: int = 0
    clean: bool | None = None
    counted: bool = False
    taken_out: str = ""
    error_ms: int | None = None


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A filter of runs; an empty field accepts all. ``since`` and ``until`` are dates, both inclusive."""

    drill: str = ""
    label: str = ""
    crew: str = ""
    person: str = ""                       # a key
    since: str = ""
    until: str = ""

    def fits(self, row: RunRow) -> bool:
        """Return whether a run passes the filter. A text matches any part of a field, without regard to case."""
        day = row.wall[:10]
        return (
            self.drill.casefold() in row.drill.casefold()
            and self.label.casefold() in row.label.casefold()
            and self.crew in ("", row.crew)
            and (not self.person or self.person in row.people.values())
            and (not self.since or day >= self.since)
            and (not self.until or day <= self.until)
        )


def rows(runs: Path, on_broken: OnBroken) -> Iterator[RunRow]:
    """Yield a row for each run below ``runs``, the newest first; ``on_broken`` gets each one that cannot be read.

    Raises JournalError if the folder itself cannot be read.
    """
    found: list[RunRow] = []
    old: dict[str, list[records.Header]] = {}           # by session
    for journal in all_runs(runs, on_broken):
        try:
            row = row_of(journal)
        except BrokenRunError as error:
            on_broken(error)
        else:
            found.append(row)
            if row.people_unknown:
                old.setdefault(row.session, []).append(journal.header)
    mixed = {session for session, headers in old.items() if are_mixed(headers)}
    for row in found:
        yield _settled(row, mixed=row.session in mixed)


def row_of_one(journal: Journal, on_broken: OnBroken) -> RunRow:
    """Return what is said of one run, by the other rounds of its drill too where its journal leaves something open.

    Raises BrokenRunError where its records contradict each other, JournalError where the other runs cannot be read.
    """
    row = row_of(journal)
    if not row.people_unknown:
        return row
    others = (other.header for other in all_runs(journal.path.parent.parent, on_broken))
    session = [header for header in others if (facts := facts_of(header)) and facts.key == row.session]
    return _settled(row, mixed=are_mixed(session))


def _settled(row: RunRow, *, mixed: bool) -> RunRow:
    """Return a row with its people if no other crew's may stand there."""
    if not row.people_unknown:
        return row
    return msgspec.structs.replace(row, people_unknown=mixed, people={} if mixed else row.people)


def row_of(journal: Journal) -> RunRow:
    """Return a run's row. Raises BrokenRunError if its records contradict each other."""
    with reckoning(journal):
        return _row_of(journal)


def _row_of(journal: Journal) -> RunRow:
    header, facts = journal.header, facts_of(journal.header)
    report = report_of_round(journal)
    timeline = header.timeline
    people = header.options.get("people")
    note = note_of(journal, DROPPED, REPEATED)
    return RunRow(
        folder=str(journal.path.parent),
        wall=header.wall,
        label=header.label,
        game=timeline.game if timeline else "",
        plan=timeline.plan if timeline else "",
        source=str(header.options.get("source", "")),
        outcome=journal.end.outcome if journal.end else "cut short",
        drill=facts.name if facts else "",
        session=facts.key if facts else "",
        round=facts.round if facts else 0,
        crew=facts.crew if facts else "",
        people={str(k): str(v) for k, v in people.items()} if isinstance(people, dict) else {},
        people_unknown=mixes_people(header),
        marks=len(journal.marks),
        clean=report.result.clean if report else None,
        counted=bool(report and report.result.counted and not note),
        taken_out=(note.text or note.what) if note else "",
        error_ms=report.result.error_ms if report else None,
    )


def report_of_round(journal: Journal) -> RoundReport | None:
    """Return a round's result; None for a match, a round that did not end, or unreadable files."""
    header, facts = journal.header, facts_of(journal.header)
    if facts is None or header.timeline is None or journal.end is None or journal.end.outcome != "over":
        return None
    try:
        found = load_drill_texts(header.files)
    except TocsinError:
        return None
    drill: Drill = found.drill
    return report_of(journal.records, header.timeline, found.files.game, drill, facts)
