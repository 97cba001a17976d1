"""The conductor: owns the clock and the journal, hears workers, keys and signals, from standby to standby.

It is never on the hot path: workers fire by themselves from origins that were sent ahead. One thread does everything
here; other threads and signal handlers only ring the bell.
"""

import gc
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from queue import Empty, SimpleQueue

import msgspec

from tocsin import monotime
from tocsin.app.actions import Actions
from tocsin.app.board import DeviceBoard
from tocsin.app.count_in import with_count_in, with_count_in_patterns
from tocsin.app.ending import Ending, OnEnd
from tocsin.app.faces import Faces
from tocsin.app.hearing import Hearing
from tocsin.app.match import Match
from tocsin.app.messages import Arm, Load, Origins, Safe, Show
from tocsin.app.notices import LASTS_NS, Notices
from tocsin.app.options import RunOptions, plan_no_of
from tocsin.app.programme import Programme
from tocsin.app.record import Heading, RunRecord
from tocsin.app.signals import take_signals
from tocsin.app.speech import Speech
from tocsin.app.supervision import Supervision
from tocsin.channels.device import Event
from tocsin.config.load import Loaded as Files
from tocsin.errors import DeviceError
from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.model.rig import Priority
from tocsin.units import NS_PER_MS, NS_PER_S

TURN_NS = 50 * NS_PER_MS
ASLEEP_NS = 20 * NS_PER_MS             # readings of the two clocks differ by less
RESULT_NS = 5 * NS_PER_S               # the result stands this long, then standby again
DRAIN_NS = 300 * NS_PER_MS             # for the last reports of workers


