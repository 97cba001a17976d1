"""Say what a command means where it was not told: the files of the project that this folder is in, or bundled ones."""

import os
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from tocsin.cli.lines import tell
from tocsin.config import bundle
from tocsin.config.project import VARIABLE, FoundProject, find_project, shown_project

_USUAL_PLAN = "full"
_USUAL_RIG = "nothing"


class Meant:
    """What a command means; each question that the project answers is told by ``tell``, in one line on stderr."""

    def __init__(self, found: FoundProject | None, *, said_none: bool = False) -> None:
        self.found = found
        self._said_none = said_none                # scripts that want no project know what they get
        self._taken: list[str] = []
        self._is_bundled = False

    def plans(self, given: Sequence[str] | None, most: int = 3) -> tuple[str, ...]:
        """Return the plans given, else the first ``most`` of the project, else the bundled example."""
        if given:
            return tuple(self._own("plans", one) for one in given)
        if self.found and self.found.plans:
            plans = self.found.plans[:most]
            self._take("plan" if len(plans) == 1 else "plans", plans)
            return plans
        self._is_bundled = True
        return (_USUAL_PLAN,)

    def event_plans(self, given: Sequence[str] | None) -> tuple[str, ...]:
        """Return the plans given, else the project's for events, else what ``plans`` returns."""
        if given or self.found is None or self.found.event_plan is None:
            return self.plans(given)
        self._take("plan of events", (self.found.event_plan,))
        return (self.found.event_plan,)

    def event_today(self, today: date) -> str:
        """Return the name of the plan that the project plays at events if this day is one of its own, else nothing."""
        if self.found is None or today.isoformat() not in self.found.project.event.dates:
            return ""
        return Path(self.found.event_plan or next(iter(self.found.plans), _USUAL_PLAN)).stem

    def plan(self, given: str | None) -> str:
        """Return the plan given, else the project's usual one, else the bundled example."""
        return self.plans(None if given is None else [given], 1)[0]

    def game(self, given: str | None, plans: Sequence[str]) -> str | None:
        """Return the game given, else the project's where the plans cannot name it, else None: each plan's own."""
        if given is not None:
            return self._own("games", given)
        game = self.found.game_of(plans) if self.found else None
        if game:
            self._take("game", (game,))
        return game

    def rig(self, given: str | None) -> str:
        """Return the rig given, else the project's, else the one without devices."""
        if given is not None:
            return self._own("rigs", given)
        if self.found and self.found.rig:
            self._take("rig", (self.found.rig,))
            return self.found.rig
        return _USUAL_RIG

    def runs(self, given: Path | None) -> Path | None:
        """Return the folder of runs given, else the project's; None for the user's own."""
        return given if given is not None or self.found is None else self.found.runs

    def drill(self, given: str) -> str:
        """Return the drill that a name means."""
        self._is_bundled = not bundle.is_file_argument(given)
        return self._own("drills", given)

    def plan_of_drill(self, given: str | None, drill: str, *, deals: bool) -> str | None:
        """Return the plan given in place of the drill's, else the project's where the drill cannot name it, else None:
        its own."""
        if given is not None:
            return self._own("plans", given)
        plan = self.found.plan_of_drill(drill, deals=deals) if self.found else None
        if plan:
            self._take("plan", (plan,))
        return plan

    def tell(self) -> None:
        """Say which project was taken and what of it; without one, that the bundled example is, where it is."""
        if self.found is not None:
            taken = f": {', '.join(self._taken)}" if self._taken else ""
            tell(f"{shown_project(self.found)}{taken}", sys.stderr)
        elif self._is_bundled and not self._said_none:
            tell("no tocsin.toml from here up: the bundled example", sys.stderr)

    def _own(self, kind: bundle.Kind, argument: str) -> str:
        return argument if self.found is None else self.found.own(kind, argument)

    def _take(self, what: str, arguments: Sequence[str]) -> None:
        self._taken.append(f"{what} {', '.join(Path(one).stem for one in arguments)}")


def meant_here() -> Meant:
    """Return what commands mean in this folder. Raises DiagnosticsError with every mistake of the project file."""
    return Meant(find_project(Path(), os.environ), said_none=VARIABLE in os.environ)
