"""A match and the schedules of its channels, turn by turn, as conductor and workers go: no process, no device."""

import copy
from typing import NamedTuple

from tocsin.config.load import load
from tocsin.journal import records
from tocsin.journal.past import past_of
from tocsin.journal.reader import read
from tocsin.model.clock.origins import NEVER_NS
from tocsin.model.clock.schedule import Schedule
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH, Firing, Point
from tocsin.runner.match.match import Match
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.outcome import Done
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S
from tocsin.workers.protocol import Fired

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
PRESS_NS = 5000 * S
TURN_NS = 50 * MS
STEP_NS = 5 * MS                       # of a worker's turn
HEARD_NS = 20 * MS                     # what a message needs
LATENCY_NS = {"light": 4 * MS, "screen": 16 * MS, "sound": 12 * MS, "rumble": 80 * MS}
AUTO_S, DRIVER_S, BELFRY_S, WARNING_S, END_S = 28, 39, 111, 118, 136
OUTCOMES = {"begin": "played", "resume": "resumed", "skip": "skipped"}


class Given(NamedTuple):
    """A cue that a channel gave, or did not: when, by the shared clock, and when that reached people."""

    verb: str
    at_ns: int
    firing: Firing
    why: str
    instance: int = 0

    @property
    def land_ns(self):
        return self.at_ns + LATENCY_NS[self.firing.channel]


def own(timeline=TIMELINE):
    return [f.no for f in timeline.firings if f.match_ns is not None and f.when in ("", timeline.default_variant)]


class Stand:
    """What a channel does is recorded at the conductor's next turn. ``away_until_ns``: no worker is there until then,
    and those that come know nothing but what is recorded."""

    def __init__(self, tmp_path, by="press", at=None, timeline=TIMELINE, rate=1.0):
        self._folder = tmp_path
        self._start = Start(by=by)
        self.timeline = timeline
        self.record = RunRecord(tmp_path, Heading(options={}, label="", files=()))
        self.rate = rate
        self.match = self._match(self._start, at or Point(MATCH, 0))
        self.now_ns = PRESS_NS
        self.away_until_ns = 0
        self.given = []
        self.digits = []
        self._reports = []
        self._workers()
        if by != "itself":
            assert isinstance(self.match.press_start(PRESS_NS, PRESS_NS), Done)
            self.first_ns = self.match.lifecycle.latest.origin_ns

    def _match(self, start, at):
        return Match(self.timeline, start, at, self.rate, self.record, latency_ns=max(LATENCY_NS.values()))

    def _workers(self):
        segments = [segment.anchor for segment in self.timeline.segments]
        self.schedules = {
            name: Schedule(
                [f for f in self.timeline.firings if f.channel == name],
                segments,
                latency_ns=latency_ns,
                done=self.record.fired.get(name, ()),
            )
            for name, latency_ns in LATENCY_NS.items()
        }
        self._due_ns = 0

    def begin_by_itself(self):
        """Take a start in which nobody believes anything of the clock."""
        self.match = self._match(Start(), Point(MATCH, 0))
        self.match.start_now(PRESS_NS)
        self.first_ns = PRESS_NS + 500 * MS

    def go_on(self, until_ns):
        """Let turns pass until this time has come."""
        while self.now_ns < until_ns:
            told, given = (self.match.origins(), self.match.given) if self.match.changed else (None, [])
            self.match.changed, self.match.given = False, []
            for after_ns in range(0, TURN_NS, STEP_NS):
                at_ns = self.now_ns + after_ns
                if self.away_until_ns:
                    self._come_back(at_ns)
                elif after_ns == HEARD_NS and told is not None:
                    self.tell(told, given)
                self._fire(at_ns)
            self.now_ns += TURN_NS
            for firing, report in self._reports:
                self.record.firing(self.now_ns, firing, report)
            self._reports.clear()
            self.match.follow(self.now_ns)
            origin = self.match.lifecycle.latest
            if origin is not None:
                self.digits.append(origin.elapsed_ns(self.now_ns))

    def _come_back(self, at_ns):
        if at_ns >= self.away_until_ns:
            self.away_until_ns = 0
            self._workers()
            self.tell(self.match.origins(), self.match.given_ever)

    def tell(self, origins, given):
        self._due_ns = 0
        for schedule in self.schedules.values():
            schedule.withdraw()
            schedule.choose(self.match.lifecycle.variant)
            schedule.give(given)
            for origin in origins:
                schedule.set_origin(origin)

    def _fire(self, at_ns):
        if self.away_until_ns or at_ns < self._due_ns:           # as workers wait for what is next
            return
        for schedule in self.schedules.values():
            for order in schedule.due(at_ns):
                shot = order.shot
                self.given.append(Given(order.verb, at_ns, shot.firing, order.why, shot.instance))
                if order.verb in OUTCOMES:
                    late_ns = at_ns - shot.begin_ns if order.verb == "begin" else None
                    outcome = OUTCOMES[order.verb]
                    report = Fired(
                        shot.firing.no, shot.instance, outcome, order.why, shot.begin_ns, late_ns, 0, ()
                    )
                    self._reports.append((shot.firing, report))
        nexts = [next_ns for schedule in self.schedules.values() if (next_ns := schedule.next_ns()) is not None]
        self._due_ns = min(nexts, default=NEVER_NS)

    def killed(self, after_ns=0, torn=b""):
        """Return what goes on after a kill with nothing but the journal, behind whose last whole record something torn
        may stand. ``unheard`` are the firings of this turn: nobody had heard of them when it was killed."""
        other = copy.copy(self)
        other.given, other.digits, other._reports = [], [], []
        kept = list(self.record.kept)
        other.unheard = set()
        while isinstance(kept[-1], records.FiringRecord) and kept[-1].at_ns == self.now_ns:
            lost = kept.pop()
            other.unheard.add((lost.no, lost.instance))
        header = records.Header(at_ns=PRESS_NS, wall="2031-03-01T10:00:00.000Z", boot="b", timeline=self.timeline)
        file = self._folder / "journal.jsonl"
        file.write_bytes(b"".join(records.encode(record) for record in (header, *kept)) + torn)
        other.now_ns += after_ns
        past = past_of(read(file))
        other.record = RunRecord(self._folder, Heading(options={}, label="", files=()))
        other.record.take_over(past.journal.records)
        latency_ns = max(LATENCY_NS.values())
        other.match = Match.restored(
            self.timeline, self._start, self.rate, other.record, past, other.now_ns, latency_ns
        )
        other._workers()
        return other

    def tap(self, at_ns):
        self.go_on(at_ns)
        return self.match.sync(self.now_ns, at_ns)

    def begun(self):
        """Return the numbers of the firings that were begun, in order."""
        return [g.firing.no for g in self.given if g.verb == "begin"]

    def noted(self, kind):
        return [r for r in self.record.kept if isinstance(r, kind)]
