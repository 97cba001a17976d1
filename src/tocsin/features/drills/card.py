"""The card of a round: what the crew must know before it begins. What is to surprise them is not told."""

from collections.abc import Iterator

from tocsin.analysis.rounds.own_limit import OwnLimit, limit_text
from tocsin.analysis.rounds.variation import Condition
from tocsin.export.occurrences import shown_at
from tocsin.features.records.round_files import Session
from tocsin.model.drill import ALL_SHOWN, Drill
from tocsin.model.plan import Plan
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

_NO_BREAK = "\N{NO-BREAK SPACE}"
_HOME_CUE = "home"
_CAUTION = tr("Tocsin does not stop any robot.")


def round_card(
    condition: Condition,
    drill: Drill,
    session: Session,
    rest_ns: int,
    own: OwnLimit | None,
    battery_key: str,
    coach: str,
    *,
    several: bool = True,
) -> Iterator[str]:
    """Yield the lines of the card of a round; ``rest_ns`` is how long people and motors still rest, ``own`` the crew's
    own limit, if the drill asks for one, ``battery_key`` what to press for a new battery, ``coach`` what
    the coach is to do, or an empty text; ``several`` whether more than one crew takes part."""
    had = (
        tr("battery had {rounds}", rounds=rounds_text(session.on_battery))
        if session.on_battery and drill.place == "field"
        else ""
    )
    is_past = bool(had) and 0 < drill.battery_rounds <= session.on_battery
    told = (had,) if had and not is_past else ()
    yield parts(
        tr("Round {number} of {rounds}", number=condition.number, rounds=drill.rounds),
        *((tr("crew {crew}", crew=session.crew),) if several else ()),
        *told,
    )
    if is_past:
        yield (
            had.capitalize()
            + tr(": change it")
            + (tr(", key {battery_key}", battery_key=battery_key) if battery_key else "")
        )
    if condition.half_speed:
        yield tr(
            "Driver: HALF SPEED, to try the set-up safely: {half_speed_rounds}",
            half_speed_rounds=_half_speed_rounds(drill),
        )
    if condition.setup:
        yield tr("Set-up: {setup}", setup=condition.setup)
    if coach:
        yield coach
    if condition.draw_out:
        yield tr("Without {draw_out}", draw_out=condition.draw_out)
    if own is not None and not condition.half_speed:
        yield limit_text(own)
    if rest_ns:
        yield tr("Rest: {rest} s more for people and motors. Nothing begins by itself", rest=-(-rest_ns // NS_PER_S))


def coach_line(condition: Condition, drill: Drill, plan: Plan, timeline: Timeline) -> str:
    """Return what the coach does in a round and at which sign, or an empty text where no round varies that.

    ``plan`` and ``timeline`` are the round's own. All read the card before the round, and whoever knows the time of a
    call counts to it: the time stands there only if the drill hides nothing of what comes, and deals no time by lot.
    Else the screen prompts the coach, by the cue for that, or by the call itself.
    """
    if condition.coach != "calling":
        return tr("Coach: say nothing") if condition.coach else ""
    cues = {cue.id: cue for cue in plan.cues}
    prompt = next((cue for cue in plan.cues if cue.announces and cue.roles == ("coach",)), None)
    called = cues.get(prompt.announces if prompt else _HOME_CUE)
    if called is None:
        return tr("Coach: call aloud, as in a match")
    word = (called.say or called.id).upper()
    vary = drill.vary
    if set(drill.shows) == set(ALL_SHOWN) and not vary.shift_ns and not vary.plans:
        due = next((one.begin for one in timeline.firings if one.cue == called.id), None)
        at = shown_at(timeline, due) if due else ""
        if at:
            return tr("Coach: call {word} aloud at {at}", word=word, at=at)
    if prompt is not None and "screen" in prompt.patterns:
        return tr(
            "Coach: call {word} aloud as soon as the screen says {say}", word=word,
            say=(prompt.say or prompt.id).upper(),
        )
    return tr("Coach: call {word} aloud as soon as it comes", word=word)


def cautions(drill: Drill) -> tuple[str, ...]:
    """Return what is to be read once before the first round."""
    return (*drill.safely, *((_CAUTION,) if drill.place == "field" else ()))


def _half_speed_rounds(drill: Drill) -> str:
    """Return which rounds are driven at half speed, and from which on rounds count."""
    last = drill.half_speed
    which = tr("round 1 does not count") if last == 1 else tr("rounds 1 to {last} do not count", last=last)
    return (
        tr("{which}, round {last} is the first that does", which=which, last=last + 1) if last < drill.rounds
        else which
    )


def round_sign(condition: Condition, drill: Drill) -> tuple[str, ...]:
    """Return what the screen says large while a round runs whose clock is not shown: where to look instead."""
    return (
        tr("Round {number}", number=condition.number),
        tr("Wait for the cue") if drill.place == "bench" else tr("Watch the robot"),
    )


def parts(*texts: str) -> str:
    """Return texts as a line that breaks only between them."""
    return ", ".join(text.replace(" ", _NO_BREAK) for text in texts)


def rounds_text(count: int) -> str:
    """Return so many rounds in words."""
    return trn("{count} round", "{count} rounds", count)
