"""Report the result of a run, a drill's round or a match, from the records of its journal: live, and ever again."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import NamedTuple

import msgspec

from tocsin.analysis.rounds.lots import DEALT_LATE, is_late_by_lot, lot_text
from tocsin.analysis.rounds.match_rule import SILENT, match_rule
from tocsin.analysis.rounds.own_limit import OwnLimit, own_limit, round_text, with_own
from tocsin.analysis.rounds.picture import round_picture
from tocsin.analysis.rounds.result import CallKind, PlayedRound, RoundResult, round_result
from tocsin.analysis.rounds.rule import NO_RULE
from tocsin.analysis.rounds.tally import Tally, goal_text, tally, tally_text
from tocsin.analysis.rounds.text import (
    MEANINGS,
    lines,
    series_legend,
    series_text,
    shape_of,
    shapes_text,
    threshold_lines,
)
from tocsin.analysis.rounds.variation import Condition
from tocsin.analysis.shares import wilson
from tocsin.config.drills import LoadedDrill
from tocsin.features.records.round_files import DROPPED, REPEATED, RoundFacts, facts_of, note_of, said_watched
from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory
from tocsin.journal.reader import Journal
from tocsin.model.clock.origins import Origin
from tocsin.model.counted import counted_marks
from tocsin.model.display.round_picture import SHAPES, RoundPicture
from tocsin.model.drill import Clean, Drill
from tocsin.model.game import Game
from tocsin.model.mark import CALLED, Mark, standing
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

HOME_CUE = "home"                      # the call from which turning is timed
_SERIES_FROM = 2                       # one round is no series
_ROW_CHARACTERS = 80                   # more would make the letters of all rows smaller
_NO_BREAK = "\N{NO-BREAK SPACE}"
_ON_TIME_NS = NS_PER_S // 2            # a call so near to where the round had it was not given by hand
_DISTURBED = ("slept", "resumed")


class RunRule(NamedTuple):
    """What a run is judged by: the rule, the labels of the marks that count (empty: all), whether half home is home
    enough, and what is said where the rule asks for nothing. ``half_speed``: its robot drove at half speed."""

    clean: Clean
    counting: Collection[str] = ()
    half_home: bool = False
    silent: str = NO_RULE
    half_speed: bool = False


class RoundReport(msgspec.Struct, frozen=True, kw_only=True):
    """A run's result and picture, its crew, and why it was taken out of the series, or an empty text.

    ``own`` is the crew's own limit as it was when the round began, None where the drill asks for none. ``dealt`` says
    what the lot did to its times, ``is_by_lot`` that this alone made it late. ``watched``:
    somebody was there to mark what happened. ``of_match``: it was a match and no round; ``unjudged``
    says what its game gives no rule for, ``whole_match`` whether it was played from begin to end, so that thresholds
    can be reached. Of a match that nobody watched nothing is told but that.
    """

    result: RoundResult
    picture: RoundPicture
    taken_out: str = ""
    crew: str = ""
    own: OwnLimit | None = None
    dealt: str = ""
    is_by_lot: bool = False
    watched: bool = True
    unjudged: tuple[str, ...] = ()
    of_match: bool = False
    whole_match: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """The result in words, the verdict first."""
        if self._is_unknown:
            return self._sentences
        return (*self._sentences, *threshold_lines(self.result, most_ways=1))

    @property
    def rows(self) -> tuple[str, ...]:
        """The result for window and terminal: that it does not count, the verdict, and the rest in few rows.

        Thresholds are those of a whole match: a round that begins near its end seldom reaches one.
        """
        heads = 1 + bool(self.taken_out or self.result.uncounted)       # that it does not count, and the verdict
        verdict, rest = self._sentences[:heads], self._sentences[heads:]
        reached = _met(self.result) if self.whole_match and not self._is_unknown else ()
        return (*verdict, *_packed(rest), *reached)

    @property
    def _is_unknown(self) -> bool:
        return self.of_match and not self.watched

    @property
    def _sentences(self) -> tuple[str, ...]:
        if self._is_unknown:
            return lines(self.result)[: 1 + bool(self.result.uncounted)]
        own = round_text(self.own, self.result) if self.own and not self.taken_out else ""
        told = lines(self.result, taken_out=self.taken_out, dealt=self.dealt, is_by_lot=self.is_by_lot)
        return (*told, *self.unjudged, *([own] if own else []))


def of_crew(reports: Iterable[RoundReport], crew: str) -> tuple[RoundReport, ...]:
    """Return the rounds of a session that one crew played, in their order, those taken out of the series included."""
    return tuple(report for report in reports if report.crew == crew)


def crews_of(reports: Iterable[RoundReport]) -> tuple[str, ...]:
    """Return the crews that have played in a session, in alphabetical order."""
    return tuple(sorted({report.crew for report in reports}))


def report_of(
    run: Sequence[records.Record], timeline: Timeline, game: Game, drill: Drill, facts: RoundFacts
) -> RoundReport:
    """Return the result of a round's records by its drill's rule, and by the crew's limit that its header holds."""
    rule = rule_of_round(drill, facts)
    played, result = result_of(run, timeline, game, rule)
    picture = round_picture(timeline, played, rule.clean, result, counting=rule.counting)
    if facts.own is not None and facts.own.turned_ns is None and not picture.reason:
        picture = msgspec.structs.replace(picture, reason=round_text(facts.own, result).rstrip("."))
    dealt, is_by_lot = _dealt(timeline, drill, facts, played, result)
    # A round that does not count keeps that word: it is what people must know first.
    word = DEALT_LATE if is_by_lot and result.counted else picture.word
    # One line has room below word and number; what the number says already stands in the sentences.
    is_told = bool(dealt and picture.number) and result.counted and result.clean is False
    reason = "" if is_told else picture.reason
    return RoundReport(
        result=result,
        picture=msgspec.structs.replace(picture, dealt=dealt.split(":")[0].rstrip("."), word=word, reason=reason),
        crew=facts.crew,
        own=facts.own,
        dealt=dealt,
        is_by_lot=is_by_lot,
        watched=played.watched,
    )


