"""Hold the parts that every programme plays on: the match, the devices' states, notices, files and the workers.

Programmes, actions, worker events, words and the status know the stage; only the conductor knows all of them.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tocsin.channels.installed import versions_of
from tocsin.config.load import Loaded
from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.model.mark import KEYS, scribe_of
from tocsin.model.pattern import Patterns
from tocsin.model.plan import CHANNELS, ChannelName, Plan
from tocsin.model.rig import Priority, Rig
from tocsin.model.timeline.timeline import Point, Timeline
from tocsin.runner.device_states import DeviceStates
from tocsin.runner.display_entry import DisplayEntry
from tocsin.runner.ending import Ending
from tocsin.runner.keymap import Keymap
from tocsin.runner.match.count_in import with_count_in
from tocsin.runner.match.followed import FollowedMatch
from tocsin.runner.match.match import Match
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.notices import LASTS_NS, Notices
from tocsin.runner.options import EVENT, RunOptions
from tocsin.runner.phones.boards import Boards
from tocsin.runner.phones.rights import Rights
from tocsin.translation import tr
from tocsin.units import NS_PER_S
from tocsin.workers.protocol import Command
from tocsin.workers.supervisor import Supervisor

# So long, or until a key, people read that they stay outside before they read a result (own choice, no source): twice
# a slow look at ten words, while the last calls ring out.
OUTSIDE_NS = 8 * NS_PER_S
_SILENT: dict[ChannelName, str] = {"sound": tr("off at an event")}


# In a header's options: the run's number as boards know it, where there were any.
WIRE_RUN = "board_run"
_RUNS_A_SECOND = 10                    # more than any program plays, so that numbers of two programs differ


def _nobody(told: Any) -> None:
    """Take what nobody is told of: there are no boards."""


def _first_run(past: Past | None, now_ns: int) -> int:
    """Return the number before this program's first run, as boards know it."""
    known = past.header.options.get(WIRE_RUN) if past is not None else None
    return known - 1 if isinstance(known, int) and known > 0 else now_ns // NS_PER_S * _RUNS_A_SECOND


def wire_run_of(run: Sequence[records.Record]) -> int | None:
    """Return the number of a run as boards know it, from its records; None for one that no board saw."""
    found = run[0].options.get(WIRE_RUN) if run and isinstance(run[0], records.Header) else None
    return found if isinstance(found, int) else None


class Piece(NamedTuple):
    """One match: its files, its timeline, the point at which it starts; and its facts for the journal's header beside
    the options.

    ``behind_ns`` is how long after the count-in's last beat the clock begins. ``plan`` is the plan whose words are
    spoken, None for none. ``begins`` is the begin on the match clock that people see, if it differs from the real one.
    ``later`` are plans that may come after it: their words are made once its own are there. ``followed``: another
    laptop keeps its clock, and its timeline is whole, with the count-in.
    """

    files: Loaded
    timeline: Timeline
    patterns: Patterns
    at: Point
    facts: dict[str, Any]
    behind_ns: int = 0
    plan: Plan | None = None
    begins: Point | None = None
    later: tuple[Plan, ...] = ()
    followed: bool = False


class Front(msgspec.Struct):
    """The front end: ``opened`` once it is chosen; ``in_terminal`` if the terminal shows the screen's cues,
    ``interactive`` if somebody can press a key. ``show_test`` shows the preflight's word where the terminal stands in
    for the screen."""

    opened: bool = False
    in_terminal: bool = False
    interactive: bool = False
    show_test: Callable[[int], None] = lambda now_ns: None


