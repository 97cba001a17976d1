"""The card of a round: what the crew must know before it begins. What is to surprise them is not told."""

from collections.abc import Iterator

from tocsin.analysis.rounds.own_limit import OwnLimit, limit_text
from tocsin.analysis.rounds.variation import Condition
from tocsin.features.records.round_files import Session
from tocsin.model.drill import Drill
from tocsin.units import NS_PER_S

_NO_BREAK = "\N{NO-BREAK SPACE}"


def round_card(
    condition: Condition, drill: Drill, session: Session, rest_ns: int, own: OwnLimit | None, battery_key: str,
    named: str,
) -> Iterator[str]:  # fmt: skip
    """Yield the lines of the card of a round; ``rest_ns`` is how long people and motors still rest, ``own`` the crew's
    own limit, if the drill asks for one, ``battery_key`` what to press for a new battery, ``named`` the
    crew's people."""
    had = f"battery had {rounds_text(session.on_battery)}" if session.on_battery and drill.place == "field" else ""
    is_past = bool(had) and 0 < drill.battery_rounds <= session.on_battery
    told = (had,) if had and not is_past else ()
    yield parts(f"Round {condition.number} of {drill.rounds}", f"crew {session.crew}", *told)
    if named:
        yield f"Crew {session.crew}: {named}"
    if is_past:
        yield had.capitalize() + ": change it" + (f", key {battery_key}" if battery_key else "")
    if condition.half_speed:
        yield "HALF SPEED, not counted"
    if condition.setup:
        yield f"Set-up: {condition.setup}"
    if condition.coach:
        yield f"Coach: {condition.coach}"
    if condition.draw_out:
        yield f"Without {condition.draw_out}"
    if own is not None and not condition.half_speed:
        yield limit_text(own)
    if rest_ns:
        yield f"Rest: {-(-rest_ns // NS_PER_S)} s more for people and motors. Nothing begins by itself"


def round_sign(condition: Condition, drill: Drill) -> tuple[str, ...]:
    """Return what the screen says large while a round runs whose clock is not shown: where to look instead."""
    return f"Round {condition.number}", "Wait for the cue" if drill.place == "bench" else "Watch the robot"


def parts(*texts: str) -> str:
    """Return texts as a line that breaks only between them."""
    return ", ".join(text.replace(" ", _NO_BREAK) for text in texts)


def rounds_text(count: int) -> str:
    """Return so many rounds in words."""
    return f"{count} round{'' if count == 1 else 's'}"
