"""Say what a command means where it was not told: the files of the project that this folder is in, or bundled ones."""

import os
import sys
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from tocsin.cli.lines import tell
from tocsin.config import bundle
from tocsin.config.file_cache import NOTHING_SHARED, Shared
from tocsin.config.files import shown_name
from tocsin.config.project import VARIABLE, FoundProject, find_project, project_path, shown_project
from tocsin.config.toml.phrases import listing, nearest
from tocsin.errors import UsageError
from tocsin.runner.options import Roster
from tocsin.translation import tr, trn

_USUAL_PLAN = "full"
_USUAL_RIG = "nothing"
_ORDER = ("plan", "game", "rig", "crew", "runs")      # in which it is said


class Meant:
    """What a command means; each question that the project answers is told by ``tell``, in one line on stderr."""

    def __init__(self, found: FoundProject | None, *, said_none: bool = False) -> None:
        self.found = found
        self._said_none = said_none                # scripts that want no project know what they get
        self._taken: dict[str, str] = {}        # what is said, by what it is about
        self._is_bundled = False
        self._files: list[Path] = []               # that the command line names

    @property
    def shared(self) -> Shared:
        """What lies below all plans here."""
        return self.found.shared if self.found else NOTHING_SHARED

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
        self._take(tr("plan of events"), (self.found.event_plan,))
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
        return self.rig_or_none(given) or _USUAL_RIG

    def needed_rig(self, given: str | None) -> str:
        """Return the rig given, else the project's. Raises UsageError where there is none."""
        if found := self.rig_or_none(given):
            return found
        raise UsageError(
            tr("say which devices: --rig"), hint=tr("e.g. --rig my_rig.toml, or name a rig in tocsin.toml"),
        )

    def rig_or_none(self, given: str | None) -> str | None:
        """Return the rig given, else the project's, else None."""
        if given is not None:
            return self._own("rigs", given)
        if self.found and self.found.rig:
            self._take("rig", (self.found.rig,))
            return self.found.rig
        return None

    def runs(self, given: Path | None, *, told: bool = False) -> Path | None:
        """Return the folder of runs given, else the project's; None for the user's own. ``told`` where a command is
        about them."""
        if given is not None or self.found is None or self.found.runs is None:
            return given
        if told:
            self._taken["runs"] = tr("runs in {runs}", runs=self.found.runs)
        return self.found.runs

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

    def people(self, crew: str | None) -> dict[str, str]:
        """Return the keys of the people of a crew by role, of the project's only one where None is asked for; nobody
        where there are several: whose match it is must not be guessed. Raises UsageError for a crew of nobody."""
        crews = self._crews()
        if crew is None:
            if len(crews) > 1:
                self._taken["crew"] = tr("nobody's match (--crew {crews} says whose)", crews=", ".join(crews))
            crew = next(iter(crews)) if len(crews) == 1 else ""
        elif crew not in crews:
            where = (
                tr("no tocsin.toml") if self.found is None
                else tr("{path} has no [crew.{crew}]", path=self.found.path, crew=crew)
            )
            raise UsageError(
                tr("crew {crew} has no names yet: {where}", crew=crew, where=where),
                hint=tr("--who ROLE=NAME says who plays"),
            )
        if crew:
            self._taken["crew"] = tr("crew {crew}", crew=crew)
        return dict(crews.get(crew, {}))

    def roster(self) -> Roster:
        """Return the keys of the project's people by role, by crew."""
        crews = self._crews()
        if crews:
            self._taken["crew"] = trn("crew {crews}", "crews {crews}", len(crews), crews=", ".join(crews))
        return crews

    def tell_keys(self, roster: Roster) -> None:
        """Say what to write into the project file, so that nobody has to be named each time."""
        if self.found is None:
            return
        known = self._crews()
        for crew, people in roster.items():
            if people and known.get(crew) != people:
                where = tr("[crew.{crew}] in {shown_name}", crew=crew, shown_name=shown_name(self.found.path))
                keys = "  ".join(f'{role} = "{key}"' for role, key in people.items())
                tell(
                    tr("to keep them, write below {where}, one a line: {keys}", where=where, keys=keys), sys.stderr,
                )

    def name(self, files: Iterable[str]) -> None:
        """Note files that the command line names, so that ``tell`` says of which project they are, if it is not taken.
        """
        self._files += map(Path, files)

    def tell(self) -> None:
        """Say which project was taken and what of it; without one, that the bundled example is, where it is."""
        if self.found is not None:
            told = [self._taken[what] for what in _ORDER if what in self._taken]
            taken = f": {', '.join(told)}" if told else ""
            tell(f"{shown_project(self.found)}{taken}", sys.stderr)
        elif self._is_bundled and not self._said_none:
            tell(tr("no tocsin.toml from here up: the bundled example"), sys.stderr)
        for name in dict.fromkeys(map(shown_name, filter(None, map(self._other_project, self._files)))):
            tell(
                tr("{name} is not used: go to its folder, or set {variable}={name}", name=name, variable=VARIABLE),
                sys.stderr,
            )

    def _crews(self) -> Roster:
        crews = self.found.project.crews if self.found else {}
        return {crew: {str(role): key for role, key in people.items()} for crew, people in crews.items()}

    def _other_project(self, named: Path) -> Path | None:
        """Return the project file that a named file belongs to, if that is none that was taken: what the file means
        there, its patterns and people, it does not mean here."""
        path = None if self._said_none else project_path(named.parent, {})
        if path is None or (self.found is not None and path.resolve() == self.found.path.resolve()):
            return None
        return path

    def _own(self, kind: bundle.Kind, argument: str) -> str:
        if bundle.is_file_argument(argument):
            self.name([argument])
            return argument
        if self.found is None:
            return argument
        meant = self.found.own(kind, argument)
        if not bundle.is_file_argument(meant) and bundle.file_of(kind, meant) is None:
            known = self.found.own_names(kind)
            likely = nearest(argument, known)
            hint = tr("did you mean {likely}? ", likely=likely) if likely else ""
            raise UsageError(
                tr(
                    "there is no {kind} '{argument}' in the project, and none bundled", kind=kind[:-1],
                    argument=argument,
                ),
                hint=tr(
                    "{hint}its own: {known}; bundled: {names}", hint=hint, known=listing(known),
                    names=listing(bundle.names(kind)),
                ),
            )
        return meant

    def _take(self, what: str, arguments: Sequence[str]) -> None:
        self._taken[what.split()[0].removesuffix("s")] = f"{what} {', '.join(Path(one).stem for one in arguments)}"


def meant_here() -> Meant:
    """Return what commands mean in this folder. Raises DiagnosticsError with every mistake of the project file."""
    return Meant(find_project(Path(), os.environ), said_none=VARIABLE in os.environ)
