"""Define the source of every export, and the lines at its top that name it."""

import msgspec

from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.timeline import Timeline

MADE_BY = "Made by Tocsin"             # stands in every export: only such a file is ever replaced


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """A plan compiled in its game; the SHA-256 of both files; the version of Tocsin that exports it."""

    game: Game
    plan: Plan
    timeline: Timeline
    game_sha256: str
    plan_sha256: str
    version: str

    @property
    def origin_lines(self) -> tuple[str, ...]:
        """The lines that name an export's source. Equal inputs give equal lines: there is no date in them."""
        return (
            f"{MADE_BY} {self.version}. Do not edit: change the plan and export it again.",
            f"game: {self.game.name} (sha256 {self.game_sha256})",
            f"plan: {self.plan.name} (sha256 {self.plan_sha256})",
        )


CAUTIONS = (
    "No cue stops a robot, and none is a permission to enter the field. The referee's clock and word decide.",
    "The event's rules come first: ask before you use it there, each time.",
)