def _dealt(
    timeline: Timeline, drill: Drill, facts: RoundFacts, played: PlayedRound, result: RoundResult
) -> tuple[str, bool]:
    """Return what the lot did to a round's times, as sentences, and whether that alone made it late."""
    try:
        condition = msgspec.convert(facts.condition, Condition)
    except msgspec.ValidationError:            # of an earlier version, or of anywhere
        return "", False
    planned_ns, call_ns = _planned_call_ns(timeline, played.origins), played.home_call_ns
    came = planned_ns is not None and call_ns is not None and abs(call_ns - planned_ns) <= _ON_TIME_NS
    if not came:                               # people called by hand, or nobody did
        condition = msgspec.structs.replace(condition, shift_ns=0)
    lead_ns = timeline.leads.get(drill.vary.shift_lead)
    home_ns = drill.clean.home_ns or 0
    return lot_text(condition, result, lead_ns, home_ns), is_late_by_lot(condition, result, home_ns)


def match_report_of(
    run: Sequence[records.Record], timeline: Timeline, game: Game, *, video: bool = False
) -> RoundReport:
    """Return the result of a match's records by the rule that follows from its game; ``video`` as in ``result_of``."""
    rule = rule_of_match(game)
    played, result = result_of(run, timeline, game, rule, video=video)
    picture = round_picture(timeline, played, rule.clean, result)
    if not played.watched:
        picture = msgspec.structs.replace(picture, series=())      # its place says that there was no push: nobody knows
    unjudged = match_rule(game).unjudged if rule.clean != Clean() else ()
    if unjudged and not picture.reason:
        picture = msgspec.structs.replace(picture, reason=unjudged[0].rstrip("."))
    return RoundReport(
        result=result,
        picture=picture,
        watched=played.watched,
        of_match=True,
        unjudged=unjudged,
        whole_match=not any(origin.starts_ns for origin in played.origins),
    )


def rule_of_round(drill: Drill, facts: RoundFacts) -> RunRule:
    """Return the rule of a round of a drill."""
    return RunRule(with_own(drill.clean, facts.own), drill.marks, half_speed=facts.half_speed)


def rule_of_match(game: Game) -> RunRule:
    """Return the rule of a match."""
    found = match_rule(game)
    return RunRule(found.rule, half_home=found.half_home, silent=SILENT)