class Conductor:
    """Runs matches until a person leaves, or one match where it starts by itself."""

    def __init__(
        self,
        files: Files,
        options: RunOptions,
        runs: Path,
        faces: Faces,
        past: Past | None = None,
        programme: Programme | None = None,
    ) -> None:
        self.files = files
        self.programme = programme or Programme(files, options)
        self.options = options
        self.board = DeviceBoard(options.only, files.rig)
        self.supervision = Supervision(files.rig, options.only, self.ring)
        self.priorities: dict[ChannelName, Priority] = {}
        self.last_words: list[str] = []            # what is to be told once everything has ended
        self.last_folder: Path | None = None       # of the run that has ended
        self.plan_no = plan_no_of(past.header.options) if past else 0
        self._past = past
        self._runs = runs
        self.faces = faces
        self._bell: SimpleQueue[None] = SimpleQueue()
        self._speech = Speech(self.ring)
        self._asleep = monotime.asleep_reader()
        self._asleep_ns = self._asleep()
        self._stop: Ending | None = None
        self.awaited: set[ChannelName] = set()     # who has not loaded the timeline yet
        self._armed = False
        self.notices = Notices()
        self._result: tuple[str, ...] = ()
        self.run_no = 0                            # tells the runs of this conductor apart
        self.match = self._new_match()
        self.actions = Actions(self, files.rig)
        self.hearing = Hearing(self)

    # -- from standby to standby

    def run(self, on_end: OnEnd) -> None:
        """Run until left. Raises DeviceError if a device that the command line named is not there."""
        take_signals(self._end)
        with ExitStack() as stack:
            # The last that is done, whatever fails before it: every device is made safe.
            stack.callback(self._finish_workers)
            stack.callback(self._speech.close)
            stack.callback(self.faces.close)
            self.supervision.start(monotime.now_ns(), self.match.record.ever_ready())
            self._send_plan()              # a run that is gone on with stays, also if it is over just now
            self._until(lambda: all(map(self.supervision.opened, self.supervision.channels)))
            self._demand_asked()
            self.faces.open(self.board.state("screen") == "ready", self.ring)
            if self.faces.plays:
                self.supervision.dismiss("screen")
                self.awaited.discard("screen")
                now_ns = monotime.now_ns()
                self.hearing.told("screen", Event(kind="device", at_ns=now_ns, state="ready", name="terminal"), now_ns)
                self._load_faces()
            while True:
                ending = self._one_match()
                self.last_folder = self.match.record.path
                summed_up = on_end(self, ending)
                self._result = self.programme.ended(self, ending) or summed_up
                self.match.record.close()
                if ending.outcome == "standby" or self._stop or not self.by_key:
                    return
                self._let_result_stand()
                if self._stop:
                    return                 # the match before is over and recorded: there is nothing left to scrap
                self.load_plan(self.plan_no)
                gc.collect()               # of the match before: in the middle of the next one it would hold up

    def _finish_workers(self) -> None:
        try:
            # The journal has its end already, and so have the faces: this is for people.
            for _, channel, text in self.supervision.finish(monotime.now_ns()):
                self.last_words.append(f"{channel}: {text}")
        finally:
            self.match.record.close()

    @property
    def by_key(self) -> bool:
        """Whether a person starts the clock: asked for, or someone can press a key."""
        if self.options.start is not None:
            return self.options.start == "key"
        return self.faces.interactive

    @property
    def channels(self) -> tuple[ChannelName, ...]:
        """The channels of this run: those with a worker, and the screen where the terminal shows it."""
        shown: tuple[ChannelName, ...] = ("screen",) if self.faces.plays else ()
        return tuple(channel for channel in CHANNELS if channel in self.options.only + shown)

    @property
    def stopped(self) -> Ending | None:
        """What has asked for the program's end: a signal, a person, or nothing so far."""
        return self._stop

    def ring(self) -> None:
        """Wake the conductor's loop. Called from threads and signal handlers."""
        self._bell.put(None)

    def leave(self, why: str) -> None:
        """End the program: from standby at once, else the match is scrapped."""
        self._stop = self._stop or Ending(outcome="scrapped", why=why)

    def _end(self, ending: Ending) -> None:
        self._stop = ending
        self.ring()

    def notice(self, text: str, lasts_ns: int = LASTS_NS, *, of_phase: bool = False, topic: str = "") -> None:
        """Show a sentence on the faces for a while, or until the next one on its topic; ``of_phase`` if it goes with
        the phase."""
        phase = self.match.lifecycle.phase if of_phase else None
        self.notices.put(text, monotime.now_ns(), lasts_ns, phase, topic)

    def load_plan(self, number: int, *, anew: bool = False) -> None:
        """Give every worker a plan's timeline, ``anew`` if what is played has changed; in standby only."""
        if anew or number != self.plan_no or self.match.lifecycle.phase != "standby":
            self.plan_no = number
            self.match = self._new_match()
        self._send_plan()

    def _send_plan(self) -> None:
        piece = self.programme.piece(self.plan_no)
        patterns = with_count_in_patterns(piece.patterns)
        self._speech.want(piece.plan, self.files.rig.sound if "sound" in self.options.only else None)
        self.awaited = set(self.supervision.channels)
        for channel in self.supervision.channels:
            done, words = self._done(channel), self._speech.words(channel)
            load = Load(self.match.timeline, patterns, self.run_no, done, words)
            self.supervision.send(load, channel)
        self._load_faces()

    def _load_faces(self) -> None:
        self.faces.load(self.match.timeline, self._done("screen"), self.run_no)
        self.faces.give(tuple(self.match.given_ever))      # of an earlier life of this run
        self.match.changed = True          # what holds already is told to the new timeline

    def _one_match(self) -> Ending:
        self._until(lambda: not self.awaited)
        if self.match.lifecycle.phase == "standby" and not self.by_key and not self._stop:
            self.match.start_now(monotime.now_ns())
        while True:
            self._turn()
            now_ns = monotime.now_ns()
            phase = self.match.lifecycle.phase
            if self._stop:
                if phase == "standby":             # no match was run that could be scrapped
                    return self._finish(msgspec.structs.replace(self._stop, outcome="standby"))
                if phase != "over":
                    self.match.scrap(now_ns)
                return self._finish(self._stop)
            if self.match.over(now_ns):
                scrapped = self.match.lifecycle.phase == "scrapped"
                return self._finish(Ending(outcome="scrapped" if scrapped else "over"))

    def _finish(self, ending: Ending) -> Ending:
        """Make everything safe, hear the last reports, count what never came."""
        ended_ns = monotime.now_ns()
        self.supervision.send(Origins((), self.match.lifecycle.variant, self.run_no))
        self.supervision.send(Safe())
        self.supervision.send(Arm(None))
        self._armed = False
        self.faces.origins((), "")
        self._until(lambda: monotime.now_ns() - ended_ns > DRAIN_NS)
        self.actions.release_all(ended_ns)
        if self.match.record.begun:
            self.hearing.count_lost(ended_ns)
        return ending

    def _let_result_stand(self) -> None:
        end_ns = 1 << 62 if self.programme.results_stand else monotime.now_ns() + RESULT_NS
        self._until(lambda: self.actions.wants_next or self._stop is not None or monotime.now_ns() > end_ns)
        self.actions.wants_next = False
        self._result = ()
        if self.programme.finished:
            self._stop = self._stop or Ending(outcome="standby")

    def _until(self, done: Callable[[], bool]) -> None:
        while not done() and not (self._stop and self.match.lifecycle.phase == "standby"):
            self._turn()

    # -- one turn of the loop

    def _turn(self) -> None:
        now_ns = monotime.now_ns()
        self._wait(now_ns)
        now_ns = monotime.now_ns()
        self._mind_sleep(now_ns)
        said = self.supervision.receive(now_ns)
        now_ns = monotime.now_ns()                 # behind what was said, also where this process was held up
        for channel, message in said:
            self.hearing.hear(channel, message, now_ns)
        for key, at_ns, down in self.faces.pressed():
            self.actions.key(key, at_ns, now_ns, down=down)
        for note in self.supervision.check(now_ns, self._done):
            self.hearing.note(note, now_ns)
        self.match.follow(now_ns)
        for report in self.faces.tick(now_ns):
            self.hearing.fired("screen", report, now_ns)
        self.programme.turn(self, now_ns)
        self._speech.turn(self, now_ns)
        self._publish(now_ns)
        if trouble := self.match.record.trouble():
            self.notice(f"journal: {trouble}", topic="journal")

    def _wait(self, now_ns: int) -> None:
        wake_ns = min(
            now_ns + TURN_NS,
            self.match.lifecycle.next_boundary_ns() or now_ns + TURN_NS,
            self.faces.next_ns() or now_ns + TURN_NS,
        )
        try:
            self._bell.get(timeout=max(wake_ns - now_ns, 0) / NS_PER_S)
        except Empty:
            return
        while not self._bell.empty():
            self._bell.get()

    def _publish(self, now_ns: int) -> None:
        """Tell workers and faces what has changed: origins first, since they carry the match."""
        match = self.match
        if match.changed:
            match.changed = False
            started = match.lifecycle.phase != "standby"
            # Not once the match is over: then the priority has been handed back.
            if match.lifecycle.phase in ("waiting", "running", "held") and not self._armed:
                self.supervision.send(Arm(self.files.rig.priority))
                self._armed = True
            self.supervision.send(Origins(match.origins(), match.lifecycle.variant, self.run_no))
            self.faces.origins(match.origins(), match.lifecycle.variant)
            if started and not match.armed:
                match.armed = True
                self._begin_record(now_ns)
        if match.given:
            self.supervision.give(tuple(match.given), self.run_no)
            self.faces.give(match.given)
            match.given.clear()
        view = self.faces.view(self, self._result)
        if view is not None:
            self.supervision.send(Show(view), "screen")

    def _begin_record(self, now_ns: int) -> None:
        workers = tuple(
            records.Worker(channel=process.channel, pid=process.pid, started_s=process.start_time)
            for process in self.supervision.processes()
        )
        for note in self.programme.take_notes():
            self.match.record.add(note)
        self.match.record.begin(now_ns, monotime.wall_text(), self.match.timeline, workers)

    def _mind_sleep(self, now_ns: int) -> None:
        slept_ns, self._asleep_ns = self._asleep() - self._asleep_ns, self._asleep()
        if slept_ns > ASLEEP_NS:
            self.match.slept(now_ns, slept_ns, shift=monotime.clock_stops_asleep())
            self.notice(f"the laptop slept for {slept_ns / NS_PER_S:.1f} s: the clock was put right, check it")

    def _done(self, channel: ChannelName) -> tuple[tuple[int, int], ...]:
        return tuple(self.match.record.fired.get(channel, ()))

    # -- beginnings

    def _new_match(self) -> Match:
        self.run_no += 1
        piece = self.programme.piece(self.plan_no)
        rig, options = self.files.rig, self.options
        latency_ns = rig.longest_latency_ns
        counted = rig.start.by == "count_in"
        timeline = with_count_in(piece.timeline, rig.start.count_in_ns if counted else 0)
        heading = Heading(
            options={**msgspec.to_builtins(options, enc_hook=str), "plan_no": self.plan_no, **piece.facts},
            label=options.label,
            files=tuple(records.FileText.of(file.name, file.text) for file in self.files.files),
        )
        record = RunRecord(self._runs, heading)
        for channel, event in self.board.events(monotime.now_ns()):
            record.device(channel, event)
        past, self._past = self._past, None
        if past is not None:
            now_ns = monotime.now_ns()
            record.reopen(past.folder, past.journal.records)
            record.fault(now_ns, None, records.RESUMED, f"cut short {(now_ns - past.last_ns) / NS_PER_S:.1f} s before")
            return Match.restored(timeline, rig.start, options.rate, record, past, now_ns, latency_ns)
        return Match(timeline, rig.start, piece.at, options.rate, record, piece.behind_ns, latency_ns)

    def _demand_asked(self) -> None:
        for channel in self.options.asked:
            if not self._stop and self.board.state(channel) != "ready":
                raise DeviceError(
                    f"{channel} was asked for, but there is no device: {self.board.why(channel) or 'absent'}",
                    hint="`tocsin devices` lists what is there and what mends it",
                )
