"""List the names that a game and a plan define and use: a name may be misspelt in either place."""

from collections.abc import Iterator
from typing import NamedTuple

from tocsin.model import diagnostics as code
from tocsin.model.diagnostics import Path
from tocsin.model.game import Game
from tocsin.model.moment import Moment
from tocsin.model.plan import Plan

# What kind of name is unknown, by the code that says so. Periods and windows share their names.
KIND_OF = {
    code.UNKNOWN_BASE: "base", code.UNKNOWN_WINDOW: "base", code.UNKNOWN_VARIANT: "variant",
    code.UNKNOWN_STAKE: "stake", code.UNKNOWN_LEAD: "lead", code.UNKNOWN_PATTERN: "pattern", code.UNKNOWN_CUE: "cue",
}  # fmt: skip


class Given(NamedTuple):
    """A defined name: its kind, its file and its path."""

    kind: str
    name: str
    file: str
    path: Path


def given_names(game: Game, plan: Plan) -> Iterator[Given]:
    """Yield every name that the game and the plan define and refer to elsewhere."""
    tables = (
        ("base", "period", [row.id for row in game.periods]), ("base", "window", [row.id for row in game.windows]),
        ("variant", "variant", [row.id for row in game.variants]), ("stake", "stake", [row.id for row in game.stakes]),
    )  # fmt: skip
    for kind, table, names in tables:
        for index, name in enumerate(names):
            yield Given(kind, name, "game", (table, index, "id"))
    for lead in plan.leads:
        yield Given("lead", lead, "plan", ("lead", lead))
    for index, cue in enumerate(plan.cues):
        yield Given("cue", cue.id, "plan", ("cue", index, "id"))


def used_names(game: Game, plan: Plan) -> set[tuple[str, str]]:
    """Return every name that is used, by its kind, whether it is defined or not."""
    moments = [moment for window in game.windows for moment in (*window.begins, *window.ends)]
    moments += [moment for cue in plan.cues for moment in (*cue.at, *cue.until)]
    used = {name for moment in moments for name in _names(moment)}
    used |= {("base", stake.during) for stake in game.stakes if stake.during}
    used |= {("stake", name) for threshold in game.thresholds for name in threshold.counts}
    used |= {("variant", cue.when) for cue in plan.cues if cue.when}
    used |= {("cue", cue.announces) for cue in plan.cues if cue.announces}
    return used


def _names(moment: Moment) -> Iterator[tuple[str, str]]:
    yield "base", moment.base
    if moment.lead:
        yield "lead", moment.lead
