"""Say what stands below the sentence of advice: what it rests on, and what would turn it."""

from collections.abc import Iterator

from tocsin.analysis.decisions.choice import FEWEST_MATCHES, Number
from tocsin.analysis.decisions.close_match import Fork
from tocsin.analysis.decisions.curve import LeadCurve
from tocsin.analysis.decisions.words import (
    fork,
    fork_rests_on,
    learn,
    no_longer,
    points,
    price_of_return,
    returns_more,
    rule,
    scribes_lag,
    seconds,
    span,
)
from tocsin.analysis.review.changes import LeadContacts
from tocsin.features.advice.answer import AdviceDocument, Change, LeadAnswer
from tocsin.features.advice.call_home import PARTNER_HOME
from tocsin.lint.leads import HOME
from tocsin.translation import tr, trn


def details(document: AdviceDocument) -> Iterator[tuple[str, str]]:
    """Yield what is said of the told lead: a word, and what it is about."""
    answer = document.told
    if answer.now_s is None or answer.records is None:
        return
    change = answer.change
    yield tr("now"), _call(document, answer, answer.now_s)
    if change is not None:
        yield tr("then"), _call(document, answer, change.lead_s)
        yield tr("gain"), tr(
            "{gain} points a match; 8 times in 10 it lies between {low} and {high}.", gain=points(change.gain),
            low=points(change.low), high=points(change.high),
        )
    missing = _missing(answer)
    if missing:
        yield tr("to learn"), learn(missing)
    yield tr("a second"), _price(answer)
    if answer.curve is not None and _is_above(answer, answer.curve):
        yield tr("check"), _check(answer.lead, answer.least_s, answer.curve.flat_to_s)
    if change is not None and answer.lead == HOME:
        yield tr("returns"), returns_more(change)
    elif change is not None:
        yield tr("contacts"), _contacts(change)
    if answer.season is not None and answer.weighed_s is not None and answer.season.saw_more_at(answer.weighed_s):
        yield tr("season"), _beside_season(answer.season, longer=answer.weighed_s > answer.now_s)
    yield tr("rests on"), _rests_on(answer)
    yield tr("assumed"), " ".join(_assumed(answer))
    if change is not None:
        turns = [no_longer(turn) for turn in change.turns] or [tr("Nothing plausible turns it alone.")]
        yield tr("turns if"), " ".join([*turns, rule()])


def close_match_lines(document: AdviceDocument) -> Iterator[str]:
    """Yield what to do ahead or behind at the end of a close match; what it rests on only where somebody asked."""
    found = document.close_match
    if found is None or not found.forks:
        return
    said = found.spread.said or found.spread.ahead_said
    told = [(one, text) for one in found.forks if (text := fork(one)) is not None]
    if not told:
        return
    yield tr("A close match:")
    for one, text in told:
        yield f"  {text}"
        if found.spread.ahead_said and (now := _now(one, found.spread.ahead)):
            yield f"  {now}"
    if not said:
        return
    for text in fork_rests_on(found.forks[0], found.spread, found.returns):
        yield f"  {text}"


def _now(one: Fork, ahead: float) -> str:
    """Return what is best at the lead that was said; nothing where it would be to push on."""
    is_bold = one.is_bold(ahead)
    if one.name == "return":
        best = tr("all the way in") if is_bold else tr("the sure half")
    elif is_bold:
        return ""
    else:
        best = tr("let go at once at the call")
    if ahead < 0:
        return tr("Behind by {points}: {best}.", points=points(-ahead), best=best)
    return tr("Ahead by {points}: {best}.", points=points(ahead), best=best)


def _call(document: AdviceDocument, answer: LeadAnswer, lead_s: float) -> str:
    if answer.lead == HOME:
        return tr("{lead} before the end of the match", lead=seconds(lead_s))
    return tr("{lead} before '{window}' begins", lead=seconds(lead_s), window=document.window)


def _price(answer: LeadAnswer) -> str:
    low, high = answer.second
    if answer.full is not None:
        return price_of_return(answer.second, answer.full)
    if not low:
        return tr("A call one second earlier costs up to {high} points a match.", high=points(high))
    contact = answer.contact or 0.0
    return tr(
        "A call one second earlier costs {points} points a match. It pays if it saves one contact of {contact} points "
        "in {matches} matches.", points=span(low, high), contact=points(contact),
        matches=span(contact / high, contact / low, 0),
    )


def _is_above(answer: LeadAnswer, curve: LeadCurve) -> bool:
    """Return whether `tocsin check` asks for a lead that is surely beyond the flat part of the curve."""
    return any(curve.flat_to_s < point.lead_s <= answer.least_s for point in curve.points)


