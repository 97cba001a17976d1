"""Tell the service of boards what the conductor knows, and take what it says. Nothing of a run waits for it."""

from collections.abc import Callable
from urllib.parse import urlsplit

import msgspec

from tocsin import monotime
from tocsin.journal import records
from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import Status
from tocsin.readable import utf8_json
from tocsin.runner.actions import Actions
from tocsin.runner.boards.document import document_of
from tocsin.runner.boards.opening import Opening
from tocsin.runner.boards.wishes import Wishes
from tocsin.runner.phones.browser import Browser
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.service.broker_address import broker_of
from tocsin.service.messages import (
    ENDED,
    Away,
    Connected,
    Down,
    Grant,
    Granted,
    Marked,
    Opened,
    Play,
    Published,
    Record,
    Revoke,
    Show,
    Up,
    Wish,
)
from tocsin.translation import tr
from tocsin.units import NS_PER_S
from tocsin.workers.service_process import Note, Service

FAULT = "service"                      # ``what`` of its faults in the journal
_NOTICE = "boards"
_BROKER = "broker"
_LOOK_NS = 5 * NS_PER_S                # for a network, where there was none
_IN_MATCH: tuple[Phase, ...] = ("waiting", "running", "held")
_STAYS_NS = 3600 * NS_PER_S            # until it is published again, in effect


Link = Callable[[Stage, Programme, Actions, Callable[[], None]], "BoardLink"]
"""Links a conductor to the service; its last argument wakes the conductor."""


def link_maker(opening: Opening, standing: Service | None = None, between: str = "") -> Link:
    """Return what links a conductor to the service that is started with ``opening``, or to one that is ``standing``
    already and stays when the conductor leaves: boards read ``between`` then."""

    def made(stage: Stage, programme: Programme, actions: Actions, wake: Callable[[], None]) -> BoardLink:
        service = standing or Service(wake)
        service.wake = wake
        wishes = Wishes(stage, programme, actions, wake)
        return BoardLink(stage, service, opening, wishes, farewell=lambda: programme.farewell, between=between)

    return made


