"""Say the results of a reaction test in plain sentences, without names: the caller knows whose results they are."""

from collections.abc import Iterable, Sequence

from tocsin.analysis.order_statistics import fewest_for_both_sides
from tocsin.analysis.reactions.order import Condition
from tocsin.analysis.reactions.race_model import FEWEST, Race
from tocsin.analysis.reactions.scores import ConfidenceInterval, Score, Scores

NO_FORECAST = (
    "These are answers on the bench, by somebody who waits for signals. They are no forecast for the field: there "
    "eyes and hands are busy, and a call is noticed later or not at all."
)
UNKNOWN_DELAY = "Its device's own delay is not known and is part of these times."
UNKNOWN_KEY = "How long the pad or keyboard takes to report a press is not known and is part of all times."
MORE_SIGNALS = "more blocks, or sessions of one person together"
MOST_APART_MS = 10.0                       # the spread of measuring that a vigilance test may have
_STEP = 0.1                                # between neighbouring percent points


def title(condition: Condition) -> str:
    """Return a condition's name for people.

    >>> title(("light",)), title(("rumble", "light"))
    ('Light', 'Rumble and light together')
    """
    words = " and ".join(condition).capitalize()
    return f"{words} together" if len(condition) > 1 else words


def person_lines(scores: Scores, besides: Iterable[str] = ()) -> tuple[str, ...]:
    """Return a person's results: a line for each condition, one on false starts, the remarks in ``besides``, and what
    the results do not show."""
    lines = [score_line(score) for score in scores.scores]
    lines.append(_false_starts(scores))
    needed = fewest_for_both_sides(0.9)
    if any(score.p90_ms is not None and score.signals < needed for score in scores.scores):
        lines.append(f"Both sides of nine in ten take {needed} signals of a kind: {MORE_SIGNALS}.")
    if scores.void:
        lines.append(f"{_count(scores.void, 'trial')} did not count: a device did not give the signal.")
    return (*lines, *besides, UNKNOWN_KEY, NO_FORECAST)


def score_line(score: Score) -> str:
    """Return one condition's results in a few sentences."""
    if not score.signals:
        return f"{title(score.condition)}: no signal that counts."
    sentences = [f"{title(score.condition)}: {_answers(score)}.", f"{_lapses(score)}."]
    if score.speed_per_s is not None:
        sentences.append(f"Mean speed {score.speed_per_s:.2f} a second.")
    if not score.delay_known:
        sentences.append(UNKNOWN_DELAY)
    return " ".join(sentences)


def race_sentence(pair: Condition, race: Race | None) -> str:
    """Return how a pair works for a person, in one sentence; None is a race with too few answers."""
    name = title(pair)
    if race is None:
        return f"{name}: too few answers to compare (at least {FEWEST} each, to both and to either alone)."
    cause = _cause(race.broken_at, clear=race.gain_interval[0] > 0)
    sentence = f"{name}: {_gain(race)}; {cause}."
    if race.apart_ms > MOST_APART_MS:
        sentence += f" (The two began {race.apart_ms:.0f} ms apart, which makes this comparison unsure.)"
    return sentence


def _answers(score: Score) -> str:
    if score.median_ms is None:
        return "half or more of the signals were missed"
    text = f"half of the answers within {score.median_ms:.0f} ms ({_interval(score.median_interval, 0.5)})"
    if score.p90_ms is None:
        return text
    return f"{text}; nine in ten within {score.p90_ms:.0f} ms ({_interval(score.p90_interval, 0.9)})"


def _lapses(score: Score) -> str:
    missed = f", of them {score.missed} missed" if score.missed else ""
    lapses = f"{_count(score.lapses, 'lapse')} ({score.lapse_ms:.0f} ms or more) in {_count(score.signals, 'signal')}"
    return f"{lapses}{missed}, {_count(score.false_starts, 'false start')}"


def _interval(interval: ConfidenceInterval, share: float) -> str:
    if interval.low_ms is None and interval.high_ms is None:
        return f"an interval needs {fewest_for_both_sides(share)} signals"
    if interval.high_ms is None:
        return f"95 %: {interval.low_ms:.0f} or more"
    if interval.low_ms is None:
        return f"95 %: {interval.high_ms:.0f} or less"
    return f"95 %: {interval.low_ms:.0f} to {interval.high_ms:.0f}"


def _false_starts(scores: Scores) -> str:
    count = _count(scores.false_starts, "false start")
    between = f", {scores.outside} of them between the answer windows" if scores.outside else ""
    return f"{count} in all{between}, with {_count(scores.catches, 'catch', 'catches')} where nothing came."


def _gain(race: Race) -> str:
    low_ms, high_ms = race.gain_interval
    amount = f"{_ahead(race.gain_ms)} than the faster of the two alone"
    luck = "" if low_ms > 0 or high_ms < 0 else ", which may be luck"
    if race.gain_ms < 0:
        low_ms, high_ms = -high_ms, -low_ms
    return f"{amount}{luck} (95 %: {low_ms:.0f} to {high_ms:.0f})"


def _ahead(gain_ms: float) -> str:
    return f"{abs(gain_ms):.0f} ms {'faster' if gain_ms >= 0 else 'slower'}"


def _cause(broken_at: Sequence[float], *, clear: bool) -> str:
    """Return whether a race explains a pair; ``clear`` if its gain in the median is beyond luck."""
    if not broken_at:
        return "no more than having two chances"
    more = "more than" if clear else "its fastest answers come sooner than"
    return f"{more} two separate chances explain (race model broken at {_percents(broken_at)})"


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
    texts = [f"{run[0]:.0%}" if len(run) == 1 else f"{run[0]:.0%} to {run[-1]:.0%}" for run in runs]
    return " and ".join(texts).replace("%", "") + " %"


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
