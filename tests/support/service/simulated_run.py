"""A conductor in a thread: it plays a match of a bundled plan on the real clock, without devices, for a service.

    with service() as stand, SimulatedRun(stand, tmp_path) as run:
        run.do("start")                    # as by a key at the laptop

It carries wishes and marks out as far as keys of the laptop can; what it does not know is refused.
"""

import threading
from datetime import UTC, datetime

import msgspec

from tests.support.export.exported_plans import source
from tests.support.runner.stage_stand import Desk, notice, stage_for
from tocsin import monotime
from tocsin.config.load import load
from tocsin.export.json_document import document
from tocsin.journal import records
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.service.messages import Answer, Marked, Offer, Play, Show

TURN_S = 0.1
KEYS = {
    "start": "s", "scrap": "x", "hold": "p", "resume": "p", "earlier": "left", "later": "right", "undo": "a",
    "mute": "m", "louder": "up", "softer": "down", "sync": "g", "begin": "b", "variant": "v",
}  # fmt: skip
HELD_IN = {"hold": ("waiting", "running"), "resume": ("held",)}
MARKS = ("contact", "turned", "home")
WALL = datetime(2031, 3, 1, 10, tzinfo=UTC)


class SimulatedRun:
    """The conductor. ``extra`` are facts of the header, such as who plays."""

    def __init__(self, stand, tmp_path, plan="full", run=1, extra=None, **options):
        self.stand = stand
        self.run = run
        options = RunOptions(plans=(plan,), rig="nothing", **options)
        self.files = load(None, options.plans, options.rig)
        self.programme = Programme(self.files, options)
        self.stage = stage_for(self.programme, options, tmp_path, now_ns=monotime.now_ns())
        self.desk = Desk(self.programme, self.stage)
        self.told = []                     # the wishes and marks that came
        self._extra = extra or {}
        self._lock = threading.RLock()
        self._over = threading.Event()
        self._sent = 0
        self._shown = None
        self._thread = threading.Thread(target=self._turns, daemon=True)

    def __enter__(self):
        found = self.files.plans[0]
        plan = msgspec.json.encode(document(source(found.game, found.plan)))
        self.stand.down(Play(run=self.run, timeline=self.stage.match.timeline, document=msgspec.Raw(plan),
            ahead=msgspec.Raw(msgspec.json.encode(self._header(self._now()))),
        ))  # fmt: skip
        self._turn()
        self.stand.answers = self.answer
        self._thread.start()
        return self

    def __exit__(self, *exception):
        self._over.set()
        self._thread.join()

    @property
    def phase(self):
        return self.stage.match.lifecycle.phase

    def do(self, action):
        """Do what an action's key does; return the notice that people see then."""
        with self._lock:
            self._now()
            said = self.desk.press(KEYS[action])
            self._turn()
            return said

    def answer(self, message):
        """Carry a wish or mark out; return the answer."""
        self.told.append(message)
        with self._lock:
            if isinstance(message, Marked):
                return self._mark(message)
            if message.action not in KEYS or self.phase not in HELD_IN.get(message.action, (self.phase,)):
                return Answer(id=message.id, taken=False, text="not now")
            before = self._outward()
            said = self.do(message.action)
            return Answer(id=message.id, taken=self._outward() != before, text=said)

    def _mark(self, message):
        now_ns = self._now()
        outcome = self.stage.match.mark(
            now_ns, message.label, message.begin_ns, message.end_ns, message.source, pointlike=message.end_ns is None
        )
        self._turn()
        refused = type(outcome).__name__ == "Refused"
        return Answer(id=message.id, taken=not refused, text=outcome.told if not refused else outcome.why)

    def _outward(self):
        match = self.stage.match
        return self.phase, match.lifecycle.origins, len(match.record.kept), self.desk.status.notice

    def _now(self):
        self.desk.now_ns = monotime.now_ns()
        return self.desk.now_ns

    def _turns(self):
        while not self._over.wait(TURN_S):
            with self._lock:
                self._turn()

    def _turn(self):
        now_ns = self._now()
        match = self.stage.match
        match.follow(now_ns)
        self.programme.turn(self.stage, now_ns)
        if self.phase != "standby" and not match.armed:
            match.armed = True
            self.stand.records(self.run, self._header(now_ns))
        if match.armed:
            self.stand.records(self.run, *match.record.kept[self._sent :])
            self._sent = len(match.record.kept)
        shown = Show(run=self.run, status=self.desk.status, can=self._can())
        if shown != self._shown:
            self._shown = shown
            self.stand.down(shown)

    def _header(self, now_ns):
        wall = WALL.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        return records.Header(
            at_ns=now_ns, wall=wall, boot="b", label=self.stage.options.label, options=self._extra,
            timeline=self.stage.match.timeline,
        )  # fmt: skip

    def _can(self):
        verbs = {"standby": ("start",), "held": ("resume", "scrap")}.get(self.phase, ("hold", "scrap", "undo"))
        marks = MARKS if self.phase not in ("standby", "scrapped") else ()
        return (
            *(Offer(action=verb, does=verb, sure=verb == "scrap") for verb in verbs),
            *(Offer(action=f"mark.{label}", does=label) for label in marks),
        )

    @property
    def notice(self):
        return notice(self.stage, monotime.now_ns())
