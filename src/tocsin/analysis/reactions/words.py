"""Say the results of a reaction test in plain sentences, without names: the caller knows whose results they are."""

from collections.abc import Iterable, Sequence

from tocsin.analysis.order_statistics import fewest_for_both_sides
from tocsin.analysis.reactions.order import Condition
from tocsin.analysis.reactions.race_model import FEWEST, Race
from tocsin.analysis.reactions.scores import ConfidenceInterval, Score, Scores
from tocsin.translation import tr, trn

NO_FORECAST = tr(
    "These answers come from the bench, by somebody who waits. On the field eyes and hands are busy: a call is noticed "
    "later or not at all.",
)
UNKNOWN_DELAY = tr("These times include the device's delay, which is not known.")
UNKNOWN_KEY = tr("How long the pad or keyboard takes to report a press is not known and is part of all times.")
MORE_SIGNALS = tr("more blocks, or sessions of one person together")
MOST_APART_MS = 10.0                       # the spread of measuring that a vigilance test may have
_STEP = 0.1                                # between neighbouring percent points


def title(condition: Condition) -> str:
    """Return a condition's name for people.

    >>> title(("light",)), title(("rumble", "light"))
    ('Light', 'Rumble and light together')
    """
    words = " and ".join(condition).capitalize()
    return tr("{words} together", words=words) if len(condition) > 1 else words


def person_lines(scores: Scores, besides: Iterable[str] = ()) -> tuple[str, ...]:
    """Return a person's results: a line for each condition, one on false starts, the remarks in ``besides``, and what
    the results do not show."""
    lines = [score_line(score) for score in scores.scores]
    lines.append(_false_starts(scores))
    needed = fewest_for_both_sides(0.9)
    if any(score.p90_ms is not None and score.signals < needed for score in scores.scores):
        lines.append(tr(
            "Both sides of nine in ten take {needed} signals of a kind: {more_signals}.", needed=needed,
            more_signals=MORE_SIGNALS,
        ))
    if scores.void:
        lines.append(trn(
            "{count} trial did not count: a device did not give the signal.",
            "{count} trials did not count: a device did not give the signal.", scores.void,
        ))
    return (*lines, *besides, UNKNOWN_KEY, NO_FORECAST)


def score_line(score: Score) -> str:
    """Return one condition's results in a few sentences."""
    if not score.signals:
        return tr("{condition}: no signal that counts.", condition=title(score.condition))
    sentences = [f"{title(score.condition)}: {_answers(score)}.", f"{_lapses(score)}."]
    if score.speed_per_s is not None:
        sentences.append(tr("On average {speed_per:.2f} a second.", speed_per=score.speed_per_s))
    if not score.delay_known:
        sentences.append(UNKNOWN_DELAY)
    return " ".join(sentences)


def race_sentence(pair: Condition, race: Race | None) -> str:
    """Return how a pair works for a person, in one sentence; None is a race with too few answers."""
    name = title(pair)
    if race is None:
        return tr(
            "{name}: too few answers to compare (at least {fewest} each, to both and to either alone).", name=name,
            fewest=FEWEST,
        )
    cause = _cause(race.broken_at, clear=race.gain_interval[0] > 0)
    sentence = f"{name}: {_gain(race)}; {cause}."
    if race.apart_ms > MOST_APART_MS:
        sentence += tr(
            " (The two began {apart:.0f} ms apart, which makes this comparison unsure.)", apart=race.apart_ms,
        )
    return sentence


def _answers(score: Score) -> str:
    if score.median_ms is None:
        return tr("half or more of the signals were missed")
    text = tr(
        "half of the answers within {median:.0f} ms ({interval})", median=score.median_ms,
        interval=_interval(score.median_interval, 0.5),
    )
    if score.p90_ms is None:
        return text
    return tr(
        "{text}; nine in ten within {p90:.0f} ms ({interval})", text=text, p90=score.p90_ms,
        interval=_interval(score.p90_interval, 0.9),
    )


def _lapses(score: Score) -> str:
    missed = tr(", of them {missed} missed", missed=score.missed) if score.missed else ""
    lapses = trn(
        "{count} lapse ({lapse:.0f} ms or more) in {signals}", "{count} lapses ({lapse:.0f} ms or more) in {signals}",
        score.lapses, lapse=score.lapse_ms, signals=trn("{count} signal", "{count} signals", score.signals),
    )
    return f"{lapses}{missed}, {_false(score.false_starts)}"


def _interval(interval: ConfidenceInterval, share: float) -> str:
    if interval.low_ms is None and interval.high_ms is None:
        return tr(
            "too few signals to know how exact it is: {fewest_for_both_sides} are needed",
            fewest_for_both_sides=fewest_for_both_sides(share),
        )
    if interval.high_ms is None:
        return tr("95 %: {low:.0f} or more", low=interval.low_ms)
    if interval.low_ms is None:
        return tr("95 %: {high:.0f} or less", high=interval.high_ms)
    return tr("95 %: {low:.0f} to {high:.0f}", low=interval.low_ms, high=interval.high_ms)


def _false_starts(scores: Scores) -> str:
    between = tr(", {outside} of them between the answer windows", outside=scores.outside) if scores.outside else ""
    return tr(
        "{false_starts} in all{between}, with {catches} where nothing came.", false_starts=_false(scores.false_starts),
        between=between, catches=trn("{count} catch", "{count} catches", scores.catches),
    )


def _gain(race: Race) -> str:
    low_ms, high_ms = race.gain_interval
    amount = tr("{ahead} than the faster of the two alone", ahead=_ahead(race.gain_ms))
    luck = "" if low_ms > 0 or high_ms < 0 else tr(", which may be luck")
    if race.gain_ms < 0:
        low_ms, high_ms = -high_ms, -low_ms
    return tr("{amount}{luck} (95 %: {low:.0f} to {high:.0f})", amount=amount, luck=luck, low=low_ms, high=high_ms)


def _ahead(gain_ms: float) -> str:
    return (
        tr("{gain:.0f} ms faster", gain=abs(gain_ms)) if gain_ms >= 0
        else tr("{gain:.0f} ms slower", gain=abs(gain_ms))
    )


def _cause(broken_at: Sequence[float], *, clear: bool) -> str:
    """Return whether a race explains a pair; ``clear`` if its gain in the median is beyond luck."""
    if not broken_at:
        return tr("no more than having two chances")
    more = tr("more than") if clear else tr("its fastest answers come sooner than")
    return tr(
        "{more} two separate chances explain (race model broken at {percents})", more=more,
        percents=_percents(broken_at),
    )


def _percents(shares: Sequence[float]) -> str:
    """Return percent points in words, neighbours drawn together.

    >>> _percents((0.05, 0.15, 0.25)), _percents((0.05, 0.25, 0.35))
    ('5 to 25 %', '5 and 25 to 35 %')
    """
    runs: list[list[float]] = []
    for share in shares:
        if runs and share - runs[-1][-1] < 1.5 * _STEP:
            runs[-1].append(share)
        else:
            runs.append([share])
    texts = [
        f"{run[0]:.0%}" if len(run) == 1 else tr("{run:.0%} to {run_2:.0%}", run=run[0], run_2=run[-1]) for run in runs
    ]
    return tr(" and ").join(texts).replace("%", "") + " %"


def _false(count: int) -> str:
    return trn("{count} false start", "{count} false starts", count)
