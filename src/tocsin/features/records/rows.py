"""Make the row of a run from its journal, and the result that it rests on: the one place for lists, tables, results.

Rounds and matches are judged alike, by the game, the drill and the timeline that the header keeps. Most runs of a
folder were played on the same files, and to parse these takes far longer than all the rest: equal files are parsed
once.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import msgspec

from tocsin.analysis.rounds.bounds import Bounds
from tocsin.analysis.rounds.result import PlayedRound, RoundResult
from tocsin.analysis.rounds.sources import noted_by, scribe_lags_ns, time_noted_by
from tocsin.analysis.rounds.variation import Condition
from tocsin.analysis.seasons.row import NONE_DRAWN, Kind, Row, Value
from tocsin.config.recorded import Rules, rules_of
from tocsin.errors import TocsinError
from tocsin.features.records.observed import BY_ROBOT
from tocsin.features.records.page.run import PAGE
from tocsin.features.records.round_files import DROPPED, REPEATED, RoundFacts, facts_of, mixes_people, note_of
from tocsin.features.records.round_report import (
    RoundReport,
    match_report_of,
    report_of,
    result_of,
    rule_of_match,
    rule_of_round,
)
from tocsin.features.records.scores import score_of
from tocsin.journal import records
from tocsin.journal.clock_history import clock_spread_ms
from tocsin.journal.local_time import local_begin
from tocsin.journal.reader import Journal, reckoning
from tocsin.model.counted import counted_marks
from tocsin.model.drill import Vary
from tocsin.model.mark import CONTACT, OBSERVED, STATES
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.options import BLOCK, EVENT, FOLLOWS, MATCH_NUMBER, PRACTICE, ROUND, plan_no_of
from tocsin.translation import tr
from tocsin.units import NS_PER_S

_UNREAD = tr("its files cannot be read by this version")
_DIGITS = 3                            # of seconds: milliseconds, far below what people can note


class RunRow(Row, frozen=True, kw_only=True):
    """A row with what people wrote about the run, and the short name by which they call it."""

    label: str = ""
    short: str = ""


class _Judged(NamedTuple):
    """A run that was played to its end, and what judges it: ``facts`` are those of a drill's round."""

    rules: Rules
    timeline: Timeline
    facts: RoundFacts | None
    video: bool


