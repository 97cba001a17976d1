"""Say advice in sentences: first the one that matters, then what it rests on and what would turn it."""

from collections.abc import Iterator
from datetime import date

from tocsin.analysis.decisions.choice import (
    FEWEST_EVENINGS,
    FEWEST_MATCHES,
    FEWEST_PUSHES,
    FROZEN_DAYS,
    LEAST_GAIN,
    MOST_CLOCK_SPREAD_S,
    MOST_OLD,
    MOST_UNCOUNTED,
    MOST_UNKNOWN,
    OLD_DAYS,
    SETTLED_EVENINGS,
    Number,
    Records,
)
from tocsin.features.advice.answer import AdviceDocument, Change, LeadAnswer, NoChange
from tocsin.translation import tr, trn

FROZEN = tr("FROZEN")


def sentence(document: AdviceDocument) -> str:
    """Return the one sentence that matters."""
    answer = document.told
    if answer.change is not None:
        return _advised(answer, answer.change)
    assert answer.refused is not None
    return _refused(document, answer, answer.refused)


def details(document: AdviceDocument) -> Iterator[tuple[str, str]]:
    """Yield what stands below that sentence: a word, and what it is about."""
    answer = document.told
    if answer.now_s is None or answer.records is None:
        return
    change = answer.change
    yield tr("now"), _call(document, answer.now_s)
    if change is not None:
        yield tr("then"), _call(document, change.then_s)
        yield tr("gain"), tr(
            "{gain} points a match; 8 times in 10 it lies between {low} and {high}.", gain=_points(change.gain),
            low=_points(change.low), high=_points(change.high),
        )
    yield tr("a second"), _price(answer)
    if change is not None:
        yield tr("contacts"), _contacts(change)
    yield tr("rests on"), _rests_on(answer, answer.records)
    yield tr("pushes"), _pushes(answer)
    yield tr("assumed"), _taken(answer)
    if change is not None:
        yield tr("turns if"), _turns(answer, change)


def line_lines(document: AdviceDocument) -> tuple[str, ...]:
    """Return what to type, and where; nothing where nothing is to be changed."""
    change = document.told.change
    if change is None:
        return ()
    if change.plan_line is None:
        return (
            tr(
                "In {file} set the lead {lead} to {then}. Tocsin changes nothing itself.", file=document.file,
                lead=document.told.lead, then=_seconds(change.then_s),
            ),
        )
    where = tr(
        "In {file}, line {line}, write this. Tocsin changes nothing itself.", file=change.plan_line.file,
        line=change.plan_line.line,
    )
    return where, f"    {change.plan_line.text}"


def curve_lines(document: AdviceDocument) -> Iterator[str]:
    """Yield the curve in a few lines, under the word FROZEN where an event is near."""
    answer = document.told
    if answer.curve is None:
        return
    if answer.refused is not None and answer.refused.why == "frozen":
        yield FROZEN
    yield tr("Points a match against today, and where they lie 8 times in 10:")
    for point in answer.curve.points:
        if not round(point.lead_s * 4) % 2:            # each half second
            flat = answer.curve.flat_from_s <= point.lead_s <= answer.curve.flat_to_s
            remark = tr("flat: nothing to win here") if flat else ""
            now = tr("now") if point.lead_s == answer.now_s else ""
            shown = f"  {_seconds(point.lead_s):>6}  {point.gain:+5.1f}  ({point.low:+.1f} .. {point.high:+.1f})"
            yield "  ".join(part for part in (shown, now, remark) if part)


def _advised(answer: LeadAnswer, change: Change) -> str:
    facts = {
        "lead": answer.lead, "now": _seconds(answer.now_s or 0.0), "then": _seconds(change.then_s),
        "by": _seconds(abs(change.then_s - (answer.now_s or 0.0))), "gain": _points(change.gain),
        "low": _points(change.low), "high": _points(change.high),
    }  # fmt: skip
    if change.then_s > (answer.now_s or 0.0):
        return tr(
            "One change: call {by} earlier. Lead {lead}: {now} now, then {then}. It wins about {gain} points a match "
            "({low} to {high}).", **facts,
        )
    return tr(
        "One change: call {by} later. Lead {lead}: {now} now, then {then}. It wins about {gain} points a match "
        "({low} to {high}).", **facts,
    )


