"""Say what a decision comes to in plain sentences, each with what to do next."""

from collections.abc import Iterable, Iterator

from tocsin.analysis.decisions.choice import FEWEST_MATCHES, LEAST_GAIN, Advice, Number, Refusal
from tocsin.analysis.decisions.close_match import Fork, Returns, Spread, threshold
from tocsin.analysis.decisions.posterior import FEWEST_LAGS, Lag
from tocsin.analysis.decisions.turns import Turn
from tocsin.analysis.decisions.worth import DECIDED
from tocsin.translation import tr, trn


def price_of_return(second: tuple[float, float], full: float) -> str:
    """Return what a second of the call home costs, and when it pays."""
    low, high = second
    if not low:
        return tr("Calling home one second earlier costs up to {high} points a match.", high=points(high))
    matches = span(full / high, full / low, 0)
    return tr(
        "Calling home one second earlier costs {points} points a match. It pays if one robot more is all home, for "
        "{full} points, in {matches} matches.", points=span(low, high), full=points(full), matches=matches,
    )


def returns_more(advice: Advice) -> str:
    """Return in how many matches a change of the call home brings one robot more all home, or costs one."""
    if not advice.homes:
        return tr("As many robots are all home as before.")
    matches = max(1, round(1 / abs(advice.homes)))
    if advice.homes > 0:
        return trn(
            "One robot more is all home in {count} match.", "One robot more is all home in {count} matches.", matches
        )
    return trn(
        "One robot fewer is all home in {count} match.", "One robot fewer is all home in {count} matches.", matches
    )


def hangs(refusal: Refusal, now_s: float) -> str:
    """Return on which numbers it hangs whether a lead is changed, and where it turns."""
    then, now = seconds(refusal.lead_s or 0.0), seconds(now_s)
    if len(refusal.hangs_on) == 1 and refusal.turns_at is not None:
        facts = {"at": _at(refusal.hangs_on[0], refusal.turns_at), "now": now, "then": then}
        if refusal.below:
            return tr("{at}: below that take {then}, above it stay at {now}.", **facts)
        return tr("{at}: below that stay at {now}, above it take {then}.", **facts)
    numbers = ", ".join(_named(number) for number in refusal.hangs_on)
    return tr("{then} may be better than {now}: it hangs on {numbers}.", then=then, now=now, numbers=numbers)


def learn(numbers: Iterable[Number]) -> str:
    """Return how to learn numbers that are not known."""
    return " ".join(_how_to_learn(number) for number in numbers)


def scribes_lag(lag: Lag) -> str:
    """Return how late a scribe's marks are taken to be, and whose figure that is."""
    if lag.pushes:
        return tr(
            "Key marks come {low} to {high} s late: {count} pushes that a video shows too say so.",
            low=f"{lag.low_s:.2f}", high=f"{lag.high_s:.2f}", count=lag.pushes,
        )
    return tr(
        "Key marks are taken to come {low} to {high} s late, as is usual.", low=f"{lag.low_s:g}", high=f"{lag.high_s:g}"
    )


def fork(one: Fork) -> str | None:
    """Return when to choose which, as a threshold in points. Of pushing on it only says when to let go, and nothing
    without a threshold: people are not to learn that the call may be ignored."""
    near = min(one.turns, key=abs, default=None)
    if near is None:
        return _always(one) if one.name == "return" else None
    above_is_sure = one.is_bold(near - 1e-6)
    lead = threshold(near)
    if one.name == "return":
        return _return(lead, above_is_sure=above_is_sure)
    return _let_go_from(lead) if above_is_sure else _let_go_to(lead - 1)


def fork_rests_on(one: Fork, spread: Spread, returns: Returns | None = None) -> Iterator[str]:
    """Yield what such a threshold rests on."""
    if spread.matches:
        yield trn(
            "By the score of {count} match, a lead ends up about {spread} points off.",
            "By the scores of {count} matches, a lead ends up about {spread} points off.", spread.matches,
            spread=points(one.spread),
        )
    elif spread.said:
        yield tr("You said: a lead ends up about {spread} points off.", spread=points(one.spread))
    else:
        yield tr(
            "A lead is taken to end up about {spread} points off: note the scores of {matches} matches, then it is "
            "known.", spread=points(one.spread), matches=FEWEST_MATCHES,
        )
    if returns is not None and one.name == "return":
        yield tr(
            "All home: {full} of {tried} tries. At least half home: {half} of {rounds}.", full=returns.full.came,
            tried=returns.full.rounds, half=returns.half.came, rounds=returns.half.rounds,
        )
    yield tr("This is for the last seconds of a close match. It changes no plan.")