def _check(lead: str, least_s: float, flat_to_s: float) -> str:
    """Return why `tocsin check` asks for a longer lead than is worth it in points: its limits are what nine in ten
    need."""
    facts = {"least": seconds(least_s), "flat": seconds(flat_to_s)}
    if lead == HOME:
        return tr(
            "`tocsin check` wants {least}: it leaves room for nine in ten ways home. This weighs points: a lead beyond "
            "{flat} costs more than it saves. Both are right.", **facts,
        )
    return tr(
        "`tocsin check` wants {least}: it leaves room for nine in ten pushes. This weighs points: a lead beyond {flat} "
        "costs more than it saves. Both are right.", **facts,
    )


def _contacts(change: Change) -> str:
    if not change.contacts:
        return tr("as many as before")
    matches = max(1, round(1 / abs(change.contacts)))
    if change.contacts > 0:
        return trn("one saved in {count} match", "one saved in {count} matches", matches)
    return trn("one more in {count} match", "one more in {count} matches", matches)


def _beside_season(season: LeadContacts, *, longer: bool) -> str:
    """Return why a season's page seems to say the other: it tells contacts before and after a change of the lead."""
    facts = {
        "then": seconds(season.before_s), "now": seconds(season.after_s), "x": season.before[0], "n": season.before[1],
        "y": season.after[0], "m": season.after[1],
    }  # fmt: skip
    if longer:
        return tr(
            "The season's page counts contacts: in {x} of {n} rounds with {then}, in {y} of {m} with {now}. This goes "
            "by when pushes end after the call instead: by that a longer lead saves contacts, whatever else changed "
            "then.", **facts,
        )
    return tr(
        "The season's page counts contacts alone: in {x} of {n} rounds with {then}, in {y} of {m} with {now}. This "
        "goes by when pushes end after the call, and also counts the play that a longer lead costs.", **facts,
    )


def _missing(answer: LeadAnswer) -> tuple[Number, ...]:
    """Return the numbers that are worth learning: those that advice hangs on, then those that were only taken."""
    seen = answer.pushes_seen is not None and answer.pushes_seen[1] >= FEWEST_MATCHES
    taken: dict[Number, bool] = {
        "lag": answer.lag is not None and not answer.lag.pushes, "pushes": answer.pushes is not None and not seen,
    }  # fmt: skip
    hangs = answer.refused.hangs_on if answer.refused is not None else ()
    return tuple(dict.fromkeys([*hangs, *(number for number, is_taken in taken.items() if is_taken)]))


def _rests_on(answer: LeadAnswer) -> str:
    assert answer.records is not None
    rounds = (
        trn("{count} way home", "{count} ways home", answer.records.pushes) if answer.lead == HOME
        else trn("{count} push that the call found", "{count} pushes that the call found", answer.records.pushes)
    )
    if not answer.evenings:
        return rounds
    evenings = trn("{count} evening", "{count} evenings", answer.records.evenings)
    first, last = answer.evenings[0][:10], answer.evenings[-1][:10]
    return tr("{rounds}, on {evenings}, {first} to {last}", rounds=rounds, evenings=evenings, first=first, last=last)


def _assumed(answer: LeadAnswer) -> Iterator[str]:
    if answer.lead == HOME:
        yield tr("The partner is home in {share} of 100 matches.", share=round(100 * PARTNER_HOME))
    else:
        yield _pushes(answer)
        yield _follows(answer)
    if answer.lag is not None:
        yield scribes_lag(answer.lag)
    yield tr(
        "The clock of the match starts {late} s late, {spread} s more or less (your rig).", late=f"{answer.late_s:.2f}",
        spread=f"{answer.spread_s:.2f}",
    )


def _pushes(answer: LeadAnswer) -> str:
    if answer.pushes_seen is not None and answer.pushes_seen[1] >= FEWEST_MATCHES:
        return tr(
            "A push was on at the call in {pushes} of {matches} matches.", pushes=answer.pushes_seen[0],
            matches=answer.pushes_seen[1],
        )
    low, high = answer.pushes or (0.0, 0.0)
    return tr(
        "A push is on at the call in {share} of 100 matches: said, not seen.", share=span(100 * low, 100 * high, 0)
    )


def _follows(answer: LeadAnswer) -> str:
    if answer.follows is None:
        return tr("With an earlier call pushes end as much earlier: no drill of yours has tried it.")
    return tr(
        "With a call a second earlier pushes end {follows} s earlier: your rounds with moved calls say so.",
        follows=f"{answer.follows:.1f}",
    )