def _refused(document: AdviceDocument, answer: LeadAnswer, refused: NoChange) -> str:
    now = _seconds(answer.now_s or 0.0)
    match refused.why:
        case "no lead":
            return tr("No advice: {file} has no lead {lead}.", file=document.file, lead=answer.lead)
        case "no call":
            return tr(
                "No advice: in {file} the call home does not move with the lead {lead}. Rounds tell how long pushes "
                "last after that call only.", file=document.file, lead=answer.lead,
            )
        case "no stake":
            return tr("No advice: in {game} no contact costs points, so no lead is better.", game=document.game)
        case "frozen":
            return _frozen(document)
        case "bad records":
            assert answer.records is not None
            return tr("Not yet: the records are not good enough. {why}", why=" ".join(_bad(answer.records)))
        case "too few":
            assert answer.records is not None
            return tr("Not yet: {why}", why=" ".join(_few(answer.records)))
        case "not settled":
            assert answer.records is not None
            return _not_settled(answer, answer.records)
        case "nothing to win":
            return tr(
                "Leave {lead} at {now}: no change of it wins {least} points a match.", lead=answer.lead, now=now,
                least=f"{LEAST_GAIN:g}",
            )
        case "hangs on a number":
            return _hangs(answer, refused)
        case "data do not tell":
            return _untold(answer, refused)


def _frozen(document: AdviceDocument) -> str:
    return tr(
        "{frozen}: the event is on {event}, and {days} days before it no lead is changed. Play what your people know.",
        frozen=FROZEN, event=document.event, days=FROZEN_DAYS,
    )


def _bad(records: Records) -> Iterator[str]:
    if records.uncounted > MOST_UNCOUNTED:
        yield tr(
            "{share} of 100 rounds did not count; a third is the most.", share=round(100 * records.uncounted)
        )
    if records.clock_spread_s > MOST_CLOCK_SPREAD_S:
        yield tr(
            "The clock was off by {spread} s or so; {most} s is the most. Press `g` at official moments.",
            spread=f"{records.clock_spread_s:.2f}", most=f"{MOST_CLOCK_SPREAD_S:g}",
        )
    if records.unknown > MOST_UNKNOWN:
        yield tr(
            "Of {share} in 100 pushes nobody knows when they ended; {most} is the most.",
            share=round(100 * records.unknown), most=round(100 * MOST_UNKNOWN),
        )


def _few(records: Records) -> Iterator[str]:
    missing, evenings = FEWEST_PUSHES - records.pushes, FEWEST_EVENINGS - records.evenings
    if missing > 0:
        pushes = trn(
            "{count} push was on at the call so far", "{count} pushes were on at the call so far", records.pushes
        )
        yield tr("{pushes}; {missing} more are needed.", pushes=pushes, missing=missing)
    if evenings > 0:
        yield trn("{count} more evening is needed.", "{count} more evenings are needed.", evenings)
    if records.old > MOST_OLD:
        yield tr(
            "Most of these pushes are older than {days} days; as many new ones are needed.", days=OLD_DAYS
        )


def _not_settled(answer: LeadAnswer, records: Records) -> str:
    left = SETTLED_EVENINGS - (records.evenings_since_change or 0)
    return trn(
        "Not yet: {lead} was changed lately. Play {count} more evening with {now} first, and see what it did.",
        "Not yet: {lead} was changed lately. Play {count} more evenings with {now} first, and see what it did.",
        left, lead=answer.lead, now=_seconds(answer.now_s or 0.0),
    )


def _hangs(answer: LeadAnswer, refused: NoChange) -> str:
    facts = {
        "lead": answer.lead, "now": _seconds(answer.now_s or 0.0), "then": _seconds(refused.then_s or 0.0),
        "numbers": "; ".join(map(_number, refused.hangs_on)),
    }  # fmt: skip
    if refused.turns_at is None or len(refused.hangs_on) != 1:
        return tr(
            "It hangs on numbers that you may know: {numbers}. With some of them {lead} is better at {then} than at "
            "{now}.", **facts,
        )
    turns = _at(refused.hangs_on[0], refused.turns_at)
    if refused.below:
        return tr(
            "It hangs on {numbers}. Below {turns}: take {then} for {lead}. Else stay at {now}.", turns=turns, **facts
        )
    return tr(
        "It hangs on {numbers}. Above {turns}: take {then} for {lead}. Else stay at {now}.", turns=turns, **facts
    )


def _at(number: Number, turns_at: float) -> str:
    if number == "second":
        return tr("{points} points", points=f"{turns_at:.2g}")
    if number == "pushes":
        return tr("{share} of 100 matches", share=f"{100 * turns_at:.0f}")
    return _seconds(round(turns_at, 2))


def _number(number: Number) -> str:
    return {
        "second": tr("what a second is worth (--second)"),
        "pushes": tr("how often a push is on at the call (--pushes, or {matches} matches)", matches=FEWEST_MATCHES),
        "lag": tr("how late the scribe's key is (a video tells: `tocsin mark --help`)"),
    }[number]


