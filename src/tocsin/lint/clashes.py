"""Find clashes: cues that need one device at once, which of them wins, and what is cut.

A sustained cue that a higher priority covers for a while is normal: on strip and screen, only a cue that is hardly seen
is a finding. On pads and loudspeaker any cut counts, since half a form is another form.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence

from tocsin.lint import limits as limit
from tocsin.lint.finding import TELL, WARN, Finding, Kind, Level
from tocsin.lint.hands import shaken_until_ns
from tocsin.lint.limits import SEEN_NS
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, Track, foremost, played
from tocsin.model.plan import ChannelName
from tocsin.translation import tr
from tocsin.units import format_clock

_NEVER: dict[ChannelName, str] = {"rumble": "felt", "sound": "heard", "light": "seen", "screen": "seen"}

KINDS_OF_CLASHES: dict[str, Kind] = {
    "never_plays": Kind(
        WARN,
        "On {where} '{cue}' is never {never} {when}: it loses to {rival}.",
        "A cue that lost does not come later.",
        "Move one of the two, or give '{cue}' the higher priority.",
        (limit.ONE_AT_A_TIME,),
    ),
    "cut_short": Kind(
        WARN,
        "On {where} '{cue}' lasts {shown} instead of {whole} {when}: it is cut by {rival}.",
        "Half a signal is another signal.",
        "Leave more time between the two, or {else}.",
        (limit.ONE_AT_A_TIME,),
    ),
    "never_shows": Kind(
        WARN,
        "On {where} '{cue}' is never {never} {when}: it is hidden by {rival}.",
        "Only one shows at a time: the highest priority, then the newest.",
        "Move one of the two, or give '{cue}' the higher priority.",
        (limit.SEEN_NS,),
    ),
    "hardly_shows": Kind(
        TELL,
        "On {where} '{cue}' shows for {shown} instead of {whole} {when}: it is hidden by {rival}.",
        "What shows so briefly is hardly noticed.",
        "Leave more time between the two, or give '{cue}' the higher priority.",
        (limit.SEEN_NS,),
    ),
}


def clashes(subject: Subject) -> Iterator[Finding]:
    """Yield cues that another cue blocks or cuts, each pair once a device."""
    told: set[tuple[str, str, str, str]] = set()
    for track in subject.tracks:
        for code, loser, winner, facts in _of(subject, track):
            key = (code, loser.firing.cue, winner.firing.cue, loser.firing.channel)
            if key not in told:
                told.add(key)
                yield _finding(subject, track, code, loser, winner, facts)


_Clash = tuple[str, PlacedFiring, PlacedFiring, dict[str, str]]


def _of(subject: Subject, track: Track) -> Iterator[_Clash]:
    for role in track.roles():
        yield from _cut(subject, track.pad(role), tr("the {role}'s pad", role=role))
    yield from _cut(subject, track.of("sound"), tr("the loudspeaker"))
    yield from _covered(track.of("light"), tr("the strip"))
    yield from _covered(track.of("screen"), tr("the screen"))


def _cut(subject: Subject, placed: Sequence[PlacedFiring], where: str) -> Iterator[_Clash]:
    """Yield what is kept out, or cut before it has come to its end."""
    for one in played(placed):
        if one.by is None:
            continue
        lasts_ns = one.end_ns - one.placed.begin_ns
        whole_ns = _needs_ns(subject, one.placed)
        if lasts_ns == 0:
            yield "never_plays", one.placed, one.by, {"where": where}
        elif lasts_ns < whole_ns:
            facts = {"where": where, "shown": format_clock(lasts_ns), "whole": format_clock(whole_ns)}
            yield "cut_short", one.placed, one.by, facts


def _needs_ns(subject: Subject, placed: PlacedFiring) -> int:
    whole_ns = placed.end_ns - placed.begin_ns
    if placed.firing.channel != "rumble":
        return whole_ns
    return min(whole_ns, shaken_until_ns(subject.plan.patterns.rumble[placed.firing.pattern]))


def _covered(placed: Sequence[PlacedFiring], where: str) -> Iterator[_Clash]:
    """Yield what shows for less than it takes to be seen, because another cue shows in its place."""
    spans = foremost(placed)
    begins = [span.begin_ns for span in spans]
    shown_ns: dict[int, int] = {}
    for span in spans:
        if span.placed is not None:
            no = span.placed.firing.no
            shown_ns[no] = shown_ns.get(no, 0) + span.end_ns - span.begin_ns
    for one in placed:
        whole_ns, seen_ns = one.end_ns - one.begin_ns, shown_ns.get(one.firing.no, 0)
        if seen_ns >= min(whole_ns, SEEN_NS.value):
            continue
        over = (spans[place].placed for place in range(bisect_right(begins, one.begin_ns) - 1, len(spans)))
        winner = next(other for other in over if other is not None and other is not one)
        if _alike(one, winner):
            continue                               # what looks the same takes nothing away
        if seen_ns == 0:
            yield "never_shows", one, winner, {"where": where}
        else:
            facts = {"where": where, "shown": format_clock(seen_ns), "whole": format_clock(whole_ns)}
            yield "hardly_shows", one, winner, facts


def _alike(one: PlacedFiring, other: PlacedFiring) -> bool:
    """Return whether two firings of strip or screen look the same."""
    same_word = one.firing.channel == "light" or one.firing.word.lower() == other.firing.word.lower()
    return one.firing.pattern == other.firing.pattern and same_word


def _finding(
    subject: Subject, track: Track, code: str, loser: PlacedFiring, winner: PlacedFiring, facts: dict[str, str]
) -> Finding:
    one = loser.firing
    facts = {
        **facts, "cue": one.cue, "rival": _rival(loser, winner), "never": _NEVER[one.channel],
        "when": track.when(loser.begin_ns), "else": _else(loser, winner),
    }  # fmt: skip
    # What shows for a moment may be meant so; half a rumble or half a sound never is.
    level: Level = "advice" if code == "hardly_shows" else "warning"
    return Finding(code=code, level=level, path=subject.rhythm(one.cue), facts=facts)


def _else(loser: PlacedFiring, winner: PlacedFiring) -> str:
    """Return what fixes a cut besides more time: against itself no priority helps."""
    own = loser.firing.cue == winner.firing.cue
    return tr("take a shorter pattern") if own else tr("give '{cue}' the higher priority", cue=loser.firing.cue)


def _rival(loser: PlacedFiring, winner: PlacedFiring) -> str:
    """Return what wins, and by which rule."""
    one, other = loser.firing, winner.firing
    if one.cue == other.cue:
        return tr("the same cue, which comes again")
    if one.priority != other.priority:
        return tr(
            "'{cue}' (priority {priority} against {priority_2})", cue=other.cue, priority=other.priority,
            priority_2=one.priority,
        )
    rule = tr("is further down") if loser.begin_ns == winner.begin_ns else tr("is newer")
    return tr("'{cue}' (which {rule}; both have priority {priority})", cue=other.cue, rule=rule, priority=one.priority)
