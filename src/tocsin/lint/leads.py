"""Check leads: whether a call comes early enough before the moment that it announces.

A window *costs* when a stake in it goes to the opponents, or when its id says that robots keep off. Where the game has
no stakes for a window, this is unknown, and a finding is only advice.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import Literal

from tocsin.lint import limits as limit
from tocsin.lint.finding import TELL, WARN, Finding, Kind, Level
from tocsin.lint.limits import ANNOUNCES_NS, BREAK_OFF_NS, GAINED_NS, SIGN_OF_LIFE
from tocsin.lint.subject import MeasuredLead, Subject
from tocsin.lint.tracks import PlacedFiring, Track
from tocsin.model.plan import Cue
from tocsin.model.timeline.point import WindowSpan
from tocsin.translation import tr, trn
from tocsin.units import format_clock

BREAK_OFF, HOME = "break_off", "home"          # the ids of the two leads that findings know
KEEP_OFF = ("no_contact", "no_touch", "keep_off")          # ids of windows in which contact costs

Worth = Literal["costs", "gains", "unknown"]

KINDS_OF_LEADS: dict[str, Kind] = {
    "lead_short": Kind(
        WARN,
        "The lead '{lead}' is {lasts}: a robot that pushes does not get away in that time.",
        "Noticing, braking and opening a gap take their time, and the clock is not exact.",
        "Take {least} or more, or measure what your drivers need.",
        (limit.BREAK_OFF_NS,),
    ),
    "lead_below_runs": Kind(
        WARN,
        "The lead '{lead}' is {lasts}, but by your {rounds}, 9 times in 10 you need up to {least}.",
        "What your own drivers have shown counts for more than any estimate.",
        "Take {least} or more. `tocsin advise` says what a lead costs, and what it wins.",
        (limit.MEASURED_LEAD,),
    ),
    "lead_few_rounds": Kind(
        TELL,
        "The lead '{lead}' is {lasts}. Your {rounds} are too few to know what you need: play {more} more. The longest "
        "so far took {least}.",
        "After a few rounds a longer one often comes: do not rely on the longest.",
        "Mark more rounds. Until then take at least your longest, {least}.",
        (limit.MEASURED_LEAD,),
    ),
    "unused_lead": Kind(
        TELL,
        "No cue uses the lead '{lead}'.",
        "If you change it, you may expect calls to move, but none does.",
        'Use it in a cue, such as: at = "driver.end-{lead}". Or delete the line.',
        (limit.USED_LEADS,),
    ),
    "return_late": Kind(
        WARN,
        "The call '{cue}' comes {left} before the end, but the way home takes {least}.",
        "Who hears it then comes too late.",
        "Let it come {least} before the end, such as: at = \"match.end-home\"",
        (limit.TRAVEL,),
    ),
    "call_late": Kind(
        ("warning", "advice"),
        "The first call for '{window}' is '{cue}', and it comes {how}.",
        "The rule applies from the window's begin on: a call must leave time to break off.",
        "Let it, or another cue, come {least} or more before the window begins.",
        (limit.AHEAD, limit.ANNOUNCES_NS),
    ),
    "window_unannounced": Kind(
        ("warning", "advice"),
        "No cue announces '{window}'{whom}.",
        "Nobody watches a clock under pressure: what is not called is missed.",
        "Add a cue that comes shortly before {id}.begin.",
        (limit.ANNOUNCES_NS, limit.GAINED_NS),
    ),
}


def leads(subject: Subject) -> Iterator[Finding]:
    """Yield leads that are short or unused, calls that come too late, windows without a call."""
    yield from _short_leads(subject)
    yield from _unused(subject)
    yield from _return(subject)
    for span in subject.timeline.windows:
        if not _begins_with_a_period(subject, span):
            yield from _window(subject, span)


def least_lead_ns(lead: str, shown: MeasuredLead | None = None) -> int:
    """Return below what a lead of this name is found too short, in nanoseconds; 0 where nothing speaks against any.
    ``shown`` is what runs have shown to be needed: once they are enough, it stands for the usual limit."""
    if shown is not None and not shown.missing:
        return shown.ns
    return int(BREAK_OFF_NS.value) if lead == BREAK_OFF else 0


def _short_leads(subject: Subject) -> Iterator[Finding]:
    for lead, lasts_ns in subject.plan.leads.items():
        shown = subject.measured.get(lead)
        facts = {"lead": lead, "lasts": format_clock(lasts_ns)}
        if shown is not None:
            facts |= {"rounds": _rounds(shown.rounds), "more": str(shown.missing), "least": format_clock(shown.ns)}
        if shown is not None and shown.missing:
            yield Finding(code="lead_few_rounds", level="advice", path=("lead", lead), facts=facts)
        least_ns = least_lead_ns(lead, shown)
        if lasts_ns < least_ns:
            code = "lead_short" if shown is None or shown.missing else "lead_below_runs"
            facts = facts | {"least": format_clock(least_ns)}
            yield Finding(code=code, level="warning", path=("lead", lead), facts=facts)


def _rounds(number: int) -> str:
    return trn("{count} round", "{count} rounds", number)


def _unused(subject: Subject) -> Iterator[Finding]:
    """Yield leads that no cue names; ``break_off`` and, where there is a main call, ``home`` count by themselves."""
    used = {moment.lead for cue in subject.plan.cues for moment in (*cue.at, *cue.until)} | {BREAK_OFF}
    if subject.main is not None:
        used.add(HOME)
    for lead in subject.plan.leads:
        if lead not in used:
            yield Finding(code="unused_lead", level="advice", path=("lead", lead), facts={"lead": lead})


def _return(subject: Subject) -> Iterator[Finding]:
    """Yield a main call that leaves less than the lead ``home`` until the end of the match."""
    shown = subject.measured.get(HOME)
    bound_ns = shown.ns if shown is not None and not shown.missing else 0
    travel_ns = max(subject.plan.leads.get(HOME, 0), bound_ns)
    main, end = subject.main, subject.timeline.match_end()
    if not travel_ns or main is None:
        return
    for track in subject.tracks:
        begins = [p.begin_ns for p in track.placed if p.firing.cue == main.id]
        if track.anchor != end.anchor or not begins:
            continue
        left_ns = end.offset_ns - min(begins)
        if left_ns < travel_ns:
            facts = {"cue": main.id, "left": format_clock(left_ns), "least": format_clock(travel_ns)}
            yield Finding(code="return_late", level="warning", path=subject.moment(main.id), facts=facts)


def _begins_with_a_period(subject: Subject, span: WindowSpan) -> bool:
    """Return whether everybody sees a window begin, since a period does; or nobody can know it beforehand."""
    slots = subject.timeline.periods
    known = any(segment.anchor == span.begin.anchor for segment in subject.timeline.segments)
    return not known or any((slot.anchor, slot.begin_ns) == (span.begin.anchor, span.begin.offset_ns) for slot in slots)


def _window(subject: Subject, span: WindowSpan) -> Iterator[Finding]:
    worth = _worth(subject, span.id)
    for track in subject.tracks:
        if track.anchor == span.begin.anchor:
            yield from _on_track(subject, span, track, worth)
    if not any(track.anchor == span.begin.anchor for track in subject.tracks):
        yield _unannounced(span, worth)


def _on_track(subject: Subject, span: WindowSpan, track: Track, worth: Worth) -> Iterator[Finding]:
    begin_ns = span.begin.offset_ns
    calls = [p for p in _around(track, begin_ns, _latest_ns(span, worth)) if _announces(subject.cue_of(p), worth)]
    if not calls:
        yield _unannounced(span, worth)
        return
    earliest = min(calls, key=lambda p: (p.begin_ns, p.firing.no))
    ahead_ns = begin_ns - earliest.begin_ns
    least_ns = subject.plan.leads.get(BREAK_OFF, int(BREAK_OFF_NS.value))
    if worth != "gains" and ahead_ns < least_ns:
        how = tr("only {ahead} before it begins", ahead=format_clock(ahead_ns)) if ahead_ns else tr("only as it begins")
        facts = {"cue": earliest.firing.cue, "window": span.title, "how": how, "least": format_clock(least_ns)}
        yield Finding(code="call_late", level=_level(worth), path=subject.moment(earliest.firing.cue), facts=facts)


def _latest_ns(span: WindowSpan, worth: Worth) -> int:
    """Return until when a call still announces a window: its begin, or a little later if all it does is gain."""
    if worth != "gains":
        return span.begin.offset_ns
    latest_ns = span.begin.offset_ns + int(GAINED_NS.value)
    return min(latest_ns, span.end.offset_ns - 1) if span.end.anchor == span.begin.anchor else latest_ns


def _around(track: Track, begin_ns: int, latest_ns: int) -> Iterator[PlacedFiring]:
    """Yield what begins shortly before a time or until another, and what began earlier and still shows at the first."""
    begins = [p.begin_ns for p in track.placed]
    near = bisect_left(begins, begin_ns - int(ANNOUNCES_NS.value))
    yield from track.placed[near : bisect_right(begins, latest_ns)]
    yield from (p for p in track.placed[:near] if p.firing.sustained and p.end_ns >= begin_ns)


def _announces(cue: Cue, worth: Worth) -> bool:
    return cue.priority > SIGN_OF_LIFE.value and (worth == "gains" or "driver" in cue.roles)


def _unannounced(span: WindowSpan, worth: Worth) -> Finding:
    facts = {"window": span.title, "id": span.id, "whom": "" if worth == "gains" else tr(" to the driver")}
    level = "advice" if worth == "gains" else _level(worth)
    return Finding(code="window_unannounced", level=level, path=("game",), facts=facts)


def _level(worth: Worth) -> Level:
    return "warning" if worth == "costs" else "advice"


def _worth(subject: Subject, window: str) -> Worth:
    stakes = [stake for stake in subject.game.stakes if stake.during == window]
    if window in KEEP_OFF or any(stake.to == "opponents" for stake in stakes):
        return "costs"
    return "gains" if stakes else "unknown"