class RowMaker:
    """Makes rows and results of runs; equal files are parsed once in its life."""

    def __init__(self) -> None:
        self._parsed: dict[tuple[int, bool, tuple[records.FileRecord, ...]], Rules | None] = {}

    def row(self, journal: Journal) -> RunRow:
        """Return a run's row. Raises BrokenRunError if its records contradict each other."""
        with reckoning(journal):
            return self._row(journal)

    def report(self, journal: Journal) -> RoundReport | None:
        """Return the result of a round or a match as people read it; None for a run that did not end, a block of a
        reaction test, or unreadable files."""
        found = self._judged(journal)
        if found is None:
            return None
        game, drill = found.rules
        if found.facts is None or drill is None:
            return match_report_of(journal.records, found.timeline, game, video=found.video)
        return report_of(journal.records, found.timeline, game, drill, found.facts)

    def dealt_values(self, journal: Journal) -> dict[str, Sequence[Value]]:
        """Return all values that a round's drill deals, by the factors of rows; none if its files are unreadable."""
        found = self._rules(journal.header)
        if found is None or found.drill is None:
            return {}
        return _dealt_values(found.drill.vary)

    def _row(self, journal: Journal) -> RunRow:
        header, facts = journal.header, facts_of(journal.header)
        timeline, people = header.timeline, header.options.get("people")
        note, begin = note_of(journal, DROPPED, REPEATED), local_begin(header)
        played, result = self._result(journal)
        score = score_of(journal.records)
        return RunRow(
            folder=str(journal.path.parent),
            wall=header.wall,
            local=begin.isoformat(timespec="milliseconds") if begin else "",
            label=header.label,
            game=timeline.game if timeline else "",
            plan=timeline.plan if timeline else "",
            source=str(header.options.get("source", "")),
            outcome=journal.end.outcome if journal.end else tr("cut short"),
            at=_at(header),
            match=_number(header),
            kind=kind_of(journal),
            drill=facts.name if facts else "",
            session=facts.key if facts else "",
            round=facts.round if facts else 0,
            crew=facts.crew if facts else "",
            people={str(k): str(v) for k, v in people.items()} if isinstance(people, dict) else {},
            people_unknown=mixes_people(header),
            marks=len(counted_marks(journal.marks)),
            marks_noted=len(journal.marks),
            score_us=score.us if score else None,
            score_them=score.them if score else None,
            watched=played.watched if played else None,
            clock_spread_ms=_spread_ms(journal),
            calls_failed=_failed(journal),
            leads_s={lead: _s(ns) for lead, ns in timeline.leads.items()} if timeline else {},
            seed=facts.seed if facts else None,
            counted=bool(result and result.counted and not note),
            taken_out=(note.text or note.what) if note else "",
            **(outcome_of(result, known=played.watched) if result and played else {"uncounted": self._unread(journal)}),
            **(sources_of(played, result) if result and played else {}),
            **(self._condition(header, facts) if facts else {}),
        )

    def _unread(self, journal: Journal) -> tuple[str, ...]:
        """Return why a run that was played to its end has no result, or nothing for a run that has none anyway."""
        return (_UNREAD,) if _has_result(journal) and self._rules(journal.header) is None else ()

    def _result(self, journal: Journal) -> tuple[PlayedRound, RoundResult] | tuple[None, None]:
        found = self._judged(journal)
        if found is None:
            return None, None
        game, drill = found.rules
        rule = rule_of_match(game) if found.facts is None or drill is None else rule_of_round(drill, found.facts)
        return result_of(journal.records, found.timeline, game, rule, video=found.video)

    def _judged(self, journal: Journal) -> _Judged | None:
        header = journal.header
        rules = self._rules(header) if _has_result(journal) else None
        if rules is None or header.timeline is None:
            return None
        return _Judged(rules, header.timeline, facts_of(header), kind_of(journal) == "video")

    def _rules(self, header: records.Header) -> Rules | None:
        of_drill = facts_of(header) is not None
        try:
            key = (plan_no_of(header.options), of_drill, header.files)
        except msgspec.ValidationError:            # of anywhere
            return None
        if key not in self._parsed:
            try:
                self._parsed[key] = rules_of(header.files, key[0], of_drill=of_drill)
            except TocsinError:
                self._parsed[key] = None
        return self._parsed[key]

    def _condition(self, header: records.Header, facts: RoundFacts) -> dict[str, Any]:
        rest = {"half_speed": facts.half_speed, "battery_rounds": facts.battery}
        try:
            found = msgspec.convert(facts.condition, Condition)
        except msgspec.ValidationError:            # of an earlier version, or of anywhere
            return rest
        rules = self._rules(header)
        vary = rules.drill.vary if rules and rules.drill else Vary()
        return {**rest, **condition_of(found, vary)}


def condition_of(condition: Condition, vary: Vary) -> dict[str, Any]:
    """Return a row's fields for what a drill with this variation dealt to a round."""
    return {
        "setup": condition.setup, "coach": condition.coach, "plan_dealt": condition.plan,
        "draw_out": condition.draw_out or (NONE_DRAWN if vary.draw_out else ""),
        "shift_s": _seconds(condition.shift_ns) if vary.shift_ns or condition.shift_ns else None,
        "late_start_s": _seconds(condition.late_start_ns) if vary.late_start_ns or condition.late_start_ns else None,
        "earlier_s": _seconds(condition.earlier_ns) if vary.from_spread_ns or condition.earlier_ns else None,
        "dealt_of": {factor: len(values) for factor, values in _dealt_values(vary).items() if values},
    }  # fmt: skip


def _dealt_values(vary: Vary) -> dict[str, Sequence[Value]]:
    return {
        "setup": vary.setups, "coach": vary.coach, "draw_out": [one or NONE_DRAWN for one in vary.draw_out],
        "shift_s": [_s(ns) for ns in vary.shift_ns], "late_start_s": [_s(ns) for ns in vary.late_start_ns],
        "plan_dealt": vary.plans,
    }  # fmt: skip


def _number(header: records.Header) -> int | None:
    """Return the number that an event gave a match; whoever wrote the journal may have written anything there."""
    said = header.options.get(MATCH_NUMBER)
    return said if type(said) is int else None


