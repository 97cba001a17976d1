"""Say which of two things that the drill dealt by lot is better, or how much longer it takes to know.

"Better" is said of what a team may choose: the coach, the signals, the plan. Of set-ups and of calls that the lot moved
it is only said where pushes end sooner: an earlier call that is used up is not better. Nor is it said of what ends
pushes sooner while more of its rounds had a contact.
"""

from tocsin.analysis.review.answer import Answer, Comparison, Figure, Lacking
from tocsin.analysis.review.words.numbers import limits_sooner, seconds, tenth
from tocsin.translation import tr

CHOSEN = ("coach", "draw_out", "plan_dealt")
_SURE = "surely_better"
BETTER = ("better", _SURE)


def better_line(answer: Answer) -> str:
    """Return the comparison that matters most: that of the question of the month, else the first with a verdict."""
    told = [one for one in answer.comparisons if one.verdict != "not_yet"]
    told.sort(key=lambda one: (not one.named, one.verdict not in BETTER))
    return comparison_line(answer, told[0]) if told else ""


def comparison_lines(answer: Answer) -> tuple[str, ...]:
    """Return a sentence for each comparison that has a verdict, the question of the month first."""
    return tuple(comparison_line(answer, one) for one in answer.comparisons if one.verdict != "not_yet")


def comparison_line(answer: Answer, one: Comparison) -> str:
    """Return a comparison as a sentence: what is better, or that it makes no difference that matters."""
    first, second = value_words(one.factor, one.first), value_words(one.factor, one.second)
    if one.verdict == "not_yet":
        return tr("{first} or {second}: not yet.", first=_begin(first), second=second)
    if one.verdict == "no_difference":
        return tr("{first} or {second}: no difference that matters.", first=_begin(first), second=second)
    less, more = (first, second) if one.less == one.first else (second, first)
    if one.outcome == "contact":
        return _by_contact(answer, one, less, more)
    return " ".join(filter(None, (_by_seconds(answer, one, less, more), _beside(answer, one, less, more))))


def is_opposed(answer: Answer, one: Comparison) -> bool:
    """Return whether the value that ends pushes sooner had a contact in more of its rounds: then it is not better."""
    low, high = _contacts(answer, one)
    return one.outcome != "contact" and low is not None and high is not None and (low.value or 0) > (high.value or 0)


def not_yet_better(lacking: Lacking) -> str:
    """Return what is not known yet of a comparison, as part of a sentence."""
    return compared_words(lacking.of)


def compared_words(of: str) -> str:
    """Return what is compared, and by what, as part of a sentence; ``of`` is as comparisons have it."""
    factor, _, rest = of.partition(": ")
    values, _, outcome = rest.rpartition(": ")
    first, between, second = values.partition(" / ")
    if not between:
        return tr("which of two things is better that the drill dealt by lot")
    words = {"first": value_words(factor, first), "second": value_words(factor, second)}
    match outcome:
        case "contact":
            return tr("{first} or {second}, by contacts", **words)
        case "turn":
            return tr("{first} or {second}, by the time to the turn", **words)
        case _:
            return tr("{first} or {second}, by when pushes end", **words)


def value_words(factor: str, value: str) -> str:
    """Return a value that was dealt as people call it."""
    match factor, value:
        case "coach", "calling":
            return tr("coach calling")
        case "coach", "silent":
            return tr("coach silent")
        case "draw_out", "none":
            return tr("all signals")
        case "draw_out", _:
            return tr("without {channel}", channel=value)
        case "plan_dealt", _:
            return tr("plan {plan}", plan=value)
        case "shift_s", "0 s":
            return tr("called as planned")
        case "shift_s", _ if value.startswith("-"):
            return tr("called {seconds} later", seconds=value[1:])
        case "shift_s", _:
            return tr("called {seconds} earlier", seconds=value.lstrip("+"))
        case "late_start_s", "0 s":
            return tr("begun on time")
        case "late_start_s", _:
            return tr("begun {seconds} late", seconds=value.lstrip("+"))
    return value


