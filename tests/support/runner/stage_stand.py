"""A stage without processes: what plays on it is asked in microseconds, on a clock of the test's own."""

from datetime import UTC, datetime, timedelta

from tests.support.runner.workers_made import Made
from tocsin.channels.device import Event
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.model.plan import CHANNELS
from tocsin.runner.actions import Actions
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Front, Stage
from tocsin.runner.status import status_of
from tocsin.units import NS_PER_S as S
from tocsin.workers.supervisor import Supervisor

NOW_NS = 5000 * S
TURN_NS = S // 4


def stage_for(programme, options, tmp_path, now_ns=NOW_NS):
    """Return a stage on which a programme's first piece stands; its workers are made, and a person sits at a window."""
    piece = programme.piece(0)

    def make(channel, rig, now_ns, post, inherited):
        return Made(channel, now_ns, post, inherited, 0)

    supervisor = Supervisor(piece.files.rig, options.only, lambda: None, make)
    supervisor.start(now_ns)
    stage = Stage(options, tmp_path / "runs", piece, 0, supervisor, now_ns)
    stage.front = Front(opened=True, interactive=True)
    return stage


def plain_stage(tmp_path, *plans, **options):
    """Return a programme that plays bundled plans, and its stage."""
    options = RunOptions(plans=plans or ("full",), rig="nothing", **options)
    programme = Programme(load(None, options.plans, options.rig), options)
    return programme, stage_for(programme, options, tmp_path)


def told(stage, channel=None):
    """Return the messages that workers were sent."""
    return [
        message
        for process in stage.supervisor.processes()
        if channel in (None, process.channel)
        for message in process.said
    ]


def notice(stage, now_ns=NOW_NS):
    """Return the newest notice that people see."""
    return stage.notices.at(now_ns, stage.match.lifecycle.phase)


def ready(stage, *channels):
    """Let devices be there."""
    for channel in channels or CHANNELS:
        stage.device_states.take(channel, Event(kind="device", at_ns=NOW_NS, state="ready", name=f"a {channel}"))


class Desk:
    """A person at the keys of a stage, and the turns of a conductor, as far as a programme sees them."""

    def __init__(self, programme, stage):
        self.programme = programme
        self.stage = stage
        self.shown_ns = []
        stage.front.show_test = self.shown_ns.append
        self.actions = Actions(stage, programme)
        self.now_ns = NOW_NS
        self.result = ()

    def at(self, after_s):
        """Go on to so many seconds after the begin of the test, in turns."""
        end_ns = NOW_NS + round(after_s * S)
        while self.now_ns < end_ns:
            self.now_ns = min(self.now_ns + TURN_NS, end_ns)
            self.stage.match.follow(self.now_ns)
            self.programme.turn(self.stage, self.now_ns)
            self._begin_record()
        return self

    def _begin_record(self):
        match = self.stage.match
        if self.phase != "standby" and not match.armed:
            match.armed = True
            for note in self.programme.take_notes():
                match.record.add(note)
            wall = datetime(2031, 3, 1, 10, tzinfo=UTC) + timedelta(seconds=(self.now_ns - NOW_NS) / S)
            match.record.begin(self.now_ns, f"{wall:%Y-%m-%dT%H:%M:%S}.000Z", match.timeline, ())

    def after(self, s):
        """Go on by so many seconds."""
        return self.at((self.now_ns - NOW_NS) / S + s)

    def press(self, *keys):
        """Press keys; return the notice that people see then."""
        for key in keys:
            self.actions.key(key, self.now_ns, self.now_ns, down=True)
            self.actions.key(key, self.now_ns, self.now_ns, down=False)
        return self.notice

    def end_match(self, *, reads=True):
        """Let turns pass until the match is over or the program's end was asked for; return the lines of its result,
        which stand once the person has read that all stay outside, and pressed start."""
        stage = self.stage
        while not stage.match.over(self.now_ns) and not stage.ending:
            self.after(1)
        self.actions.release_all(self.now_ns)
        stage.note_end()
        scrapped = stage.ending or stage.match.lifecycle.phase == "scrapped"
        ending = Ending(outcome="scrapped" if scrapped else "over")
        # Ended and written before the result, as by a run: what people note at the result stands behind it.
        stage.match.record.add(records.End(at_ns=self.now_ns, outcome=ending.outcome, exit=0))
        assert stage.match.record.close() == ""
        self.result = self.programme.ended(stage, ending, self.now_ns)
        if reads and ending.outcome == "over" and self.now_ns < (self.status.outside_until_ns or 0):
            self.press("s")
        return self.result

    @property
    def status(self):
        return status_of(self.stage, self.programme, self.result, self.now_ns)

    def go_on(self):
        """Let the next match stand, as somebody has asked for it."""
        assert self.stage.wants_next
        self.stage.wants_next = False
        self.stage.reload(self.programme.piece(self.stage.plan_no), self.now_ns)

    @property
    def ask(self):
        return self.programme.ask(self.stage, self.phase)

    @property
    def card(self):
        return self.programme.card(self.now_ns)

    @property
    def notice(self):
        return notice(self.stage, self.now_ns)

    @property
    def phase(self):
        return self.stage.match.lifecycle.phase