def kind_of(journal: Journal) -> Kind:
    """Return what kind of run a journal is of."""
    options = journal.header.options
    if ROUND in options:
        return "drill"
    if BLOCK in options:
        return "reaction"
    if options.get("source") == PAGE:
        return "page"
    if options.get("source") != OBSERVED:
        return "match"
    firings = (record for record in journal.records if isinstance(record, records.FiringRecord))
    return "robot" if any(firing.by == BY_ROBOT for firing in firings) else "video"


def _has_result(journal: Journal) -> bool:
    """Return whether a run is one that is judged: a round or a match that was played to its end. One that follows
    another laptop is judged there: its match would count twice."""
    header, end = journal.header, journal.end
    if FOLLOWS in header.options or header.timeline is None or end is None or end.outcome != "over":
        return False
    return BLOCK not in header.options and (ROUND not in header.options or facts_of(header) is not None)


def _failed(journal: Journal) -> int:
    firings = (record for record in journal.records if isinstance(record, records.FiringRecord))
    return sum(firing.outcome == "failed" for firing in firings)


def _spread_ms(journal: Journal) -> float | None:
    origins = (record for record in journal.records if isinstance(record, records.OriginRecord))
    found = clock_spread_ms(origins, observed=journal.header.options.get("source") == OBSERVED)
    return None if found is None else round(found, 1)


def _at(header: records.Header) -> str:
    """Return where a run was played; drills and tests are practice, whatever their header says."""
    if ROUND in header.options or BLOCK in header.options:
        return PRACTICE
    said = header.options.get("at")
    return said if said in (PRACTICE, EVENT) else ""


def outcome_of(result: RoundResult, *, known: bool) -> dict[str, Any]:
    """Return a row's fields for its outcome; what is not ``known`` to somebody who watched is no figure, and no 0
    either."""
    points, bounds = result.points, result.bounds
    contacts = {
        "contacts": result.contacts, "contacts_unclear": sum(one.mark.label == CONTACT for one in result.unclear),
        "contact_s": _seconds(result.overlap_ns),
    } if result.keeps_off else {}
    counts = {
        **contacts, "thresholds": {one.threshold: one.met for one in points.thresholds},
        "cost_points": points.cost, "gain_points": points.gain, "net_points": points.net_points,
        "cost_at_most_points": points.cost_at_most, "gain_at_most_points": points.gain_at_most,
    }  # fmt: skip
    return {
        **(counts if known else {}),
        "call": result.call or "", "push_at_call": bounds.push_at_call,
        **_bounds("break_off", bounds.break_off), **_bounds("break_off_margin", bounds.margin),
        **_bounds("turn", bounds.turn), **_bounds("way", bounds.way),
        "clean": result.clean, "uncounted": result.uncounted, "error_ms": result.error_ms,
        "break_off_margin_s": _seconds(result.known_margin_ns), "turn_s": _seconds(result.turn_ns),
        "way_s": _seconds(result.travel_ns), "home": result.home, "home_margin_s": _seconds(result.home_margin_ns),
        "unclear_marks": len(result.unclear), "open_marks": len(result.open_marks),
    }  # fmt: skip


def sources_of(played: PlayedRound, result: RoundResult) -> dict[str, Any]:
    """Return who noted a result's times, and how late a key noted what a video saw too."""
    marks, called_ns = counted_marks(played.marks), played.home_call_ns

    def by(found: Bounds | None) -> str:
        if called_ns is None or found is None or found.at_most_ns is None:
            return ""
        return time_noted_by(marks, called_ns + found.at_most_ns)

    states = [mark for mark in marks if mark.label in STATES and mark.is_ours]
    return {
        "break_off_by": by(result.bounds.break_off), "turn_by": by(result.bounds.turn),
        "home_by": noted_by(states[-1]) if states and result.home else "",
        "scribe_lags_s": tuple(_s(ns) for ns in scribe_lags_ns(played.marks)),
    }  # fmt: skip


def _bounds(name: str, found: Bounds | None) -> dict[str, float | None]:
    low, high = (found.at_least_ns, found.at_most_ns) if found else (None, None)
    return {f"{name}_at_least_s": _seconds(low), f"{name}_at_most_s": _seconds(high)}


def _seconds(ns: int | None) -> float | None:
    return None if ns is None else _s(ns)


def _s(ns: int) -> float:
    return round(ns / NS_PER_S, _DIGITS)
