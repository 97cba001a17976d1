"""Find the point of the match at which a run begins, and refuse a moment outside the match."""

import msgspec

from tocsin.errors import UsageError
from tocsin.model.display.digits import official
from tocsin.model.moment import Moment, MomentError, is_mark, parse
from tocsin.model.timeline.shown import NotShownError, locate_given
from tocsin.model.timeline.timeline import MATCH, Point, Timeline
from tocsin.translation import tr
from tocsin.units import format_clock


def start_point(text: str, timeline: Timeline) -> Point:
    """Return the point of the match for ``text``, a moment as people write it or the display's time. Empty is the
    match's begin. Raises UsageError for a text that is no moment of this match before everything has ended."""
    if not text:
        return Point(MATCH, 0)
    try:
        point = locate_given(text, timeline)
    except MomentError as error:
        raise _refusal(text, error, timeline) from error
    if point == timeline.last_end():
        raise UsageError(
            tr("--from {text}: by then everything has ended; {length}", text=text, length=_length(timeline)),
            hint=_known(timeline),
        )
    return point


def _refusal(text: str, error: MomentError, timeline: Timeline) -> UsageError:
    if _is_mark(text):
        return UsageError(
            tr("--from {text}: nobody knows in advance when that mark comes", text=text), hint=_known(timeline),
        )
    outside = _outside(text, timeline)
    if outside:
        return UsageError(
            tr("--from {text} {outside}; {length}", text=text, outside=outside, length=_length(timeline)),
            hint=_known(timeline),
        )
    meant = _meant(error, timeline)
    hint = tr("did you mean {meant}?", meant=meant) if meant else _known(timeline)
    if isinstance(error, NotShownError) and not meant:
        hint = tr("expected {expected}", expected=error.expected)
    return UsageError(tr("--from '{text}' is not in {game}", text=text, game=timeline.game), hint=hint)


def _is_mark(text: str) -> bool:
    try:
        return is_mark(parse(text))
    except MomentError:
        return False


def _outside(text: str, timeline: Timeline) -> str:
    """Return where a moment lies whose begin or end is one of the match but which is itself outside; else nothing."""
    try:
        moment = parse(text)
        base = timeline.locate(msgspec.structs.replace(moment, offset_ns=0, lead=""))
    except MomentError:
        return ""
    if moment.lead and moment.lead not in timeline.leads:
        return ""
    offset_ns = base.offset_ns + _offset_ns(moment, timeline)
    end = timeline.last_end()
    if base.anchor == end.anchor and offset_ns > end.offset_ns:
        return tr("is {offset} after everything has ended", offset=format_clock(offset_ns - end.offset_ns))
    if offset_ns >= 0:
        return tr("is in a part of the match that a person begins")
    if base.anchor == MATCH:
        return tr("is {offset} before the match begins", offset=format_clock(-offset_ns))
    return tr("is before '{anchor}', which a person begins", anchor=base.anchor)


def _offset_ns(moment: Moment, timeline: Timeline) -> int:
    return moment.lead_sign * timeline.leads[moment.lead] if moment.lead else moment.offset_ns


def _meant(error: MomentError, timeline: Timeline) -> str:
    """Return the moments of this match that may have been meant, or nothing; a base may need a second guess."""
    guesses = list(error.readings)
    for _ in range(2):
        found: list[str] = []
        again: list[str] = []
        for guess in guesses:
            try:
                locate_given(guess, timeline)
            except MomentError as other:
                again += other.readings
            else:
                found.append(guess)
        if found:
            return " or ".join(found)
        guesses = again
    return ""


def _length(timeline: Timeline) -> str:
    end, last = timeline.match_end(), timeline.last_end()
    lasts_ns = next(s.match_ns for s in timeline.segments if s.anchor == end.anchor) + end.offset_ns
    text = tr("the match lasts {official}", official=official(lasts_ns, "ceil"))
    settles_ns = last.offset_ns - end.offset_ns if last.anchor == end.anchor else 0
    return (
        tr("{text}, and robots settle for {settles}", text=text, settles=format_clock(settles_ns)) if settles_ns
        else text
    )


def _known(timeline: Timeline) -> str:
    ids = dict.fromkeys([MATCH, *(slot.id for slot in timeline.periods), *(span.id for span in timeline.windows)])
    first = timeline.periods[0].id
    known = tr(
        "moments here: {ids}, each with .begin or .end, and a time: {first}.end-5s", ids=", ".join(ids), first=first,
    )
    return tr("{known}; or what the display shows: 0:22, {first}@0:22", known=known, first=first)
