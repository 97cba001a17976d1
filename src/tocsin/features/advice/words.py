"""Say advice in sentences: first the one that matters."""

from collections.abc import Iterator

from tocsin.analysis.decisions.choice import (
    FEWEST_EVENINGS,
    FEWEST_PUSHES,
    FROZEN_DAYS,
    LEAST_GAIN,
    MOST_CLOCK_SPREAD_S,
    MOST_OLD,
    MOST_UNCOUNTED,
    MOST_UNKNOWN,
    OLD_DAYS,
    SETTLED_EVENINGS,
    Records,
    Refusal,
)
from tocsin.analysis.decisions.words import hangs, points, seconds
from tocsin.analysis.decisions.worth import MOST
from tocsin.features.advice.answer import AdviceDocument, Change, LeadAnswer, PlanLine, Unfit
from tocsin.lint.leads import HOME
from tocsin.translation import tr, trn

FROZEN = tr("FROZEN")
INVENTED = tr("An invented team: nobody drove these rounds.")


def sentence(document: AdviceDocument) -> str:
    """Return the one sentence that matters."""
    return said_of(document, document.told)


def said_of(document: AdviceDocument, answer: LeadAnswer) -> str:
    """Return what is said of one lead."""
    if answer.change is not None:
        return _advised(answer.lead, answer.now_s or 0.0, answer.change)
    if answer.unfit is not None:
        return _unfit(document, answer, answer.unfit)
    assert answer.refused is not None
    return _refused(document, answer, answer.refused)


def line_lines(document: AdviceDocument) -> tuple[str, ...]:
    """Return what to type, and where; nothing where nothing is to be changed."""
    change = document.told.change
    if change is None:
        return ()
    line = change.plan_line
    if document.bundled and line is not None:
        return _in_a_copy(line), f"    {line.text}"
    if line is None:
        return (
            tr(
                "In {file} set the lead {lead} to {then}. Tocsin changes nothing itself.", file=document.file,
                lead=document.told.lead, then=seconds(change.lead_s),
            ),
        )
    where = tr(
        "In {file}, line {line}, write this. Tocsin changes nothing itself.", file=line.file, line=line.line
    )
    return where, f"    {line.text}"


def _in_a_copy(line: PlanLine) -> str:
    """Return where to change a bundled plan: in the copy that `tocsin init` makes, line by line the same."""
    return tr(
        "{file} comes with Tocsin and stays as it is. `tocsin init my_team --examples` writes a copy of your own: in "
        "{copy}, line {line}, write this.", file=line.file, copy=f"my_team/examples/{line.file}", line=line.line,
    )


def curve_lines(document: AdviceDocument) -> Iterator[str]:
    """Yield the curve in a few lines, and below what `tocsin check` wants."""
    answer = document.told
    if answer.curve is None:
        return
    yield tr("Points a match against today, and between which they lie 8 times in 10:")
    for point in answer.curve.points:
        if round(point.lead_s * 4) % 2 and point.lead_s != answer.now_s:       # each half second
            continue
        flat = answer.curve.flat_from_s <= point.lead_s <= answer.curve.flat_to_s
        shown = f"  {seconds(point.lead_s):>6}  {point.gain:+5.1f}  ({point.low:+.1f} .. {point.high:+.1f})"
        now = tr("now") if point.lead_s == answer.now_s else ""
        then = tr("advised") if answer.change is not None and point.lead_s == answer.change.lead_s else ""
        yield "  ".join(filter(None, [shown, now, then, tr("about as good as the best") if flat else ""]))
    if answer.curve.points[0].lead_s < answer.least_s < answer.curve.points[-1].lead_s:
        yield tr("`tocsin check` wants {least} or more.", least=seconds(answer.least_s))


def _advised(lead: str, now_s: float, change: Change) -> str:
    facts = {
        "lead": lead, "now": seconds(now_s), "then": seconds(change.lead_s),
        "by": seconds(round(abs(change.lead_s - now_s), 3)), "gain": points(change.gain), "low": points(change.low),
        "high": points(change.high),
    }  # fmt: skip
    if change.lead_s > now_s:
        return tr(
            "One change: call {by} earlier. Lead {lead}: {now} now, then {then}. It wins about {gain} points a match "
            "({low} to {high}).", **facts,
        )
    return tr(
        "One change: call {by} later. Lead {lead}: {now} now, then {then}. It wins about {gain} points a match "
        "({low} to {high}).", **facts,
    )


