"""Make the row of a run from its journal, and the result that it rests on: the one place for lists, tables, results.

Most rounds of a folder were played on the same files, and to parse these takes far longer than all the rest: equal
files are parsed once.
"""

from collections.abc import Sequence
from typing import Any

import msgspec

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.variation import Condition
from tocsin.analysis.seasons.row import Row, Value
from tocsin.config.drills import LoadedDrill, load_drill_texts
from tocsin.errors import TocsinError
from tocsin.features.records.round_files import DROPPED, REPEATED, RoundFacts, facts_of, mixes_people, note_of
from tocsin.features.records.round_report import RoundReport, report_of, result_of
from tocsin.features.records.scores import score_of
from tocsin.journal import records
from tocsin.journal.reader import Journal, reckoning
from tocsin.model.drill import Vary
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.options import BLOCK, EVENT, MATCH_NUMBER, PRACTICE, ROUND
from tocsin.units import NS_PER_S

NONE_DRAWN = "none"
_UNREAD = "its files cannot be read by this version"
_DIGITS = 3                            # of seconds: milliseconds, far below what people can note


class RunRow(Row, frozen=True, kw_only=True):
    """A row with what people wrote about the run."""

    label: str = ""


class _Round(msgspec.Struct, frozen=True):
    """A round that was played to its end, with its drill and its timeline."""

    drill: LoadedDrill
    timeline: Timeline
    facts: RoundFacts


class RowMaker:
    """Makes rows and results of runs; equal files are parsed once in its life."""

    def __init__(self) -> None:
        self._parsed: dict[tuple[records.FileRecord, ...], LoadedDrill | None] = {}

    def row(self, journal: Journal) -> RunRow:
        """Return a run's row. Raises BrokenRunError if its records contradict each other."""
        with reckoning(journal):
            return self._row(journal)

    def report(self, journal: Journal) -> RoundReport | None:
        """Return a round's result as people read it; None for a match, a round that did not end, or unreadable
        files."""
        found = self._round(journal)
        if found is None:
            return None
        return report_of(journal.records, found.timeline, found.drill.files.game, found.drill.drill, found.facts)

    def dealt_values(self, journal: Journal) -> dict[str, Sequence[Value]]:
        """Return all values that a round's drill deals, by the factors of rows; none if its files are unreadable."""
        found = self._drill(journal.header)
        if found is None:
            return {}
        vary = found.drill.vary
        return {
            "setup": vary.setups, "coach": vary.coach, "draw_out": [one or NONE_DRAWN for one in vary.draw_out],
            "shift_s": [_s(ns) for ns in vary.shift_ns], "late_start_s": [_s(ns) for ns in vary.late_start_ns],
            "plan_dealt": vary.plans,
        }  # fmt: skip

    def _row(self, journal: Journal) -> RunRow:
        header, facts = journal.header, facts_of(journal.header)
        timeline, people = header.timeline, header.options.get("people")
        note = note_of(journal, DROPPED, REPEATED)
        result, score = self._result(journal), score_of(journal.records)
        return RunRow(
            folder=str(journal.path.parent),
            wall=header.wall,
            label=header.label,
            game=timeline.game if timeline else "",
            plan=timeline.plan if timeline else "",
            source=str(header.options.get("source", "")),
            outcome=journal.end.outcome if journal.end else "cut short",
            at=_at(header),
            match=_number(header),
            drill=facts.name if facts else "",
            session=facts.key if facts else "",
            round=facts.round if facts else 0,
            crew=facts.crew if facts else "",
            people={str(k): str(v) for k, v in people.items()} if isinstance(people, dict) else {},
            people_unknown=mixes_people(header),
            marks=len(journal.marks),
            score_us=score.us if score else None,
            score_them=score.them if score else None,
            counted=bool(result and result.counted and not note),
            taken_out=(note.text or note.what) if note else "",
            **(_outcome(result) if result else {"uncounted": self._unread(journal)}),
            **(self._condition(header, facts) if facts else {}),
        )

    def _unread(self, journal: Journal) -> tuple[str, ...]:
        """Return why a round that was played to its end has no result, or nothing for a run that has none anyway."""
        over = journal.end is not None and journal.end.outcome == "over"
        return (_UNREAD,) if over and facts_of(journal.header) and self._drill(journal.header) is None else ()

    def _result(self, journal: Journal) -> RoundResult | None:
        found = self._round(journal)
        if found is None:
            return None
        game, drill = found.drill.files.game, found.drill.drill
        _, result = result_of(journal.records, found.timeline, game, drill, found.facts)
        return result

    def _round(self, journal: Journal) -> _Round | None:
        header, facts = journal.header, facts_of(journal.header)
        if facts is None or header.timeline is None or journal.end is None or journal.end.outcome != "over":
            return None
        found = self._drill(header)
        return None if found is None else _Round(found, header.timeline, facts)

    def _drill(self, header: records.Header) -> LoadedDrill | None:
        if header.files not in self._parsed:
            try:
                self._parsed[header.files] = load_drill_texts(header.files)
            except TocsinError:
                self._parsed[header.files] = None
        return self._parsed[header.files]

    def _condition(self, header: records.Header, facts: RoundFacts) -> dict[str, Any]:
        rest = {"half_speed": facts.half_speed, "battery_rounds": facts.battery}
        try:
            found = msgspec.convert(facts.condition, Condition)
        except msgspec.ValidationError:            # of an earlier version, or of anywhere
            return rest
        drill = self._drill(header)
        vary = drill.drill.vary if drill else Vary()
        return {
            **rest, "setup": found.setup, "coach": found.coach, "plan_dealt": found.plan,
            "draw_out": found.draw_out or (NONE_DRAWN if vary.draw_out else ""),
            "shift_s": _seconds(found.shift_ns) if vary.shift_ns or found.shift_ns else None,
            "late_start_s": _seconds(found.late_start_ns) if vary.late_start_ns or found.late_start_ns else None,
            "earlier_s": _seconds(found.earlier_ns) if vary.from_spread_ns or found.earlier_ns else None,
        }  # fmt: skip


def _number(header: records.Header) -> int | None:
    """Return the number that an event gave a match; whoever wrote the journal may have written anything there."""
    said = header.options.get(MATCH_NUMBER)
    return said if type(said) is int else None


def _at(header: records.Header) -> str:
    """Return where a run was played; drills and tests are practice, whatever their header says."""
    if ROUND in header.options or BLOCK in header.options:
        return PRACTICE
    said = header.options.get("at")
    return said if said in (PRACTICE, EVENT) else ""


def _outcome(result: RoundResult) -> dict[str, Any]:
    points = result.points
    return {
        "clean": result.clean, "uncounted": result.uncounted, "error_ms": result.error_ms,
        "break_off_margin_s": _seconds(result.break_off_margin_ns), "turn_s": _seconds(result.turn_ns),
        "way_s": _seconds(result.travel_ns), "home": result.home, "home_margin_s": _seconds(result.home_margin_ns),
        "contacts": result.contacts, "contact_s": _seconds(result.overlap_ns),
        "cost_points": points.cost, "gain_points": points.gain, "net_points": points.net_points,
        "cost_at_most_points": points.cost_at_most, "gain_at_most_points": points.gain_at_most,
        "unclear_marks": len(result.unclear), "open_marks": len(result.open_marks),
    }  # fmt: skip


def _seconds(ns: int | None) -> float | None:
    return None if ns is None else _s(ns)


def _s(ns: int) -> float:
    return round(ns / NS_PER_S, _DIGITS)
