"""Workers without processes: a maker for supervision whose workers do what a test says, on a clock of its own."""

from tocsin.channels.device import Event
from tocsin.model.clock.origins import Origin
from tocsin.model.pattern import Patterns
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import MATCH, Firing, Point, Segment, Timeline
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Load, NewOrigins, Opened, TimelineLoaded
from tocsin.workers.supervisor import Supervisor
from tocsin.workers.suspicion import Evidence

TURN_NS = 50 * NS_PER_MS


class Made:
    """One worker that was made. ``said`` is what it was told; ``exit`` its exit code once it has ended."""

    start_time = 0.0

    def __init__(self, channel, now_ns, post, inherited, ends_with):
        self.channel = channel
        self.pid = 1
        self.hello_ns = now_ns
        self.inherited = inherited
        self.said = []
        self.left = self.killed = False
        self.exit = None
        self.ends_with = ends_with             # None: it does not end by itself
        self.seen = Evidence(0, 0, "waiting")
        self._post = post

    def says(self, message):
        """Let the worker say something."""
        self._post(self, message)

    def dies(self, code=-9):
        """Let the worker end by itself."""
        self.exit = code
        self._post(self, None)

    def works(self, cpu_ms=1, switches=5, state="waiting"):
        """Let the system see the worker at work."""
        self.seen = Evidence(self.seen.cpu_ns + cpu_ms * NS_PER_MS, self.seen.switches + switches, state)

    def send(self, message, *, droppable=False):
        self.said.append(message)

    def gone(self):
        return self.exit is not None

    def exit_text(self):
        return f"ended with {self.exit}"

    def evidence(self):
        return self.seen

    def kill(self):
        self.killed = True
        self.exit = -9

    def leave(self):
        self.left = True

    def ended(self, timeout_s):
        if self.exit is None:
            self.exit = -9 if self.ends_with is None else self.ends_with
            self.killed = self.ends_with is None
        return self.exit if self.exit >= 0 else None


class Stand:
    """A supervision of some channels whose time goes on by ``turns``; ``made`` are all workers so far."""

    def __init__(self, *channels, ends_with=(0,)):
        self.made = []
        self.notes = []
        self.heard = []
        self.done = ()
        self.now_ns = 1000 * NS_PER_S
        self.refuses = 0
        self._ends_with = list(ends_with)      # exit codes, worker by worker; the last goes on
        self.supervisor = Supervisor(Rig(name="Made"), channels, lambda: None, self._make)
        self.supervisor.start(self.now_ns)

    def _make(self, channel, rig, now_ns, post, inherited):
        if self.refuses:
            self.refuses -= 1
            raise OSError("no more processes")
        ends_with = self._ends_with.pop(0) if len(self._ends_with) > 1 else self._ends_with[0]
        self.made.append(Made(channel, now_ns, post, inherited, ends_with))
        return self.made[-1]

    @property
    def newest(self):
        return self.made[-1]

    def turn(self, took_ns=TURN_NS):
        """Let one turn of the conductor pass."""
        self.now_ns += took_ns
        self.heard += self.supervisor.receive(self.now_ns)
        self.notes += self.supervisor.check(self.now_ns, lambda channel: self.done)

    def turns(self, s, took_ns=TURN_NS, each=lambda: None):
        """Let so many seconds pass; ``each`` happens before every turn."""
        for _ in range(round(s * NS_PER_S / took_ns)):
            each()
            self.turn(took_ns)

    def open(self, channel="light"):
        """Let the newest worker open its device and, if it has one, load its timeline."""
        self.newest.says(Opened(now_ns=self.now_ns))
        self.newest.says(ready(self.now_ns))
        self.turn(0)
        if any(isinstance(message, Load) for message in self.newest.said):
            self.newest.says(TimelineLoaded())
        self.turn(0)

    def kinds(self):
        """Return what supervision did, in order."""
        return [kind for kind, _, _ in self.notes]


def ready(now_ns, state="ready", what=""):
    """Return a worker's word that its device is there."""
    return Event(kind="device", at_ns=now_ns, what=what, state=state, name="a strip")


def firing(no, at_s, *, channel="light", late_ms=150, until_s=None):
    """Return a firing of a match at a second, perhaps held until another."""
    return Firing(
        no=no, cue=f"cue{no}", n=0, channel=channel, role=None, begin=Point(MATCH, round(at_s * NS_PER_S)),
        until=None if until_s is None else Point(MATCH, round(until_s * NS_PER_S)), sustained=until_s is not None,
        pattern="p", word="", late_limit_ns=late_ms * NS_PER_MS, priority=5, when="", match_ns=round(at_s * NS_PER_S),
        lasts_ns=NS_PER_S,
    )  # fmt: skip


def load(*firings, run=1):
    """Return a message with a timeline of these firings."""
    return Load(timeline_of(firings), Patterns(), run)


def timeline_of(firings):
    """Return a match of a minute with these firings."""
    return Timeline(
        game="g", plan="p", digits="ceil", counts="period",
        segments=(Segment(anchor=MATCH, match_ns=0, lasts_ns=60 * NS_PER_S),), periods=(), windows=(),
        variants=(), default_variant="", firings=tuple(firings),
    )  # fmt: skip


def origins(begin_ns, run=1):
    """Return a message that begins the match at a time."""
    return NewOrigins((Origin(anchor=MATCH, origin_ns=begin_ns),), "", run)