class Stage:
    """One program's match and its parts, from standby to standby.

    ``piece`` is being played, of plan number ``plan_no``; ``unsent`` says that workers do not have it yet, ``awaited``
    which workers are not ready with it. ``run_no`` tells the runs of a program apart. ``ending`` is the reason for the
    program's end, ``wants_next`` whether somebody wants the next match. ``last_folder`` is that of the run before,
    ``summed_up`` how its devices did. Until ``all_keys_until_ns`` all keys are shown. ``display_entry`` takes the
    official display's time. ``boards`` are phones and programs that see the run, ``rights`` what phones are given at
    the laptop; ``heard`` is called with each record of the present run as it is written. ``asked_by`` is the source of
    what is carried out: a key, or a board.
    """

    def __init__(
        self,
        options: RunOptions,
        runs: Path,
        piece: Piece,
        plan_no: int,
        supervisor: Supervisor,
        now_ns: int,
        past: Past | None = None,
    ) -> None:
        """Set a piece up, or go on with a ``past`` run. Raises JournalError if its journal cannot be written on."""
        self.options = options
        self.supervisor = supervisor
        self.device_states = DeviceStates(options.only, piece.files.rig, _SILENT if options.at == EVENT else None)
        self.notices = Notices()
        self.keymap = Keymap(piece.files.rig)
        self.front = Front()
        self.boards = Boards()
        self.rights = Rights(self.boards)
        self.heard: Callable[[records.Record], None] = _nobody
        self.priorities: dict[ChannelName, Priority] = {}
        self.awaited: set[ChannelName] = set()
        self.unsent = True
        self.ending: Ending | None = None
        self.wants_next = False
        self.last_folder: Path | None = None
        self.summed_up: tuple[str, ...] = ()
        self.all_keys_until_ns = 0
        self.outside_read = 0          # the run after whose end somebody has read that people stay outside
        self.display_entry = DisplayEntry()
        self.asked_by = ""
        self.ended_runs: dict[int, Path] = {}      # the folders of this program's runs, as boards number them
        self.run_no = 1
        self._first_run = _first_run(past, now_ns)
        self.plan_no = plan_no
        self.piece = piece
        self._runs = runs
        self.match = self._new_match(now_ns, past)

    @property
    def files(self) -> Loaded:
        """The files of the present piece."""
        return self.piece.files

    @property
    def rig(self) -> Rig:
        """The devices as people wrote them."""
        return self.piece.files.rig

    @property
    def by_key(self) -> bool:
        """Whether a person starts the clock: requested, or someone can press a key."""
        if self.options.start is not None:
            return self.options.start == "key"
        return self.front.interactive or self.boards.wanted

    @property
    def wire_run(self) -> int:
        """The number of the present run as boards know it: no other program's run has it, but this one's earlier
        life."""
        return self._first_run + self.run_no

    @property
    def channels(self) -> tuple[ChannelName, ...]:
        """The channels of this run: those with a worker, and the screen if the terminal shows it."""
        shown: tuple[ChannelName, ...] = ("screen",) if self.front.in_terminal else ()
        return tuple(channel for channel in CHANNELS if channel in self.options.only + shown)

    @property
    def has_window(self) -> bool:
        """Whether a window shows the screen's cues."""
        return "screen" in self.supervisor.channels and self.device_states.state("screen") == "ready"

    def notice(
        self, text: str, now_ns: int, lasts_ns: int = LASTS_NS, *, of_phase: bool = False, replace_key: str = "",
        here: bool = False,
    ) -> None:  # fmt: skip
        """Show a sentence to people for a while, or until the next one with its replace key; ``of_phase`` if it ends
        with the phase, ``here`` if no board shows it."""
        phase = self.match.lifecycle.phase if of_phase else None
        self.notices.put(text, now_ns, lasts_ns, phase, replace_key, here=here)

    @property
    def outside_until_ns(self) -> int | None:
        """Until when all that stands after a match's end is that people stay outside; None if that stands no more."""
        over_ns = self.match.over_ns
        if over_ns is None or self.outside_read == self.run_no or self.match.lifecycle.phase != "over":
            return None
        return over_ns + round(OUTSIDE_NS / self.options.rate)

    def leave(self, why: str) -> None:
        """End the program: from standby at once, otherwise by scrapping the match."""
        self.ending = self.ending or Ending(outcome="scrapped", why=why)

    @property
    def wished_by(self) -> str:
        """The board or program that asked for what is carried out, an empty text for a key."""
        return "" if scribe_of(self.asked_by) == KEYS else self.asked_by

    def note_end(self) -> None:
        """Take it that the present run has ended, and its journal will be closed."""
        self.last_folder = self.match.record.path
        if self.last_folder is not None:
            self.ended_runs[self.wire_run] = self.last_folder

    @property
    def has_ended(self) -> bool:
        """Whether the journal of the present run takes no more records."""
        return self.wire_run in self.ended_runs

    def reload(self, piece: Piece, now_ns: int, plan_no: int | None = None) -> None:
        """Set the piece to play next: it begins a match of its own."""
        self.piece = piece
        self.plan_no = self.plan_no if plan_no is None else plan_no
        self.run_no += 1
        self.match = self._new_match(now_ns, None)
        self.unsent = True

    def resend(self) -> None:
        """Send the workers the piece again, with new words; the match stays."""
        self.unsent = True

    def command(self, verb: str, channel: ChannelName | None = None) -> None:
        """Send a command to one worker or all of them, for at once."""
        self.supervisor.send(Command(verb), channel)

    def try_devices(self, now_ns: int, channel: ChannelName | None = None) -> None:
        """Let one channel, or all of them, be felt, seen or heard for half a second each, pad after pad."""
        self.command("preflight", channel)
        if channel in (None, "screen"):
            self.front.show_test(now_ns)

    def recorded(self, channel: ChannelName) -> tuple[tuple[int, int], ...]:
        """Return the firings of a channel with a recorded outcome, as (number, instance)."""
        return tuple(self.match.record.fired.get(channel, ()))

    def _new_match(self, now_ns: int, past: Past | None) -> Match:
        piece, rig, options = self.piece, self.rig, self.options
        counted = rig.start.by == "count_in" and not piece.followed
        timeline = with_count_in(piece.timeline, rig.start.count_in_ns if counted else 0)
        heading = Heading(
            packages=versions_of(rig),
            options={
                **msgspec.to_builtins(options, enc_hook=str), "plan_no": self.plan_no, **piece.facts,
                **({WIRE_RUN: self.wire_run} if options.board else {}),
            },
            label=options.label,
            files=tuple(records.FileRecord.of(file.name, file.text) for file in piece.files.files),
        )
        record = RunRecord(self._runs, heading, lambda record: self.heard(record))
        for channel, event in self.device_states.events(now_ns):
            record.device(channel, event)
        latency_ns = rig.longest_latency_ns
        if past is not None:
            record.reopen(past.folder, past.journal.records)
            record.fault(
                now_ns,
                None,
                records.RESUMED,
                tr("cut short {now:.1f} s before", now=(now_ns - past.last_ns) / NS_PER_S),
            )
            return Match.restored(timeline, rig.start, options.rate, record, past, now_ns, latency_ns)
        of = FollowedMatch if piece.followed else Match
        return of(timeline, rig.start, piece.at, options.rate, record, piece.behind_ns, latency_ns)
