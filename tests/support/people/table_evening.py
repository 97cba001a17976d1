"""The table crew at the keys of the real programme of a drill, its stage and match, on a clock of the test's own.

What people press is what ``table_crew.py`` draws for the same seed, so both must come to the same results.
"""

from pathlib import Path

import msgspec

from tests.support.people.table_crew import ORIGIN_NS, Crew, loaded, round_of
from tests.support.runner.stage_stand import NOW_NS, Desk, stage_for
from tocsin.analysis.rounds.variation import Condition
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import RoundFacts, Session
from tocsin.journal import records
from tocsin.model.timeline.timeline import MATCH
from tocsin.runner.options import ROUND, RunOptions
from tocsin.units import NS_PER_MS, NS_PER_S

KEYS = {"contact": "7", "turned": "8", "home": "9"}
TAP_NS = 60 * NS_PER_MS
OPTIONS = RunOptions(plans=("full",), rig="nothing", rate=1.0, start="key")


class TableEvening:
    """A drill in which one crew plays the rounds. ``folders`` are those of the rounds, the oldest first."""

    def __init__(self, folder: Path, name: str, crew: Crew, seed: int) -> None:
        self.name, self.crew, self.seed = name, crew, seed
        self.runs = folder / "runs"
        self.folders: list[Path] = []
        self.results: list[tuple[str, ...]] = []
        self.cards: list[tuple[str, ...]] = []
        self.sit_down(folder, Rounds(loaded(name), OPTIONS, Session(name=name, key="k", seed=seed)))
        self.desk.press(*"y" * 9)

    def sit_down(self, folder: Path, programme: Rounds) -> None:
        """Take a programme up, the first or one that goes on."""
        self.programme = programme
        self.desk = Desk(programme, stage_for(programme, OPTIONS, folder))

    @property
    def facts(self) -> RoundFacts:
        """What the header of the round that stands says of it."""
        return msgspec.convert(self.desk.stage.piece.facts[ROUND], RoundFacts)

    def play(self, rounds: int) -> None:
        """Play so many rounds, each to its result, and go on behind it."""
        for _ in range(rounds):
            self.play_round()
            self.next_round()

    def play_round(self) -> None:
        """Play the round that stands up to its result."""
        desk = self.desk
        self.cards.append(tuple(desk.card))
        desk.press("f", "s")
        while desk.phase != "running":
            desk.after(0.25)
        match = desk.stage.match
        origins = [one for one in match.record.kept if isinstance(one, records.OriginRecord) and one.anchor == MATCH]
        origin_ns = origins[-1].origin_ns
        assert origin_ns is not None
        condition = msgspec.convert(self.facts.condition, Condition)
        _, marks = round_of(self.name, condition, self.crew, self.seed)
        presses: list[tuple[int, str, bool]] = []
        for mark in marks:
            begin_ns = mark.begin_ns - ORIGIN_NS + origin_ns
            end_ns = begin_ns + TAP_NS if mark.end_ns is None else mark.end_ns - ORIGIN_NS + origin_ns
            presses += [(begin_ns, KEYS[mark.label], True), (end_ns, KEYS[mark.label], False)]
        self._give_the_call(origin_ns)
        for at_ns, key, down in sorted(presses):
            desk.at((at_ns - NOW_NS) / NS_PER_S)
            desk.actions.key(key, at_ns, max(at_ns, desk.now_ns), down=down)
        self.results.append(desk.end_match())
        folder = desk.stage.last_folder = match.record.path      # equal times of day: only now it is sure which
        assert folder is not None
        self.folders.append(folder)

    def next_round(self) -> None:
        """Leave a result for the round that follows, if one does."""
        self.desk.press("s")
        if not self.programme.finished:
            self.desk.go_on()

    def _give_the_call(self, origin_ns: int) -> None:
        """Report the call home as a device would that gave it on time."""
        match = self.desk.stage.match
        home = next(one for one in match.timeline.firings if one.cue == "home" and one.begin.anchor == MATCH)
        at_ns = origin_ns + home.begin.offset_ns
        self.desk.at((at_ns - NOW_NS) / NS_PER_S)
        match.record.add(
            records.FiringRecord(
                at_ns=self.desk.now_ns, cue="home", n=home.n, channel=home.channel, role=home.role, anchor=MATCH,
                due_ns=home.begin.offset_ns, match_ns=home.match_ns, late_ns=0, took_ns=0, outcome="played", why="",
                no=home.no, instance=0,
            )
        )  # fmt: skip
