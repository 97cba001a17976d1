"""Findings about a drill: what its rounds can never come to, whoever plays them."""

from collections.abc import Iterator

from tocsin.lint import limits as limit
from tocsin.lint.finding import Finding, Kind
from tocsin.model.drill import OWN_ROUNDS, Drill
from tocsin.translation import trn

KINDS_OF_DRILLS: dict[str, Kind] = {
    "never_counts": Kind(
        ("warning",),
        "No round of this drill counts: all are driven at half speed.",
        "Such rounds are shown, but do not count for leads, limits or goals.",
        "Drive fewer of them at half speed, such as: half_speed = {fewer}",
        (limit.COUNTED,),
    ),
    "goal_beyond": Kind(
        ("warning",),
        "The goal needs {count} clean rounds, only {rounds} can count.",
        "A goal that nobody can reach is no game.",
        "Ask for {most} at most, or play more rounds at full speed.",
        (limit.COUNTED,),
    ),
    "own_limit_idle": Kind(
        ("warning",),
        "The crew's own limit for the turn needs {count}, but only {rounds} can count.",
        "So no round is judged by it.",
        "Play more, such as: rounds = {least}",
        (limit.OWN_LIMIT,),
    ),
}


def inspect_drill(drill: Drill) -> tuple[Finding, ...]:
    """Return the findings of a drill."""
    return tuple(_findings(drill))


def _findings(drill: Drill) -> Iterator[Finding]:
    counted = drill.rounds - drill.half_speed
    if counted <= 0:
        # As many as there are set-ups: each is tried once before it is driven fast.
        fewer = min(len(drill.vary.setups), drill.rounds - 1)
        path, facts = ("half_speed",), {"fewer": str(fewer)}
        yield Finding(code="never_counts", level="warning", file="drill", path=path, facts=facts)
        return                             # all else follows from it
    if drill.goal is not None and drill.goal.clean > counted:
        facts = {"count": str(drill.goal.clean), "rounds": _rounds(counted), "most": str(counted)}
        yield Finding(code="goal_beyond", level="warning", file="drill", path=("goal", "clean"), facts=facts)
    if drill.clean.turned_own and counted <= OWN_ROUNDS:
        least = str(drill.half_speed + OWN_ROUNDS + 1)
        facts = {"rounds": _rounds(counted), "count": str(OWN_ROUNDS), "least": least}
        yield Finding(code="own_limit_idle", level="warning", file="drill", path=("clean", "turned"), facts=facts)


def _rounds(count: int) -> str:
    return trn("{count} round", "{count} rounds", count)
