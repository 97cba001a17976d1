"""What is played, match after match. ``tocsin run`` plays a plan again and again; a drill plays its rounds."""

from typing import TYPE_CHECKING, Any, NamedTuple

from tocsin.app.ending import Ending
from tocsin.app.options import RunOptions
from tocsin.app.reload import PlanWatch
from tocsin.config.load import Loaded
from tocsin.journal import records
from tocsin.model.moment import parse
from tocsin.model.pattern import Patterns
from tocsin.model.plan import Plan
from tocsin.model.timeline import MATCH, Point, Timeline
from tocsin.model.view import Phase

if TYPE_CHECKING:
    from tocsin.app.conductor import Conductor

_RELOADED = "reloaded"                 # of a notice: what became of a plan that was saved


class Piece(NamedTuple):
    """One match: its timeline, from which point on; what its journal's header says of it beside the options.

    ``behind_ns`` is how long after the count-in's last beat the clock begins. ``plan`` is that whose words are spoken,
    None where none are.
    """

    timeline: Timeline
    patterns: Patterns
    at: Point
    facts: dict[str, Any]
    behind_ns: int = 0
    plan: Plan | None = None


class Programme:
    """Plays one of the plans, chosen in standby, until a person leaves.

    ``newest`` is the piece that was asked for last: what is played, or comes next.
    """

    results_stand = False                  # whether a result stays until a person goes on
    reloads = True                         # whether a plan that is saved in standby is loaded anew
    keys_alone = False                     # whether its own keys are all that mean something
    of_match = True                        # whether the faces tell of a match: of its periods, its end, its marks

    def __init__(self, files: Loaded, options: RunOptions) -> None:
        self._files = files
        self._options = options
        self._watch = PlanWatch(options, files) if self.reloads else None
        self._mistakes: tuple[str, ...] = ()
        self.newest: Piece | None = None

    def piece(self, plan_no: int) -> Piece:
        """Return what is played next."""
        found = self._files.plans[plan_no]
        moment = self._options.from_moment
        at = found.timeline.locate(parse(moment)) if moment else Point(MATCH, 0)
        self.newest = Piece(found.timeline, found.plan.patterns, at, {}, plan=found.plan)
        return self.newest

    @property
    def begins(self) -> Point:
        """Where on the match clock people see it begin."""
        return self.newest.at if self.newest else Point(MATCH, 0)

    def turn(self, conductor: "Conductor", now_ns: int) -> None:
        """Do what is due between matches: load a plan that was saved. While a match runs nothing changes."""
        if self._watch is None or conductor.match.lifecycle.phase != "standby":
            return
        found = self._watch.look(now_ns)
        if found is None:
            return
        conductor.notice(found.notice, topic=_RELOADED)
        self._mistakes = found.mistakes
        if found.files is not None:
            self._files = conductor.files = found.files
            conductor.load_plan(conductor.plan_no, anew=True)

    @property
    def finished(self) -> bool:
        """Whether nothing is left to be played."""
        return False

    def card(self) -> tuple[str, ...]:
        """Return what stands on the faces in standby about what comes next: mistakes of a plan that was saved."""
        return self._mistakes

    def ask(self, conductor: "Conductor", phase: Phase) -> str:
        """Return what a person has to do before a match can start or the next can come, or nothing."""
        return ""

    def result(self) -> tuple[str, ...]:
        """Return what the result reads now where that is not what ``ended`` returned, or nothing."""
        return ()

    def refuses_start(self) -> str:
        """Return why no match may start now, or nothing."""
        return ""

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return actions beside those of every match, and what they do, for the help line."""
        return ()

    def act(self, action: str, conductor: "Conductor") -> str | None:
        """Carry an action out; return why not, or nothing, or None if the action is not this programme's."""
        return None

    def take_notes(self) -> list[records.Note]:
        """Return what people said and did before the match that begins now, for its journal."""
        return []

    def ended(self, conductor: "Conductor", ending: Ending) -> tuple[str, ...]:
        """Take note of a match that has ended; return what its result reads, nothing for the summary."""
        return ()
