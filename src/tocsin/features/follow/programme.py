"""Play the keeper's match on this laptop's devices: a programme whose pieces and clock come over a line.

The line may be cut at any time: what is known plays on by this laptop's own clock. People here lead nothing: they
leave, and try and silence their own devices. Two laptops that both could start a match would start two.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from tocsin.config.files import FileText
from tocsin.errors import TocsinError
from tocsin.features.follow.files import Played, played_of
from tocsin.features.follow.heard import Heard
from tocsin.features.follow.keeper import Keeper
from tocsin.features.follow.offset_in_use import OffsetInUse
from tocsin.journal import records
from tocsin.model.clock.exchange import Offset
from tocsin.model.clock.origins import Phase
from tocsin.model.drill import ALL_SHOWN, Shown
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.runner.boards.addresses import LAN
from tocsin.runner.keymap import LOUDNESS, SOUND
from tocsin.runner.match.followed import FollowedMatch
from tocsin.runner.options import FOLLOWS, ROUND, RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_MS, NS_PER_S

SILENT_NS = 3 * NS_PER_S               # not heard for so long is told,
ALONE_NS = 10 * NS_PER_S               # and for so long is asked
LEAVE_NS = 2 * NS_PER_S                # a second press within this leaves a match
_TOLD_NS = 4 * NS_PER_S
_KEEPER = "keeper"                     # of a notice
_IN_MATCH: tuple[Phase, ...] = ("waiting", "running", "held")
_OWN = (*SOUND, "preflight", "all_keys")


class Talks(Protocol):
    """The line to the keeper, as a programme needs it. ``heard_ns`` is when the keeper was heard last, ``wake`` is
    called whenever something has been heard."""

    heard_ns: int | None
    wake: Callable[[], None]

    def take(self) -> list[Heard]:
        """Return what was heard since the last call."""

    def fetch_run(self) -> None:
        """Have the whole run fetched."""

    def read_clock_anew(self) -> None:
        """Have the clock read several times at once."""


class Follower(Programme):
    """Plays what the keeper plays, until a person here leaves. ``keeper`` knows a run already."""

    results_stand = True                   # until the keeper goes on
    reloads = False
    keys_alone = True
    leads = False

    def __init__(
        self, line: Talks, keeper: Keeper, rig: FileText, options: RunOptions, *, board: str = LAN,
        say: Callable[[str], None] | None = None,
    ) -> None:  # fmt: skip
        """Take the line, what was heard of the keeper so far, this laptop's rig, and with which ``--board`` the keeper
        is heard; ``say`` is told once how well its clock is known, and when it
        is heard no more and again. Raises JournalError and MistakeError for a run that
        cannot be played here."""
        assert keeper.run is not None
        self._line = line
        self._keeper = keeper
        self._rig = rig
        self._board = board
        self._say = say or _nobody
        self._clock_told = False
        self.left: Path | None = None              # where the match lies that was left here
        self._played = played_of(keeper.run.header, rig)
        self._number = keeper.run.number           # of the run that is the present piece
        self._unplayable = 0                       # the number of one that cannot be played here
        self._use = OffsetInUse()
        self._taken = 0                            # how many records of the run the match goes by
        self._now_ns = 0
        self._silent_since_ns: int | None = None   # when the keeper was heard last, while that is too long ago
        self._pressed_ns: int | None = None        # when leaving a match was asked for
        self._adopted: set[int] = set()            # the numbers of the runs that were played here
        super().__init__(self._played.files, options)

    # -- what is played

    @property
    def files(self) -> Played:
        """What the keeper plays, on this laptop's rig."""
        return self._played

    def piece(self, plan_no: int) -> Piece:
        """Return what the keeper plays now; what it played before, where that cannot be played here."""
        self._take_run()
        played, state = self._played, self._keeper.state
        self._use, self._taken = OffsetInUse(), 0
        found = played.plan
        return Piece(
            played.files, played.timeline, found.plan.patterns, Point(MATCH, 0),
            {FOLLOWS: {"place": self._keeper.place, "run": self._number}}, plan=found.plan, followed=True,
            begins=None if state is None else state.status.begins,
            behind_ns=0 if state is None else state.status.behind_ns,
        )  # fmt: skip

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Take what was heard of the keeper, and go on by it."""
        self._now_ns = now_ns
        self._keeper.take(self._line.take(), now_ns)
        if self._keeper.asks_clock:
            self._keeper.asks_clock = False
            self._line.read_clock_anew()
        if self._keeper.wants_run(now_ns):
            self._line.fetch_run()
        if self._keeper.is_other and stage.match.lifecycle.phase not in _IN_MATCH:
            self._keeper.go_over(now_ns)
        self._take_looks()
        self._go_on(stage, now_ns)
        self._tell_of_line(stage, now_ns)
        if not self._clock_told and self.error_ns is not None:
            self._clock_told = True
            self._say(self.follows)

    def attach(self, wake: Callable[[], None]) -> None:
        """Let the line wake the conductor: a hold is heard at once."""
        self._line.wake = wake

    def slept(self) -> None:
        """Read the keeper's clock anew: this laptop slept."""
        self._keeper.slept()

    def _take_run(self) -> None:
        run = self._keeper.run
        if run is None or run.number in (self._number, self._unplayable):
            return
        try:
            self._played = played_of(run.header, self._rig)
        except TocsinError as error:
            self._unplayable = run.number
            self._keeper.refuse(tr("this match cannot be played here: {error}", error=error), error.hint)
        else:
            self._number = run.number

    def _take_looks(self) -> None:
        """Show no more of a match than the keeper does."""
        state = self._keeper.state
        if state is not None and state.run == self._number:
            status = state.status
            self.of_match, self.keeps_out, self.names_plan = status.of_match, status.keeps_out, status.names_plan

    def _go_on(self, stage: Stage, now_ns: int) -> None:
        run, phase = self._keeper.run, stage.match.lifecycle.phase
        if run is None:
            return
        if run.number == self._number:
            if phase != "standby" or (run.begun and not run.ended):
                self._follow(stage, now_ns)
        elif run.number == self._unplayable:
            return
        elif phase in _IN_MATCH:
            stage.match.scrap(now_ns)              # the keeper has left this match, unheard
        elif phase == "standby":
            stage.reload(self.piece(0), now_ns)
        elif stage.match.over(now_ns):
            stage.wants_next = True

    def _follow(self, stage: Stage, now_ns: int) -> None:
        """Let the match go on by the keeper's records, told by this laptop's clock."""
        keeper, match, run = self._keeper, stage.match, self._keeper.run
        best = keeper.offset(now_ns)
        if run is None or best is None or not keeper.settled or not isinstance(match, FollowedMatch):
            return
        moves = self._use.is_due(best, now_ns)
        if run.count == self._taken and not moves:
            return
        if moves or self._use.offset is None:
            self._use.use(best, now_ns)
        offset, self._taken = self._use.offset or best, run.count
        try:
            past = keeper.past(offset)
            match.adopt(now_ns, past, self._followed(offset, best, now_ns))
        except TocsinError as error:
            keeper.refuse(str(error), error.hint)
            return
        self._adopted.add(run.number)
        self._use.place(match.timeline, match.lifecycle.origins)
        has_end = any(isinstance(record, records.End) for record in run.records)
        if has_end and match.lifecycle.phase in _IN_MATCH:
            match.break_off(now_ns, 0)             # it ended otherwise than by its clock

    def _followed(self, offset: Offset, best: Offset, now_ns: int) -> records.Follows:
        error_ns = self._use.error_ns(best, now_ns)
        return records.Follows(offset_ns=offset.offset_ns, error_ns=best.error_ns if error_ns is None else error_ns)

    # -- what people see

    @property
    def error_ns(self) -> int | None:
        """The bound within which the keeper's clock is known here; None while it is not."""
        return self._use.error_ns(self._keeper.offset(self._now_ns), self._now_ns)

    @property
    def followed(self) -> str:
        """What is told at the end, where no screen showed it."""
        return trn(
            "Followed {place}: {count} match", "Followed {place}: {count} matches", len(self._adopted),
            place=self._keeper.place,
        )

    @property
    def follows(self) -> str:
        """Return whose clock counts, and how well it is known here."""
        place, error_ns = self._keeper.place, self.error_ns
        if error_ns is None:
            return tr("follows {place}, its clock is not known yet", place=place)
        apart = _shown_ms(error_ns)
        return tr("follows {place}: the clocks are at most {error} ms apart", place=place, error=apart)

    @property
    def shows(self) -> tuple[Shown, ...]:
        """What of the match's future people may see: what the keeper shows."""
        state = self._keeper.state
        return ALL_SHOWN if state is None else state.status.shows

    def sign(self) -> tuple[str, ...]:
        """Return what stands in place of the clock at the keeper."""
        state = self._keeper.state
        return () if state is None else state.status.sign

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return what stands in standby: why the keeper cannot be followed, if it cannot."""
        refusal = self._keeper.refusal
        return () if refusal is None else (f"{refusal.why}: {refusal.hint}" if refusal.hint else refusal.why,)

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return what is waited for."""
        state = self._keeper.state
        if state is not None and state.away and phase not in _IN_MATCH:
            return tr("At the keeper: {away}", away=state.away)
        if self._silent_since_ns is not None:
            silent_ns = self._now_ns - self._silent_since_ns
            return _unheard(silent_ns // NS_PER_S, restart=silent_ns > ALONE_NS and phase not in _IN_MATCH)
        if phase == "standby":
            return tr("The keeper starts the match")
        return tr("The keeper calls the next match") if phase in ("over", "scrapped") else ""

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the only keys that mean something here."""
        tries = (("preflight", tr("try every device")),) if phase == "standby" else ()
        leaves = ("leave", tr("leave (twice)") if phase in _IN_MATCH else tr("leave"))
        return (*tries, leaves, *(LOUDNESS if "sound" in self._options.only else ()))

    def _tell_of_line(self, stage: Stage, now_ns: int) -> None:
        heard_ns = self._line.heard_ns
        silent_ns = 0 if heard_ns is None else now_ns - heard_ns
        in_match = stage.match.lifecycle.phase in _IN_MATCH
        if self._keeper.is_other and in_match:
            stage.notice(self._taken_field(stage), now_ns, NS_PER_S, of_phase=True, replace_key=_KEEPER)
        elif silent_ns > SILENT_NS:
            if self._silent_since_ns is None:
                self._say(tr("the keeper is not heard: this laptop plays on alone"))
            self._silent_since_ns = heard_ns
            if in_match:
                text = self._silence(stage, silent_ns)
                stage.notice(text, now_ns, NS_PER_S, of_phase=True, replace_key=_KEEPER)
        elif self._silent_since_ns is not None:
            self._silent_since_ns, again = None, tr("the keeper is heard again")
            self._say(again)
            stage.notice(again, now_ns, _TOLD_NS, replace_key=_KEEPER)
        elif self._keeper.refusal is not None and in_match:
            stage.notice(self._keeper.refusal.why, now_ns, replace_key=_KEEPER)

    def _taken_field(self, stage: Stage) -> str:
        key = stage.keymap.key_for("leave")
        if stage.match.lifecycle.phase == "held":
            return tr(
                "Another keeper has taken this field: the clock stands held until the one before is back. To leave: "
                "{key} twice",
                key=key,
            )  # fmt: skip
        return tr("Another keeper has taken this field: this laptop plays on alone. To leave: {key} twice", key=key)

    def _silence(self, stage: Stage, silent_ns: int) -> str:
        """Return what is told in a match: how it goes on here, and after a while what helps."""
        silent, key, command = silent_ns // NS_PER_S, stage.keymap.key_for("leave"), self._resumes
        held = stage.match.lifecycle.phase == "held"
        if silent_ns <= ALONE_NS:
            if held:
                return tr("Keeper not heard for {silent} s: the clock stands held until it is back", silent=silent)
            return tr("Keeper not heard for {silent} s: this laptop plays on alone", silent=silent)
        if held:
            return tr(
                "Keeper not heard for {silent} s: the clock stands held until it is back. If Tocsin ended there: "
                "`{command}`. To leave: {key} twice",
                silent=silent, command=command, key=key,
            )  # fmt: skip
        return tr(
            "Keeper not heard for {silent} s. Go on alone (press nothing), or leave ({key} twice)? If Tocsin ended "
            "there: `{command}`",
            silent=silent, key=key, command=command,
        )  # fmt: skip

    @property
    def _resumes(self) -> str:
        """The command that goes on with the match at the keeper."""
        run = self._keeper.run
        command = "drill" if run is not None and ROUND in run.header.options else "run"
        return f"tocsin {command} --resume --board {self._board}"

    # -- what people do

    def leave_if_deserted(self, stage: Stage) -> None:
        """Stay: no key is waited for here."""

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Leave what belongs to the keeper to it; in a match, leave by the second press."""
        if action in _OWN:
            return None
        if action != "leave":
            return Refused(tr("the keeper leads this match: press it there"))
        if stage.match.lifecycle.phase not in _IN_MATCH:
            return None
        pressed_ns, self._pressed_ns = self._pressed_ns, now_ns
        if pressed_ns is not None and now_ns - pressed_ns < LEAVE_NS:
            self.left = stage.match.record.path
            stage.leave("left")
            return Done()
        key = stage.keymap.key_for("leave")
        return Done(
            tr("press {key} again within {within} s to leave; the match goes on at the keeper", key=key,
               within=LEAVE_NS // NS_PER_S),
            briefly=True,
        )  # fmt: skip


def _nobody(text: str) -> None:
    """Tell nobody: a screen shows it."""


def _unheard(silent: int, *, restart: bool) -> str:
    if restart:
        return tr(
            "Keeper not heard for {silent} s. If Tocsin ended there, start it again as before: this laptop waits",
            silent=silent,
        )
    return tr("Keeper not heard for {silent} s", silent=silent)


def _shown_ms(error_ns: int) -> int:
    """Return a ± in milliseconds, rounded up so that it still holds, and so that it does not change all the time.

    >>> [_shown_ms(ns) for ns in (400_000, 3_000_001, 12_000_000, 212_000_000)]
    [1, 4, 15, 220]
    """
    ms = -(-error_ns // NS_PER_MS)
    step = 1 if ms <= 10 else 5 if ms <= 100 else 20
    return -(-ms // step) * step
