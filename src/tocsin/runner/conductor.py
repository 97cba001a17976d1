"""Run the conductor: it owns the clock and the journal, and serves workers, keys and signals, from standby to standby.

It never delays a cue: workers fire by themselves from origins that were sent ahead. One thread does everything here;
other threads and signal handlers only wake it.
"""

import gc
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

import msgspec

from tocsin import monotime
from tocsin.channels.device import Event
from tocsin.config.load import Loaded as Files
from tocsin.errors import DeviceError
from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.runner.actions import Actions
from tocsin.runner.ending import Ending, take_signals
from tocsin.runner.match.count_in import with_count_in_patterns
from tocsin.runner.options import RunOptions, plan_no_of
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Front, Stage
from tocsin.runner.status import StatusReader
from tocsin.runner.terminal.front_end import FrontEnd
from tocsin.runner.words import WordMaker
from tocsin.runner.worker_events import WorkerEvents
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S
from tocsin.workers.protocol import Arm, Give, Load, NewOrigins, Safe, ShowStatus
from tocsin.workers.supervisor import Supervisor

TURN_NS = 50 * NS_PER_MS
ASLEEP_NS = 20 * NS_PER_MS             # readings of the two clocks differ by less
DRAIN_NS = 300 * NS_PER_MS             # for the last reports of workers

if TYPE_CHECKING:                      # only who asks for boards needs it
    from tocsin.runner.boards.link import BoardLink

OnEnd = Callable[[Stage, Ending], tuple[str, ...]]
"""Called at each run's end, with the record complete; returns the lines of the result."""
LinkMaker = Callable[[Stage, Programme, Actions, Callable[[], None]], "BoardLink"]
"""Makes the link to boards; its last argument wakes the conductor."""


