"""The crews that share a drill: who is in each, whose turn it is, and how far each has come.

Each crew plays all rounds of the drill: a goal asks for so many clean rounds of one crew, and the first rounds at half
speed are for people, not for evenings. The rounds of a crew are dealt for it alone, so that none knows what comes from
having watched another.
"""

from collections.abc import Iterator, Mapping

from tocsin.analysis.rounds.variation import Condition, conditions
from tocsin.features.records.round_files import Session
from tocsin.model.drill import CREWS, Drill
from tocsin.runner.options import Roster
from tocsin.translation import tr


class Crews:
    """The crews of one session. ``session`` says which of them is on, and where each stands; ``names`` are people's by
    key, for the screen alone."""

    def __init__(self, drill: Drill, session: Session, roster: Roster, names: Mapping[str, str] | None = None) -> None:
        self._roster = roster
        self._names = names or {}
        self._drill = drill
        self._session = session
        self._dealt: dict[str, tuple[Condition, ...]] = {}

    @property
    def rounds(self) -> tuple[Condition, ...]:
        """The rounds of the crew that is on."""
        crew, seed = self._session.crew, self._session.seed
        if crew not in self._dealt:
            self._dealt[crew] = conditions(self._drill, seed if crew == CREWS[0] else f"{seed} crew {crew}")
        return self._dealt[crew]

    @property
    def people(self) -> dict[str, str]:
        """The keys of the people of the crew that is on, by role; empty where nobody said who they are."""
        return dict(self._roster.get(self._session.crew, {}))

    @property
    def named(self) -> str:
        """A line that says who is in the crew that is on, by the names that this laptop knows; or nothing."""
        known = ((role, self._names.get(key, "")) for role, key in self.people.items())
        named = ", ".join(f"{role} {name}" for role, name in known if name)
        return tr("Crew {crew}: {named}", crew=self._session.crew, named=named) if named else ""

    @property
    def unnamed(self) -> bool:
        """Whether nobody said who is in the crew that is on, though somebody did of another."""
        return bool(self._roster) and not self.people

    @property
    def several(self) -> bool:
        """Whether more than one crew takes part, so that what is told has to say of which."""
        return len(self._partakers()) > 1

    @property
    def alone(self) -> bool:
        """Whether people said who is in one crew, and nobody else has played."""
        return bool(self._roster) and not self.several

    def left(self, crew: str) -> int:
        """Return how many rounds a crew has still to play, the one that is on among them."""
        return max(0, self._drill.rounds - self._session.places.get(crew, 0))

    @property
    def is_last(self) -> bool:
        """Whether no round comes behind the one that is on."""
        return self.left(self._session.crew) <= 1 and not self.waiting()

    def following(self) -> str:
        """Return the crew that the key for the next one brings on, or nothing if no other has rounds left."""
        named = [crew for crew in CREWS if self._roster.get(crew)]
        return next(self._behind(tuple(named) if len(named) > 1 else CREWS), "")

    def waiting(self) -> str:
        """Return the next crew that takes part and has rounds left, beside the one that is on; or nothing."""
        return next(self._behind(self._partakers()), "")

    def due(self) -> str:
        """Return the crew for the next round once one has ended: the one with the fewest rounds behind it, another one
        before the one that is on, so that people and motors rest; or nothing."""
        on = (self._session.crew,) if self.left(self._session.crew) else ()
        crews = (*self._behind(self._partakers()), *on)
        return min(crews, key=lambda crew: self._session.places.get(crew, 0), default="")

    def _partakers(self) -> tuple[str, ...]:
        """Return the crews whose people were named, and those that have played or are on."""
        session = self._session
        return tuple(
            crew for crew in CREWS if self._roster.get(crew) or session.places.get(crew) or crew == session.crew
        )

    def _behind(self, crews: tuple[str, ...]) -> Iterator[str]:
        """Yield those of the crews that have rounds left, from the one behind the one that is on."""
        on = self._session.crew
        place = CREWS.index(on) if on in CREWS else len(CREWS)           # a journal may come from anywhere
        for crew in (*CREWS[place + 1 :], *CREWS[:place]):
            if crew in crews and self.left(crew):
                yield crew
