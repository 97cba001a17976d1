"""Say what a season tells of odd rounds, of evenings as they go on, and of learning; never why.

A change whose limits lie on both sides of nothing may be chance, and the sentence says so.
"""

from collections.abc import Iterable

from tocsin.analysis.review.answer import Answer, Figure
from tocsin.analysis.review.words.numbers import (
    limits_more,
    limits_percent,
    limits_sooner,
    percent,
    seconds,
    tenth,
    unclear_of,
)
from tocsin.analysis.seasons.row import Row
from tocsin.translation import tr, trn

#: By how many rounds a slope is told: of an evening, and of a battery. A single one moves times by hundredths.
EVENING_ROUNDS, BATTERY_ROUNDS = 10, 3


def odd_line(answer: Answer) -> str:
    """Return how many rounds were odd, beside how often one is by chance."""
    said = []
    odd, chance = answer.figure("odd"), answer.figure("odd_by_chance")
    if odd and odd.count:
        said.append(trn(
            "{count} push of {rounds} ended far later than is usual for its driver.",
            "{count} pushes of {rounds} ended far later than is usual for their drivers.", odd.count, rounds=odd.rounds,
        ))  # fmt: skip
        if chance and chance.value is not None:
            share = max(1, round(100 * chance.value))
            said.append(tr("By chance alone, {share} of 100 such evenings would have one.", share=share))
    elif odd:
        said.append(trn("The push was not odd.", "Of {count} pushes none was odd.", odd.rounds))
    if answer.verdict == "new_baseline":
        said.append(tr("Lead, plan or driver are new: what is usual is not known yet."))
    return " ".join(said)


def odd_rounds(answer: Answer, rows: Iterable[Row]) -> tuple[str, ...]:
    """Return each odd round with when it was, its time, its set-up and its battery."""
    known = {row.folder: row for row in rows}
    said = []
    for folder in answer.marked:
        row = known.get(folder)
        if row is not None:
            number, time = row.round, seconds(row.break_off_at_least_s or 0.0)
            text = tr("{evening}, round {number}: {time} after the call", evening=row.evening, number=number, time=time)
            if row.setup:
                text = tr("{round}; {setup}", round=text, setup=row.setup)
            if row.battery_rounds is not None:
                text = trn(
                    "{round}; battery with {count} round before", "{round}; battery with {count} rounds before",
                    row.battery_rounds, round=text,
                )  # fmt: skip
            said.append(tr("{round}.", round=text))
    return tuple(said)


def tired_line(answer: Answer) -> str:
    """Return how times change as an evening goes on, and on a battery."""
    said, unclear = [], []
    by_round, by_battery = answer.figure("by_round"), answer.figure("by_battery")
    if by_round and by_round.value is not None:
        said.append(tr(
            "After {count} more rounds of an evening pushes end {change} ({limits}).", count=EVENING_ROUNDS,
            change=_later(by_round.value * EVENING_ROUNDS), limits=_limits(by_round, EVENING_ROUNDS),
        ))  # fmt: skip
        unclear.append(_may_be_chance(by_round, EVENING_ROUNDS))
    if by_battery and by_battery.value is not None:
        said.append(tr(
            "After {count} more rounds on a battery: {change} ({limits}).", count=BATTERY_ROUNDS,
            change=_later(by_battery.value * BATTERY_ROUNDS), limits=_limits(by_battery, BATTERY_ROUNDS),
        ))  # fmt: skip
        unclear.append(_may_be_chance(by_battery, BATTERY_ROUNDS))
    if len(said) == 2 and all(unclear):
        said.append(tr("Both may be chance."))
    else:
        said = [part for text, chance in zip(said, unclear, strict=True)
                for part in (text, *([tr("It may be chance.")] if chance else []))]  # fmt: skip
    if said and answer.verdict == "battery_as_rounds":
        said.append(tr("Evening and battery cannot be told apart: change batteries after unequal numbers of rounds."))
    return " ".join(said)


def learning_line(answer: Answer) -> str:
    """Return by how much times become shorter with twice as many rounds behind."""
    found = answer.figure("learning")
    if found is None or found.value is None:
        return ""
    words = {"change": percent(found.value), "limits": limits_percent(found)}
    by = answer.figure("learning_s")
    if by is None or by.value is None or not round(found.value):
        said = tr("With twice as many rounds behind them pushes end {change} ({limits}).", **words)
    elif not tenth(by.value):
        said = tr("With twice as many rounds behind them pushes end {change}, less than 0.1 s ({limits}).", **words)
    else:
        said = tr(
            "With twice as many rounds behind them pushes end {change}, about {time} ({limits}).",
            time=seconds(by.value), **words,
        )  # fmt: skip
    chance = [tr("It may be chance.")] if _may_be_chance(found, 1, digits=0) else []
    return " ".join((said, *chance, *_weeks(answer)))


def _weeks(answer: Answer) -> list[str]:
    """Return the last four weeks beside the four before, with what else may differ."""
    found = answer.figure("weeks", "difference")
    if found is None or found.value is None:
        return []
    return [
        tr(
            "Beside the four weeks before, pushes now end {change} ({limits}).", change=_later(found.value),
            limits=_limits(found, 1),
        ),
        tr("People, robots and set-ups may differ too."),
    ]


def matches_line(answer: Answer) -> str:
    """Return matches beside practice: contacts where a push was on, and when pushes end; always with what else differs.
    """
    said = []
    for_match, for_practice, apart = (answer.figure("contact", of) for of in ("match", "practice", "difference"))
    if for_match and for_practice and apart:
        said.append(tr(
            "Where a push was on at the call: contact in {x} of {n} matches and {y} of {m} rounds of practice called "
            "as planned (in matches {limits}).", x=for_match.count, n=for_match.rounds, y=for_practice.count,
            m=for_practice.rounds, limits=limits_more(apart),
        ))  # fmt: skip
        x, y = unclear_of(for_match), unclear_of(for_practice)
        if x or y:
            said.append(tr("Of {x} more matches and {y} more rounds only a video can tell.", x=x, y=y))
    time = answer.figure("break_off", "difference")
    if time and time.value is not None:
        said.append(tr(
            "In matches pushes end {change} ({limits}).", change=_later(time.value), limits=_limits(time, 1)
        ))  # fmt: skip
    elif time:
        said.append(tr("Of too many pushes nobody noted the end."))
    if said:
        said.append(tr("People, robots and opponents differ too."))
    return " ".join(said)


def is_clear(figure: Figure) -> bool:
    """Return whether a change is a finding: twice as far from nothing as its limits ask for, since who looks after each
    evening finds something sooner or later: by the limits themselves in a third of seasons in which nothing changes."""
    if figure.low is None or figure.high is None:
        return False
    beyond = (figure.high - figure.low) / 2
    return figure.low - beyond > 0 or figure.high + beyond < 0


def _later(change_s: float) -> str:
    shown = tenth(change_s)
    if not shown:
        return tr("neither sooner nor later")
    return tr("{time} later", time=seconds(shown)) if shown > 0 else tr("{time} sooner", time=seconds(shown))


def _limits(figure: Figure, times: int) -> str:
    low, high = (None if limit is None else -limit * times for limit in (figure.high, figure.low))
    return limits_sooner((low, high))


def _may_be_chance(figure: Figure, times: int, *, digits: int = 1) -> bool:
    """Return whether the limits, as they are printed, lie on both sides of nothing, or at it."""
    low, high = figure.low, figure.high
    return low is None or high is None or not (round(low * times, digits) > 0 or round(high * times, digits) < 0)