class BoardLink:
    """The conductor's end of the service; ``wishes`` answers what boards wish. ``farewell`` says what has ended with
    the programme; with ``between``, which boards read then, the service stays when the conductor leaves."""

    def __init__(
        self, stage: Stage, service: Service, opening: Opening, wishes: Wishes, *,
        farewell: Callable[[], str] = lambda: "", between: str = "",
    ) -> None:  # fmt: skip
        self._stage = stage
        self._farewell = farewell
        self._between = between
        self._service = service
        self._opening = opening
        self._wishes = wishes
        self._played: int | None = None
        self._shown: Status | None = None
        self._looked_ns = 0                    # when a network was looked for last
        self._browser = Browser() if opening.tries else None
        stage.boards.wanted, stage.boards.send = True, self._send
        stage.boards.tokens = opening.open.tokens
        stage.boards.known = service.boards or opening.open.boards
        stage.heard = self._append

    def start(self, now_ns: int) -> None:
        """Start the service, unless this laptop is in no network."""
        if self._opening.why_not:
            self._looked_ns = now_ns
            self._trouble(self._opening.why_not, now_ns)
            return
        if self._service.on:                   # it stands from before
            boards = self._stage.boards
            boards.on, boards.address, boards.since_ns = True, self._service.address, now_ns
            boards.programs = self._service.programs
            return
        self._take(self._service.start(self._opening.open, now_ns), now_ns)

    def play(self) -> None:
        """Tell what is played from now on, unless the service knows it."""
        stage = self._stage
        if self._played == stage.run_no or not self._service.on:
            return
        self._played = stage.run_no
        record, timeline = stage.match.record, stage.match.timeline
        ahead = record.header(monotime.now_ns(), monotime.wall_text(), timeline)
        self._service.send(
            Play(
                run=stage.wire_run, timeline=timeline, document=document_of(stage.piece),
                ahead=msgspec.Raw(utf8_json(ahead)),
            )
        )
        for written in record.written:     # of an earlier life of this run
            self._append(written)

    def show(self, status: Status) -> None:
        """Show a run's status, and what may be wished."""
        self._shown = status
        if self._service.on:
            self._service.send(Show(run=self._stage.wire_run, status=status.for_boards, can=self._wishes.can()))

    def turn(self, now_ns: int) -> None:
        """Take what boards said, answer it, and see whether the service lives."""
        if self._opening.why_not:
            self._look(now_ns)
        if not self._stage.boards.on:
            return
        for message in self._service.receive():
            self._hear(message, now_ns)
        for answer in self._wishes.answers():
            self._service.send(answer)
        self._stage.rights.turn(self._stage.match.lifecycle.phase, now_ns)
        if self._browser is not None and (told := self._browser.turn(self._stage.boards, now_ns)):
            self._notice(told, now_ns)
        self._take(self._service.check(now_ns), now_ns)

    def _look(self, now_ns: int) -> None:
        """Begin where a network was joined since; a match is not disturbed by that."""
        in_match = self._stage.match.lifecycle.phase in _IN_MATCH
        if in_match or now_ns - self._looked_ns < _LOOK_NS:
            return
        self._looked_ns = now_ns
        if self._opening.look_again():
            self._stage.boards.trouble = ""
            self.start(now_ns)
            self.play()
            if self._shown is not None:
                self.show(self._shown)

    def leave(self) -> None:
        """Let the service end, or stand and wait for another conductor; never blocks."""
        if self._between and self._service.on:
            self._service.send(Grant(secret="", right="watch", until_ns=0))
            self._service.send(Away(_sentences(self._farewell(), self._between)))
            self._service.wake = _nobody
        else:
            self._service.leave(_sentences(self._farewell(), ENDED))

    def ended(self) -> None:
        """Wait a moment for the service's end, unless it stays."""
        if not self._service.on:
            self._service.ended()

    def _append(self, record: records.Record) -> None:
        if self._service.on:
            self._service.send(Record(run=self._stage.wire_run, record=msgspec.Raw(utf8_json(record))))

    def _send(self, message: Down) -> None:
        if self._service.on:
            self._service.send(message)
        if isinstance(message, Revoke):
            self._know()

    def _hear(self, message: Up, now_ns: int) -> None:
        boards = self._stage.boards
        match message:
            case Opened():
                self._opened(message, now_ns)
            case Published():
                self._published(message, now_ns)
            case Connected():
                boards.known, boards.programs = message.boards, message.programs
                self._know()
            case Granted():
                number = message.board.number
                boards.known = (*(one for one in boards.known if one.number != number), message.board)
                self._know()
                if told := self._stage.rights.used(message.board):
                    self._stage.notice(told, now_ns)
            case Wish() | Marked():
                if (answer := self._wishes.take(message, now_ns)) is not None:
                    self._service.send(answer)

    def _opened(self, opened: Opened, now_ns: int) -> None:
        boards = self._stage.boards
        boards.address, boards.since_ns, boards.trouble = opened.address, now_ns, ""
        if opened.address:
            port = self._opening.open.port
            if urlsplit(opened.address).port != port:
                address = opened.address.rstrip("/")
                self._trouble(tr("port {port} is taken: boards are at {address}", port=port, address=address), now_ns)
            self._know()
            return
        where = f"{self._opening.open.host}:{self._opening.open.port}"
        self._trouble(tr("boards cannot come at {where}: {why}", where=where, why=opened.why), now_ns)

    def _published(self, published: Published, now_ns: int) -> None:
        broker = broker_of(self._opening.open.broker)
        if published.place:
            told = tr("the run is published at {place}", place=published.place)
            self._stage.notice(told, now_ns, replace_key=_BROKER)
            return
        why = tr("the broker at {place}: {why}", place=broker.place, why=published.why)
        self._stage.match.record.fault(now_ns, None, FAULT, why)
        self._stage.notice(why, now_ns, _STAYS_NS, replace_key=_BROKER)

    def _know(self) -> None:
        """Let a successor of the service, and of this program, know the boards."""
        boards = self._stage.boards
        self._service.know(boards.known)
        self._opening.file.keep(boards.known, self._service.port, boards.address)

    def _take(self, notes: list[Note], now_ns: int) -> None:
        boards = self._stage.boards
        boards.on = self._service.on
        for kind, why in notes:
            boards.address, boards.trouble = "", ""
            self._stage.match.record.fault(now_ns, None, FAULT, why)
            if kind == "off":
                self._trouble(tr("boards are off until Tocsin is started again: {why}", why=why), now_ns)
            elif kind == "silent":
                self._trouble(tr("no board can come: {why}", why=why), now_ns)

    def _trouble(self, text: str, now_ns: int) -> None:
        """Say what stands in the way, and let it stand in standby."""
        self._stage.boards.trouble = text
        self._notice(text, now_ns)

    def _notice(self, text: str, now_ns: int) -> None:
        self._stage.notice(text, now_ns, replace_key=_NOTICE)


def _sentences(*texts: str) -> str:
    return ". ".join(filter(None, texts))


def _nobody() -> None:
    """Wake nobody: no conductor reads what boards say."""