def result_of(
    run: Sequence[records.Record], timeline: Timeline, game: Game, rule: RunRule, *, video: bool = False
) -> tuple[PlayedRound, RoundResult]:
    """Return the facts of a run's records, and its result by a rule. Of a match logged from a ``video`` the call home
    came when its plan says, unless a mark says when."""
    played = played_of(run, half_speed=rule.half_speed, watched=_is_watched(run, rule.clean))
    if video and played.home_call_ns is None:
        planned_ns = _planned_call_ns(timeline, played.origins)
        played = msgspec.structs.replace(played, home_call_ns=planned_ns, call="planned")
    return played, round_result(
        game, timeline, played, rule.clean, counting=rule.counting, half_home=rule.half_home, silent=rule.silent
    )


def own_limit_of(reports: Iterable[RoundReport], crew: str, drill: Drill) -> OwnLimit | None:
    """Return the limit of a crew for the round that comes next, None where the drill asks for none. A limit by which a
    round was judged goes on to hold, whatever becomes of the marks that it came from."""
    if not drill.clean.turned_own:
        return None
    rounds = of_crew(reports, crew)
    known = (report.own for report in rounds if report.own is not None and report.own.turned_ns is not None)
    return next(known, None) or own_limit(report.result for report in rounds if not report.taken_out)


def played_of(run: Sequence[records.Record], *, half_speed: bool, watched: bool = True) -> PlayedRound:
    """Return a finished run's facts from its records, with times as if the clock had never been held: by the newest
    origins."""
    clock = ClockHistory(run)
    errors = [
        record.error_ms for record in run if isinstance(record, records.OriginRecord) and record.error_ms is not None
    ]
    call_ns, call = _home_call(run, clock)
    return PlayedRound(
        marks=tuple(_without_holds(mark, clock) for mark in records.marks_of(run)),
        origins=clock.newest(),
        ended_ns=clock.without_holds(_ended_ns(run)),
        error_ms=errors[-1] if errors else None,
        home_call_ns=call_ns,
        call=call,
        half_speed=half_speed,
        disturbed=_is_disturbed(run),
        held=_was_held(run),
        watched=watched,
    )


def reports_of(rounds: Iterable[Journal], found: LoadedDrill) -> Iterator[RoundReport]:
    """Yield the results of a session's rounds, in order; a round that was cut short or scrapped has none."""
    for journal in rounds:
        facts, timeline = facts_of(journal.header), journal.header.timeline
        if facts is None or timeline is None or journal.end is None or journal.end.outcome != "over":
            continue
        report = report_of(journal.records, timeline, found.files.game, found.drill, facts)
        note = note_of(journal, DROPPED, REPEATED)
        yield msgspec.structs.replace(report, taken_out=(note.text or note.what) if note else "")


def series_lines(reports: Iterable[RoundReport], drill: Drill, left: int, crew: str = "") -> tuple[str, ...]:
    """Return the series so far: the goal, the tally with its interval, shapes with their legend. Where there are
    several crews, the reports are those of one, ``crew`` says which, and all is said in two short lines."""
    results = _series(reports)
    if len(results) < _SERIES_FROM:
        return ()
    if crew:
        told = " ".join((_head(crew), *_goal(results, drill, left), _short(tally(results), briefly=True)))
        return (told, f"  {series_text(results)}")
    return (*_goal(results, drill, left), tally_text(tally(results)), f"{series_text(results)}   {series_legend()}")


def series_rows(reports: Iterable[RoundReport], drill: Drill, left: int, crew: str = "") -> tuple[str, ...]:
    """Return the series for window and terminal: shapes with the meaning of those used, then tally and goal."""
    results = _series(reports)
    if len(results) < _SERIES_FROM:
        return ()
    shown = dict.fromkeys(shape_of(result) for result in results)
    legend = ", ".join(f"{SHAPES[shape]} {MEANINGS[shape]}".replace(" ", _NO_BREAK) for shape in shown)
    shapes = f"{_head(crew)} {series_text(results)}".replace(" ", _NO_BREAK)
    return (f"{shapes}   ({legend})", *_packed((_short(tally(results)), *_goal(results, drill, left))))


def _head(crew: str) -> str:
    return tr("Crew {crew}:", crew=crew) if crew else tr("So far")