def _always(one: Fork) -> str:
    return tr("At any score, go all the way in.") if one.bold_behind else tr("At any score, take the sure half.")


def _return(lead: int, *, above_is_sure: bool) -> str:
    if lead > 0:
        if above_is_sure:
            return tr("All the way in, unless you are ahead by {lead} or more: then the sure half.", lead=lead)
        return tr("The sure half, unless you are ahead by {lead} or more: then all the way in.", lead=lead)
    if above_is_sure:
        return tr("The sure half, unless you are behind by {lead} or more: then all the way in.", lead=1 - lead)
    return tr("All the way in, unless you are behind by {lead} or more: then the sure half.", lead=1 - lead)


def _let_go_from(lead: int) -> str:
    if lead > 0:
        return tr("Ahead by {lead} or more: let go at once at the call.", lead=lead)
    if not lead:
        return tr("Ahead or level: let go at once at the call.")
    return tr("Ahead, level, or behind by at most {lead}: let go at once at the call.", lead=-lead)


def _let_go_to(lead: int) -> str:
    if lead < 0:
        return tr("Behind by {lead} or more: let go at once at the call.", lead=-lead)
    if not lead:
        return tr("Behind or level: let go at once at the call.")
    return tr("Behind, level, or ahead by at most {lead}: let go at once at the call.", lead=lead)


def no_longer(turn: Turn) -> str:
    """Return with which value of a number a change is no longer advised."""
    match turn.number:
        case "second":
            value = f"{turn.at:.2f}"
            return (
                tr("A second is worth less than {points} points.", points=value) if turn.below
                else tr("A second is worth more than {points} points.", points=value)
            )
        case "pushes":
            share = round(100 * turn.at)
            return (
                tr("A push is on at the call in fewer than {share} of 100 matches.", share=share) if turn.below
                else tr("A push is on at the call in more than {share} of 100 matches.", share=share)
            )
        case "lag":
            late = f"{turn.at:.2f}"
            return (
                tr("The scribe's key comes less than {late} s late.", late=late) if turn.below
                else tr("The scribe's key comes more than {late} s late.", late=late)
            )


def rule() -> str:
    """Return what it takes to be advised."""
    return tr(
        "Advice takes a gain of at least {least} points a match, sure {sure} times in 10.", least=f"{LEAST_GAIN:g}",
        sure=round(10 * DECIDED),
    )


def _at(number: Number, value: float) -> str:
    match number:
        case "second":
            return tr("It turns where a second is worth {points} points", points=f"{value:.2f}")
        case "pushes":
            return tr("It turns where a push is on at the call in {share} of 100 matches", share=round(100 * value))
        case "lag":
            return tr("It turns where the scribe's key comes {late} s late", late=f"{value:.2f}")


def _named(number: Number) -> str:
    return {
        "second": tr("what a second is worth"), "pushes": tr("how often a push is on at the call"),
        "lag": tr("how late the scribe's key comes"),
    }[number]  # fmt: skip


def _how_to_learn(number: Number) -> str:
    match number:
        case "second":
            return tr("Count what you score in the last minute, a second, and say it with --second.")
        case "pushes":
            return tr(
                "Mark {matches} matches: they show how often a push is on at the call.", matches=FEWEST_MATCHES
            )
        case "lag":
            return tr(
                "Mark {pushes} pushes by key and from a video: they show how late key marks come.", pushes=FEWEST_LAGS
            )


def seconds(value_s: float) -> str:
    """Return seconds as they are read."""
    return tr("{seconds} s", seconds=f"{value_s:g}")


def points(value: float) -> str:
    """Return points as they are read."""
    return f"{value:.1f}".removesuffix(".0")


def span(low: float, high: float, digits: int = 2) -> str:
    """Return from where to where something lies, or the one figure that both are."""
    one, two = (f"{round(value, digits):g}" for value in (low, high))
    return one if one == two else tr("{low} to {high}", low=one, high=two)
