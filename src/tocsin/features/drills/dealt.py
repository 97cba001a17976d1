"""Make the next round of a drill: the crew's condition, the plan varied by it, the facts for its journal."""

import msgspec

from tocsin.analysis.rounds.own_limit import OwnLimit
from tocsin.analysis.rounds.variation import Condition, begin_of, varied
from tocsin.config.drills import LoadedDrill
from tocsin.features.drills.card import coach_line
from tocsin.features.drills.crews import Crews
from tocsin.features.records.round_files import RoundFacts, Session
from tocsin.model.compiler.compiler import compile_plan
from tocsin.runner.options import ROUND
from tocsin.runner.stage import Piece


class Dealt:
    """The rounds of a session as they are made, one after another. ``coach`` says what the coach does in the one that
    was made last."""

    def __init__(self, found: LoadedDrill, crews: Crews, session: Session) -> None:
        self._drill = found.drill
        self._files = found.files
        self._plans = dict(zip(found.drill.plans, found.files.plans, strict=False))
        self._crews = crews
        self._session = session
        self._facts: RoundFacts | None = None
        self.coach = ""

    @property
    def condition(self) -> Condition:
        """The condition of the round that comes next, or of the last one once all are played."""
        rounds = self._crews.rounds
        condition = rounds[min(self._session.place, len(rounds) - 1)]
        if self._files.rig.start.by == "count_in":
            return condition
        return msgspec.structs.replace(condition, late_start_ns=0)      # nothing is counted that it could lag behind

    @property
    def facts(self) -> RoundFacts:
        """The facts of the round that was made last."""
        assert self._facts is not None             # a round that ended was a piece before
        return self._facts

    def piece(self, own: OwnLimit | None) -> Piece:
        """Return the next round, its plan varied by its condition; ``own`` is the crew's own limit. Its journal holds
        the files of all plans that the drill deals, and which of them it is of."""
        condition, session = self.condition, self._session
        dealt = condition.plan or self._drill.plan
        found = self._plans[dealt]
        plan = varied(found.plan, self._drill, condition)
        timeline, mistakes = compile_plan(found.game, plan)
        if timeline is None:
            raise ValueError(f"round {condition.number} does not compile: {mistakes[0].code}")
        facts = self._facts = RoundFacts(
            name=session.name, key=session.key, seed=session.seed, round=condition.number, crew=session.crew,
            battery=session.on_battery, half_speed=condition.half_speed, condition=msgspec.to_builtins(condition),
            own=own,
        )  # fmt: skip
        self.coach = coach_line(condition, self._drill, plan, timeline)
        return Piece(
            self._files._replace(plans=(found,)), timeline, found.plan.patterns,
            begin_of(self._drill, timeline, condition),
            {
                ROUND: msgspec.to_builtins(facts), "people": self._crews.people,
                "plan_no": self._drill.plans.index(dealt),
            }, condition.late_start_ns, found.plan, later=tuple(one.plan for one in self._plans.values()),
        )  # fmt: skip