def _unfit(document: AdviceDocument, answer: LeadAnswer, why: Unfit) -> str:
    match why:
        case "no lead":
            return tr("No advice: {file} has no lead {lead}.", file=document.file, lead=answer.lead)
        case "no call":
            return tr(
                "No advice on {lead}: in {file} the call home does not move with it, and rounds only tell what people "
                "do after that call.", file=document.file, lead=answer.lead,
            )
        case "no stake":
            if answer.lead == HOME:
                return tr("No advice: in {game} being home brings no points.", game=document.game)
            return tr("No advice: in {game} no contact costs points, so no lead is better.", game=document.game)
        case "no way home":
            return tr("Not yet: of no round anybody noted when the robot was home.")
        case "one at a time":
            return tr("One change at a time: {lead} waits.", lead=answer.lead)


def _refused(document: AdviceDocument, answer: LeadAnswer, refused: Refusal) -> str:
    now, records = seconds(answer.now_s or 0.0), answer.records
    assert records is not None
    match refused.code:
        case "frozen":
            return " ".join([_frozen(document), *_few(records, home=answer.lead == HOME)])
        case "bad records":
            return tr("Not yet: the records are not good enough. {why}", why=" ".join(_bad(records)))
        case "too few":
            return tr("Not yet: {why}", why=" ".join(_few(records, home=answer.lead == HOME)))
        case "not settled":
            return _not_settled(answer.lead, now, records)
        case "nothing to win":
            return tr(
                "Leave {lead} at {now}: no change of it wins {least} points a match.", lead=answer.lead, now=now,
                least=points_exactly(LEAST_GAIN),
            )
        case "hangs on a number":
            return tr("Not sure of {lead}. {hangs}", lead=answer.lead, hangs=hangs(refused, answer.now_s or 0.0))
        case "data do not tell":
            return _untold(answer, refused, records)


def _frozen(document: AdviceDocument) -> str:
    return tr(
        "{frozen}: the event is on {event}, and {days} days before it no lead is changed. Play what your people know.",
        frozen=FROZEN, event=document.event, days=FROZEN_DAYS,
    )


def _bad(records: Records) -> Iterator[str]:
    if records.uncounted > MOST_UNCOUNTED:
        yield trn(
            "The only round did not count.", "{uncounted} of {count} rounds did not count; a third is the most.",
            records.rounds, uncounted=round(records.uncounted * records.rounds),
        )
    if records.clock_spread_s > MOST_CLOCK_SPREAD_S:
        yield tr(
            "The clock was off by {spread} or so; {most} is the most. Press `g` at official moments.",
            spread=seconds(round(records.clock_spread_s, 2)), most=seconds(MOST_CLOCK_SPREAD_S),
        )
    if records.unknown > MOST_UNKNOWN:
        yield tr(
            "In {unknown} of {rounds} rounds nobody knows when it ended; {most} of 100 is the most.",
            unknown=round(records.unknown * records.pushes), rounds=records.pushes, most=round(100 * MOST_UNKNOWN),
        )


def _few(records: Records, *, home: bool) -> Iterator[str]:
    missing, evenings = FEWEST_PUSHES - records.pushes, FEWEST_EVENINGS - records.evenings
    if missing > 0:
        count = records.pushes
        told = (
            trn("{count} way home is known so far", "{count} ways home are known so far", count) if home
            else trn("{count} push was on at the call so far", "{count} pushes were on at the call so far", count)
        )
        yield tr("{told}; {missing} more are needed.", told=told, missing=missing)
    if evenings > 0:
        yield trn("{count} more evening is needed.", "{count} more evenings are needed.", evenings)
    if records.old > MOST_OLD:
        yield tr("Most of these rounds are older than {days} days; as many new ones are needed.", days=OLD_DAYS)


def _not_settled(lead: str, now: str, records: Records) -> str:
    left = SETTLED_EVENINGS - (records.evenings_since_change or 0)
    return trn(
        "Not yet: {lead} was changed lately. Play {count} more evening with {now} first, and see what it did.",
        "Not yet: {lead} was changed lately. Play {count} more evenings with {now} first, and see what it did.",
        left, lead=lead, now=now,
    )


def _untold(answer: LeadAnswer, refused: Refusal, records: Records) -> str:
    facts = {"lead": answer.lead, "now": seconds(answer.now_s or 0.0), "then": seconds(refused.lead_s or 0.0)}
    if refused.more is None:
        return tr(
            "Not this season: rounds do not tell if {lead} is better at {then} than at {now}, and {most} more would "
            "not either.", most=MOST, **facts,
        )
    each = records.pushes / max(1, records.evenings)
    evenings = trn("about {count} evening", "about {count} evenings", max(1, round(refused.more.rounds / each)))
    return tr(
        "Not yet: rounds do not tell if {lead} is better at {then} than at {now}. About {more} more would "
        "({evenings}), {chance} times in 10.", more=refused.more.rounds, evenings=evenings,
        chance=round(10 * refused.more.chance), **facts,
    )


def points_exactly(value: float) -> str:
    """Return points with all their digits."""
    return f"{value:g}"