def series_picture(reports: Sequence[RoundReport]) -> RoundPicture:
    """Return the picture of the newest round among those before it. Raises IndexError without a round."""
    newest = reports[-1]
    kept = (report.picture for report in reports if report is newest or not report.taken_out)
    dots = tuple(dot for picture in kept for dot in picture.series)
    return msgspec.structs.replace(newest.picture, series=dots, tally=shapes_text(_series(reports)))


def _series(reports: Iterable[RoundReport]) -> list[RoundResult]:
    return [report.result for report in reports if not report.taken_out]


def _goal(results: Sequence[RoundResult], drill: Drill, left: int) -> tuple[str, ...]:
    return (goal_text(results, drill.goal, left),) if drill.goal else ()


def _short(found: Tally, *, briefly: bool = False) -> str:
    if not found.judged:
        return tr("None judged so far.")
    low, high = wilson(found.clean, found.judged)
    likely = (
        tr("{low:.0f} to {high:.0f} %", low=100 * low, high=100 * high) if briefly
        else tr("of many such rounds probably {low:.0f} to {high:.0f} %", low=100 * low, high=100 * high)
    )
    return tr("{clean} of {judged} clean: {likely}.", clean=found.clean, judged=found.judged, likely=likely)


def _packed(sentences: Iterable[str]) -> list[str]:
    """Return sentences in as few rows as they fit into, in their order."""
    rows: list[str] = []
    for sentence in sentences:
        if rows and len(rows[-1]) + 1 + len(sentence) <= _ROW_CHARACTERS:
            rows[-1] += f" {sentence}"
        else:
            rows.append(sentence)
    return rows


def _met(result: RoundResult) -> tuple[str, ...]:
    """Return for each threshold whether it was met, without what is missing."""
    return threshold_lines(result, most_ways=0)


def _ended_ns(run: Sequence[records.Record]) -> int:
    """Return when a run ended. Marks that were added later may be of another start of the machine, so of another
    clock."""
    ends = [record.at_ns for record in run if isinstance(record, records.End)]
    return ends[0] if ends else max(record.at_ns for record in run if not isinstance(record, records.Note))


def _home_call(run: Sequence[records.Record], clock: ClockHistory) -> tuple[int | None, CallKind]:
    """Return when the call home landed on the first channel that gave it, else when somebody marked that it was called;
    None if neither is known."""
    calls = (record for record in run if isinstance(record, records.FiringRecord) and record.cue == HOME_CUE)
    landed = [clock.without_holds(ns) for call in calls if (ns := clock.landed_ns(call)) is not None]
    if landed:
        return min(landed), "landed"
    marked = [mark.begin_ns for mark in counted_marks(records.marks_of(run)) if mark.label == CALLED and mark.is_ours]
    return min((clock.without_holds(ns) for ns in marked), default=None), "marked"


def _planned_call_ns(timeline: Timeline, origins: Iterable[Origin]) -> int | None:
    """Return when the plan first calls home, None where it does not, or not at a time that the origins tell."""
    known = {origin.anchor: origin for origin in origins}
    return min(
        (
            known[firing.begin.anchor].real_ns(firing.begin.offset_ns)
            for firing in timeline.firings
            if firing.cue == HOME_CUE and firing.begin.anchor in known
            and firing.when in ("", timeline.default_variant)
        ),
        default=None,
    )  # fmt: skip


def _without_holds(mark: Mark, clock: ClockHistory) -> Mark:
    end_ns = None if mark.end_ns is None else clock.without_holds(mark.end_ns)
    return msgspec.structs.replace(mark, begin_ns=clock.without_holds(mark.begin_ns), end_ns=end_ns)


def _is_watched(run: Sequence[records.Record], rule: Clean) -> bool:
    """Return whether somebody was there to mark what happened, so that nothing marked means that nothing happened: a
    mark that holds says so, or a note; or the rule asks only for what must not be. That the call came says nothing of
    the robots."""
    if rule.never and rule == Clean(never=rule.never):
        return True
    return said_watched(run) or any(mark.label != CALLED for mark in standing(records.marks_of(run)))


def _is_disturbed(run: Iterable[records.Record]) -> bool:
    return any(isinstance(record, records.Fault) and record.what in _DISTURBED for record in run)


def _was_held(run: Iterable[records.Record]) -> bool:
    return any(isinstance(record, records.State) and record.held_ns is not None for record in run)