class Conductor:
    """Runs matches until a person leaves, or one match where it starts by itself."""

    def __init__(
        self,
        files: Files,
        options: RunOptions,
        runs: Path,
        front_end: FrontEnd,
        awake: str = "",
        past: Past | None = None,
        programme: Programme | None = None,
        link: LinkMaker | None = None,
    ) -> None:
        self.last_words: list[str] = []            # what is to be told once everything has ended
        self._programme = programme or Programme(files, options)
        self._front_end = front_end
        self._bell: SimpleQueue[None] = SimpleQueue()
        plan_no = plan_no_of(past.header.options) if past else 0
        supervisor = Supervisor(files.rig, options.only, self.ring)
        now_ns = monotime.now_ns()
        self.stage = Stage(options, runs, self._programme.piece(plan_no), plan_no, supervisor, now_ns, past)
        self._programme.attach(self.ring)
        self._speech = WordMaker(self.ring)
        self._actions = Actions(self.stage, self._programme)
        self._worker_events = WorkerEvents(self.stage, self._actions)
        self._status_reader = StatusReader(self.stage, self._programme, awake)
        self._boards = link(self.stage, self._programme, self._actions, self.ring) if link else None
        self._asleep = monotime.asleep_reader()
        self._asleep_ns = self._asleep()
        self._armed = False
        self._result: tuple[str, ...] = ()

    # -- from standby to standby

    def run(self, on_end: OnEnd) -> None:
        """Run until left. Raises DeviceError if a device that the command line named is not there."""
        take_signals(self._end)
        stage = self.stage
        with ExitStack() as stack:
            if self._boards is not None:
                stack.callback(self._boards.ended)
            # Before that, whatever has failed: every device is made safe.
            stack.callback(self._finish_workers)
            stack.callback(self._speech.close)
            stack.callback(self._front_end.close)
            stage.supervisor.start(monotime.now_ns(), stage.match.record.ever_ready())
            if self._boards is not None:
                stack.callback(self._boards.leave)
                self._boards.start(monotime.now_ns())
            self._send_piece()             # a run that is gone on with stays, also if it is over just now
            self._until(lambda: all(map(stage.supervisor.opened, stage.supervisor.channels)))
            self._demand_asked()
            self._open_front_end()
            while True:
                ending = self._one_match()
                stage.note_end()
                stage.summed_up = on_end(stage, ending)
                self._result = self._programme.ended(stage, ending, monotime.now_ns()) or stage.summed_up
                stage.match.record.close()
                if ending.outcome == "standby" or stage.ending or not stage.by_key:
                    return
                self._let_result_stand()
                if stage.ending:
                    return                 # the match before is over and recorded: there is nothing left to scrap
                stage.reload(self._programme.piece(stage.plan_no), monotime.now_ns())
                self._send_piece()
                gc.collect()               # of the match before: in the middle of the next one it would hold up

    def _open_front_end(self) -> None:
        """Decide who shows what, now that it is known whether there is a window."""
        stage, front_end = self.stage, self._front_end
        front_end.open(stage.device_states.state("screen") == "ready", self.ring)
        stage.front = Front(
            opened=True, in_terminal=front_end.plays, interactive=front_end.interactive, show_test=front_end.show_test
        )
        if front_end.plays:
            stage.supervisor.dismiss("screen")
            stage.awaited.discard("screen")
            now_ns = monotime.now_ns()
            self._worker_events.told(
                "screen", Event(kind="device", at_ns=now_ns, state="ready", name="terminal"), now_ns
            )
            self._load_front_end()

    def _finish_workers(self) -> None:
        try:
            # The journal has its end already, and window and terminal are closed: this is told afterwards.
            for _, channel, text in self.stage.supervisor.finish(monotime.now_ns()):
                self.last_words.append(f"{channel}: {text}")
        finally:
            self.stage.match.record.close()

    @property
    def deserted(self) -> bool:
        """Whether nobody could press the key that its programme waited for."""
        return self._programme.deserted

    def ring(self) -> None:
        """Wake the conductor's loop. Called from threads and signal handlers."""
        self._bell.put(None)

    def _end(self, ending: Ending) -> None:
        self.stage.ending = ending
        self.ring()

    def _send_piece(self) -> None:
        """Give every worker the timeline of what is played, in standby."""
        stage, piece = self.stage, self.stage.piece
        stage.unsent = False
        patterns = with_count_in_patterns(piece.patterns)
        self._speech.want(piece.plan, stage.rig.sound if "sound" in stage.options.only else None, piece.later)
        stage.awaited = set(stage.supervisor.channels)
        for channel in stage.supervisor.channels:
            recorded, words = stage.recorded(channel), self._speech.words(channel)
            load = Load(stage.match.timeline, patterns, stage.run_no, recorded, words)
            stage.supervisor.send(load, channel)
        self._load_front_end()
        if self._boards is not None:
            self._boards.play()

    def _load_front_end(self) -> None:
        stage = self.stage
        self._front_end.load(stage.match.timeline, stage.recorded("screen"), stage.run_no)
        self._front_end.give(tuple(stage.match.given_ever))      # of an earlier life of this run
        stage.match.changed = True         # what holds already is told to the new timeline

    def _one_match(self) -> Ending:
        stage = self.stage
        self._until(lambda: not stage.awaited)
        if stage.match.lifecycle.phase == "standby" and not stage.by_key and not stage.ending:
            stage.match.start_now(monotime.now_ns())
        while True:
            self._turn()
            now_ns = monotime.now_ns()
            phase = stage.match.lifecycle.phase
            # Who leaves as the last calls ring out has played the match; only a signal cuts it off there.
            if stage.ending and (phase != "over" or stage.ending.exit):
                if phase == "standby":             # no match was run that could be scrapped
                    return self._finish(msgspec.structs.replace(stage.ending, outcome="standby"))
                if phase != "over":
                    stage.match.scrap(now_ns)
                return self._finish(stage.ending)
            if stage.match.over(now_ns):
                scrapped = stage.match.lifecycle.phase == "scrapped"
                return self._finish(Ending(outcome="scrapped" if scrapped else "over"))

    def _finish(self, ending: Ending) -> Ending:
        """Make everything safe, hear the last reports, count what never came."""
        stage, ended_ns = self.stage, monotime.now_ns()
        stage.supervisor.send(NewOrigins((), stage.match.lifecycle.variant, stage.run_no))
        stage.supervisor.send(Safe())
        stage.supervisor.send(Arm(None))
        self._armed = False
        self._front_end.origins((), "")
        self._until(lambda: monotime.now_ns() - ended_ns > DRAIN_NS)
        self._actions.release_all(ended_ns)
        if stage.match.record.begun:
            self._worker_events.count_lost(ended_ns)
        return ending

    def _let_result_stand(self) -> None:
        stage = self.stage
        ended_ns = monotime.now_ns()

        def is_left() -> bool:
            by_itself = monotime.now_ns() > self._programme.stands_until_ns(ended_ns)
            return by_itself or stage.wants_next or stage.ending is not None

        self._until(is_left)
        stage.wants_next = False
        self._result = ()
        if self._programme.finished:
            stage.ending = stage.ending or Ending(outcome="standby")

    def _until(self, done: Callable[[], bool]) -> None:
        while not done() and not (self.stage.ending and self.stage.match.lifecycle.phase == "standby"):
            self._turn()

    # -- one turn of the loop

    def _turn(self) -> None:
        stage = self.stage
        self._wait(monotime.now_ns())
        now_ns = monotime.now_ns()
        self._mind_sleep(now_ns)
        said = stage.supervisor.receive(now_ns)
        now_ns = monotime.now_ns()                 # behind what was said, also where this process was held up
        for channel, message in said:
            self._worker_events.hear(channel, message, now_ns)
        for key, at_ns in self._front_end.pressed():
            self._actions.tap(key, at_ns, now_ns)
        for note in stage.supervisor.check(now_ns, stage.recorded):
            self._worker_events.note(note, now_ns)
        if self._boards is not None:
            self._boards.turn(now_ns)
        stage.match.follow(now_ns)
        for report in self._front_end.tick(now_ns):
            self._worker_events.fired("screen", report, now_ns)
        self._programme.turn(stage, now_ns)
        self._speech.turn(stage, now_ns)
        if stage.unsent:
            self._send_piece()
        self._publish(now_ns)
        if trouble := stage.match.record.trouble():
            stage.notice(tr("journal: {trouble}", trouble=trouble), now_ns, replace_key="journal")

    def _wait(self, now_ns: int) -> None:
        wake_ns = min(
            now_ns + TURN_NS,
            self.stage.match.lifecycle.next_boundary_ns() or now_ns + TURN_NS,
            self._front_end.next_ns() or now_ns + TURN_NS,
        )
        try:
            self._bell.get(timeout=max(wake_ns - now_ns, 0) / NS_PER_S)
        except Empty:
            return
        while not self._bell.empty():
            self._bell.get()

    def _publish(self, now_ns: int) -> None:
        """Tell workers and front ends what has changed: origins first, since they carry the match."""
        stage, match = self.stage, self.stage.match
        if match.changed:
            match.changed = False
            started = match.lifecycle.phase != "standby"
            # Not once the match is over: then the priority has been handed back.
            if match.lifecycle.phase in ("waiting", "running", "held") and not self._armed:
                stage.supervisor.send(Arm(stage.rig.priority))
                self._armed = True
            stage.supervisor.send(NewOrigins(match.origins(), match.lifecycle.variant, stage.run_no))
            self._front_end.origins(match.origins(), match.lifecycle.variant)
            if started and not match.armed:
                match.armed = True
                self._begin_record(now_ns)
        if match.given:
            stage.supervisor.send(Give(tuple(match.given), stage.run_no))
            self._front_end.give(match.given)
            match.given.clear()
        if stage.wants_next:
            return                         # what stood there stands until the next piece: nothing lies between the two
        status = self._status_reader.take_new(self._result, now_ns)
        if status is not None:
            stage.supervisor.send(ShowStatus(status), "screen")
            self._front_end.show(status)
            if self._boards is not None:
                self._boards.show(status)

    def _begin_record(self, now_ns: int) -> None:
        workers = tuple(
            records.Worker(channel=process.channel, pid=process.pid, started_s=process.start_time)
            for process in self.stage.supervisor.processes()
        )
        record = self.stage.match.record
        for note in self._programme.take_notes():
            record.add(note)
        record.begin(now_ns, monotime.wall_text(), self.stage.match.timeline, workers)

    def _mind_sleep(self, now_ns: int) -> None:
        slept_ns, self._asleep_ns = self._asleep() - self._asleep_ns, self._asleep()
        if slept_ns > ASLEEP_NS:
            self.stage.match.slept(now_ns, slept_ns, shift=monotime.clock_stops_asleep())
            self._programme.slept()
            told = tr(
                "the laptop slept for {slept:.1f} s: the clock was put right, check it", slept=slept_ns / NS_PER_S,
            )
            self.stage.notice(told, now_ns)

    def _demand_asked(self) -> None:
        states = self.stage.device_states
        for channel in self.stage.options.asked:
            if not self.stage.ending and states.state(channel) != "ready":
                raise DeviceError(
                    tr(
                        "{channel} was asked for, but there is no device: {why}", channel=channel,
                        why=states.why(channel) or "absent",
                    ),
                    hint=tr("`tocsin devices` lists what is there and what fixes it"),
                )
