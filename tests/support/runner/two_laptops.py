"""Two laptops in one process: a keeper's match as a conductor plays it, and a follower's programme behind a line.

The follower's clock shows another time and runs at another rate. The line brings what the service would: whole runs,
records, states, exchanges with delays of the test's own; it may be cut. Nothing here sleeps.
"""

import msgspec

from tests.support.runner.stage_stand import Desk, plain_stage, stage_for
from tocsin import __version__
from tocsin.config.files import file_text
from tocsin.config.load import load
from tocsin.features.follow.heard import RecordLine
from tocsin.features.follow.keeper import Keeper
from tocsin.features.follow.programme import Follower
from tocsin.model.clock.exchange import Exchange
from tocsin.model.display.view_model import ViewModel
from tocsin.readable import utf8_json
from tocsin.runner.options import RunOptions
from tocsin.service.bodies import BoardsHere, RunSoFar, State, You
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

RIG = next(file for file in load(None, ["full"], "nothing").files if file.kind == "rig")
TURN_NS = 50 * MS
WALL = "2031-03-01T10:00:00.000Z"


class Line:
    """What the follower hears. ``ways_ns`` are the delays out and back; while ``cut`` nothing comes."""

    def __init__(self, laptops):
        self._laptops = laptops
        self.heard_ns = None
        self.wake = lambda: None
        self.cut = False
        self.ways_ns = (2 * MS, 2 * MS)
        self._waiting = []
        self._exchanged_ns = 0
        self._shown = None
        self._asks_clock = True
        self._asks_run = False

    def take(self):
        if self.cut:
            self._asks_run = self._asks_clock = True       # as whoever connects anew does
        else:
            self._talk()
        heard, self._waiting = self._waiting, []
        return heard

    def fetch_run(self):
        self._asks_run = True

    def read_clock_anew(self):
        self._asks_clock = True

    def put(self, heard):
        if not self.cut:
            self._waiting.append(heard)

    def _talk(self):
        here_ns = self._laptops.there.now_ns
        out_ns, back_ns = self.ways_ns
        if self._asks_clock or here_ns - self._exchanged_ns >= S:
            self._asks_clock, self._exchanged_ns, self.heard_ns = False, here_ns, here_ns
            sent_ns = here_ns - out_ns - back_ns
            read_ns = self._laptops.keepers_ns(sent_ns + out_ns)
            self.put(Exchange(sent_ns=sent_ns, received_ns=read_ns, answered_ns=read_ns, got_ns=here_ns))
        if self._asks_run:
            self._asks_run, self.heard_ns = False, here_ns
            self.put(self._laptops.run_so_far())
        shown = self._laptops.here.stage.run_no, self._laptops.here.phase
        if shown != self._shown:
            self._shown = shown
            self.put(self._laptops.state())


class Laptops:
    """The keeper's desk (``here``) and the follower's (``there``), turn by turn, on the keeper's time.

    ``offset_ns`` is how far the keeper's clock lies ahead, ``ppm`` by how much the follower's runs faster.
    """

    def __init__(self, tmp_path, *, offset_ns=123 * S, ppm=0.0, programme=None, plan="full", only=None):
        self.offset_ns, self.ppm = offset_ns, ppm
        options = {"only": only} if only else {}
        if programme is None:
            programme, stage = plain_stage(tmp_path / "keeper", plan, **options)
        else:
            stage = stage_for(programme, RunOptions(), tmp_path / "keeper")
        self.here = Desk(programme, stage)
        self.began_ns = self.here.now_ns
        self._told = 0
        self._told_run = stage.run_no
        self.line = Line(self)
        keeper = Keeper("10.0.0.5:8737")
        keeper.take([self.run_so_far(), self.state()], self.followers_ns(self.began_ns))
        options = RunOptions(rig="nothing", plans=(), start="key", **options)
        self.keeper = keeper
        self.said = []
        rig = file_text(RIG.kind, RIG.name, RIG.text)
        self.follower = Follower(self.line, keeper, rig, options, say=self.said.append)
        self.there = Desk(
            self.follower, stage_for(self.follower, options, tmp_path / "follower", self.followers_ns(self.began_ns))
        )
        self.there.now_ns = self.followers_ns(self.began_ns)

    def followers_ns(self, keepers_ns):
        """Return what the follower's clock shows at a time of the keeper's."""
        return keepers_ns - self.offset_ns + round((keepers_ns - self.began_ns) * self.ppm / 1e6)

    def keepers_ns(self, followers_ns):
        """Return what the keeper's clock shows at a time of the follower's."""
        since_ns = followers_ns - (self.began_ns - self.offset_ns)
        return self.began_ns + round(since_ns / (1 + self.ppm / 1e6))

    # -- what the service would say

    def _kept(self):
        return self.here.stage.match.record.kept if self.here.stage.match.armed else []

    def run_so_far(self):
        stage = self.here.stage
        header = stage.match.record.header(self.began_ns, WALL, stage.match.timeline)
        return RunSoFar(
            run=stage.run_no, now_ns=self.here.now_ns, version=__version__, timeline=stage.match.timeline,
            records=tuple(msgspec.Raw(utf8_json(one)) for one in (header, *self._kept())),
        )  # fmt: skip

    def state(self):
        here = self.here
        view = ViewModel(phase="standby", heading="", title="")
        return State(
            run=here.stage.run_no, now_ns=here.now_ns, status=here.status, view=view, can=(), boards=BoardsHere(),
            programs=1, you=You(number=0, right="steer"),
        )  # fmt: skip

    def _tell_records(self):
        run, kept = self.here.stage.run_no, self._kept()
        if run != self._told_run:
            self._told_run, self._told = run, 0
        for place in range(self._told, len(kept)):
            self.line.put(RecordLine(run, utf8_json(kept[place])))
        self._told = len(kept)

    # -- what happens

    def go_on(self, s):
        """Let so many seconds pass on both, in turns of a conductor; the line tells between them."""
        end_ns = self.here.now_ns + round(s * S)
        while self.here.now_ns < end_ns:
            now_ns = min(self.here.now_ns + TURN_NS, end_ns)
            self.here.after((now_ns - self.here.now_ns) / S)
            self._tell_records()
            there_ns = self.followers_ns(self.here.now_ns)
            self.there.after((there_ns - self.there.now_ns) / S)
        return self

    @property
    def apart_ns(self):
        """How far the match is further on the follower than on the keeper, at one instant, in match nanoseconds."""
        now_ns = self.here.now_ns
        here = self.here.stage.match.lifecycle.elapsed_ns(now_ns)
        there = self.there.stage.match.lifecycle.elapsed_ns(self.followers_ns(now_ns))
        assert set(here) == set(there)
        return max((there[anchor] - here[anchor] for anchor in here), key=abs, default=0)

    @property
    def phases(self):
        return self.here.phase, self.there.phase