def _by_seconds(answer: Answer, one: Comparison, less: str, more: str) -> str:
    found = answer.figure("difference", one.of)
    side = 1 if one.less == one.first else -1          # the figure is the second value less the first
    gain = tenth(side * found.value) if found and found.value is not None else 0.0
    words = {"less": _begin(less), "more": more}
    chosen = one.factor in CHOSEN and not is_opposed(answer, one)
    if found is None or gain <= 0:
        # The most evidence of all looks counts, so by now the mean may say less, or something else.
        match chosen, one.verdict == _SURE:
            case True, True:
                return tr("{less} is surely better than {more}: by how much is not clear.", **words)
            case True, False:
                return tr("{less} is better than {more}: by how much is not clear.", **words)
        return tr("{less} and {more} differ: by how much is not clear.", **words)
    words |= {"time": seconds(gain), "limits": limits_sooner(_sided(found, side))}
    match chosen, one.verdict == _SURE, one.outcome:
        case True, True, "turn":
            return tr("{less} is surely better than {more}: robots turn {time} sooner ({limits}).", **words)
        case True, True, _:
            return tr("{less} is surely better than {more}: pushes end {time} sooner ({limits}).", **words)
        case True, False, "turn":
            return tr("{less} is better than {more}: robots turn {time} sooner ({limits}).", **words)
        case True, False, _:
            return tr("{less} is better than {more}: pushes end {time} sooner ({limits}).", **words)
        case _, _, "turn":
            return tr("{less}: robots turn {time} sooner than {more} ({limits}).", **words)
    return tr("{less}: pushes end {time} sooner than {more} ({limits}).", **words)


def _by_contact(answer: Answer, one: Comparison, less: str, more: str) -> str:
    low, high = _contacts(answer, one)
    words: dict[str, object] = {"less": _begin(less), "more": more}
    if low and high:
        words |= {"x": low.count, "n": low.rounds, "y": high.count, "m": high.rounds}
    match one.factor in CHOSEN, one.verdict == _SURE:
        case True, True:
            return tr("{less} is surely better than {more}: contact in {x} of {n} rounds, not {y} of {m}.", **words)
        case True, False:
            return tr("{less} is better than {more}: contact in {x} of {n} rounds, not {y} of {m}.", **words)
    return tr("{less}: contact in {x} of {n} rounds; {more}: in {y} of {m}.", **words)


def _beside(answer: Answer, one: Comparison, less: str, more: str) -> str:
    """Return the contacts beside what is sooner; that they differ may be chance where their limits overlap, and they
    are not compared by contacts with a verdict."""
    low, high = _contacts(answer, one)
    if low is None or high is None:
        return ""
    words = {"x": low.count, "n": low.rounds, "y": high.count, "m": high.rounds, "less": less, "more": more}
    fewer, greater = sorted((low, high), key=lambda figure: figure.value or 0)
    values = one.factor, one.first, one.second
    apart = (fewer.high is not None and greater.low is not None and fewer.high < greater.low) or any(
        other.outcome == "contact" and other.verdict in BETTER and (other.factor, other.first, other.second) == values
        for other in answer.comparisons
    )
    if apart or fewer.value == greater.value:
        return tr("Contact in {x} of {n} rounds with {less}, in {y} of {m} with {more}.", **words)
    return tr("Contact in {x} of {n} rounds with {less}, in {y} of {m} with {more}: that may be chance.", **words)


def _contacts(answer: Answer, one: Comparison) -> tuple[Figure | None, Figure | None]:
    """Return the contacts of the value that is less, and of the other."""
    other = one.second if one.less == one.first else one.first
    return answer.figure("contact", f"{one.of}: {one.less}"), answer.figure("contact", f"{one.of}: {other}")


def _sided(figure: Figure, side: int) -> tuple[float | None, float | None]:
    """Return the limits of how much sooner it is."""
    low, high = figure.low, figure.high
    if side > 0:
        return low, high
    return None if high is None else -high, None if low is None else -low


def _begin(words: str) -> str:
    return words[:1].upper() + words[1:]