def _untold(answer: LeadAnswer, refused: NoChange) -> str:
    facts = {"lead": answer.lead, "now": _seconds(answer.now_s or 0.0), "then": _seconds(refused.then_s or 0.0)}
    if refused.more_pushes is None:
        return tr(
            "Not this season: rounds do not tell if {lead} is better at {then} than at {now}, and {most} more pushes "
            "would not either.", most=96, **facts,
        )
    return tr(
        "Not yet: rounds do not tell if {lead} is better at {then} than at {now}. About {more} more pushes would "
        "({evenings}), {chance} times in 10.",
        more=refused.more_pushes, evenings=_evenings(answer, refused.more_pushes),
        chance=round(10 * (refused.chance or 0.0)), **facts,
    )


def _evenings(answer: LeadAnswer, pushes: int) -> str:
    assert answer.records is not None
    each = answer.records.pushes / max(1, answer.records.evenings)
    return trn("about {count} evening", "about {count} evenings", max(1, round(pushes / each)))


def _call(document: AdviceDocument, lead_s: float) -> str:
    return tr("{lead} before '{window}' begins", lead=_seconds(lead_s), window=document.window)


def _price(answer: LeadAnswer) -> str:
    low, high = answer.second
    if not low:
        return tr("A call one second earlier costs up to {high} points a match.", high=_points(high))
    matches = _range(answer.contact / high, answer.contact / low, 0)
    return tr(
        "A call one second earlier costs {points} points a match. It pays if it saves one contact of {contact} points "
        "in {matches} matches.", points=_range(low, high), contact=_points(answer.contact), matches=matches,
    )


def _contacts(change: Change) -> str:
    if change.matches_a_contact is None:
        return tr("as many as before")
    matches = round(abs(change.matches_a_contact))
    if change.matches_a_contact > 0:
        return trn("one saved in {count} match", "one saved in {count} matches", matches)
    return trn("one more in {count} match", "one more in {count} matches", matches)


def _rests_on(answer: LeadAnswer, records: Records) -> str:
    pushes = trn("{count} push", "{count} pushes", records.pushes)
    if not answer.evenings:
        return tr("{pushes} that the call found", pushes=pushes)
    evenings = trn("{count} evening", "{count} evenings", records.evenings)
    first, last = _day(answer.evenings[0]), _day(answer.evenings[-1])
    return tr(
        "{pushes} that the call found, on {evenings}, {first} to {last}", pushes=pushes, evenings=evenings,
        first=first, last=last,
    )


def _pushes(answer: LeadAnswer) -> str:
    if answer.pushes_seen is not None and answer.pushes_seen[1] >= FEWEST_MATCHES:
        return tr(
            "A push was on at the call in {pushes} of {matches} matches.", pushes=answer.pushes_seen[0],
            matches=answer.pushes_seen[1],
        )
    low, high = answer.pushes
    share = _range(100 * low, 100 * high, 0)
    return tr(
        "A push is on at the call in {share} of 100 matches: said, not seen. {matches} marked matches would show it.",
        share=share, matches=FEWEST_MATCHES,
    )


def _taken(answer: LeadAnswer) -> str:
    if answer.follows is None:
        follows = tr("With an earlier call pushes end as much earlier: no drill of yours has tried it.")
    else:
        follows = tr(
            "With a call a second earlier pushes end {follows} s earlier: your rounds with moved calls say so.",
            follows=f"{answer.follows:.1f}",
        )
    clock = tr(
        "The clock of the match starts {late} s late, {spread} s more or less (your rig).", late=f"{answer.late_s:.2f}",
        spread=f"{answer.spread_s:.2f}",
    )
    return f"{follows} {clock}"


def _turns(answer: LeadAnswer, change: Change) -> str:
    longer = change.then_s > (answer.now_s or 0.0)
    second = _points(change.turns_at_second)
    by_second = (
        tr("a second is worth more than {points} points", points=second) if longer
        else tr("a second is worth less than {points} points", points=second)
    )
    if change.turns_at_pushes is None or not 0 < change.turns_at_pushes <= 1:
        return by_second
    share = f"{100 * change.turns_at_pushes:.0f}"
    by_pushes = (
        tr("pushes are on at the call in fewer than {share} of 100 matches", share=share) if longer
        else tr("pushes are on at the call in more than {share} of 100 matches", share=share)
    )
    return tr("{by_second}, or {by_pushes}", by_second=by_second, by_pushes=by_pushes)


def _day(evening: str) -> str:
    try:
        return date.fromisoformat(evening[:10]).isoformat()
    except ValueError:
        return "?"


def _seconds(value_s: float) -> str:
    return tr("{seconds} s", seconds=f"{value_s:g}")


def _points(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _range(low: float, high: float, digits: int = 2) -> str:
    one, two = (f"{round(value, digits):g}" for value in (low, high))
    return one if one == two else tr("{low} to {high}", low=one, high=two)
