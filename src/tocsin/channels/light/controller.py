"""Open a strip's controller and exchange command blocks with it: never while a match plays on its port."""

import contextlib
from types import TracebackType
from typing import Any, NamedTuple

from tocsin import monotime
from tocsin.channels.light.blocks import (
    ERROR,
    WHO,
    WRITE,
    BlockError,
    BlockReader,
    Identity,
    Settings,
    command,
    read_identity,
    write_payload,
)
from tocsin.channels.light.port import BOOT_NS, ERRORS, PortError, opened, reason
from tocsin.channels.light.replies import Replies
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

# The baud in which a board is looked for: what firmware and laptops do best first.
TRIED_BAUDS = (250_000, 115_200, 500_000)
ANSWER_NS = 600 * NS_PER_MS            # a busy laptop and an adapter that collects bytes; the board takes some 2 ms
GREETING_NS = 1300 * NS_PER_MS         # boards that greet do so after a second without bytes
_GREETS = 2                            # bytes; a single one may come from the line as the board restarts
_TRIES = 3                             # a block may be torn
_WRITE_S = 2.0                         # no frame waits here, and this laptop may be busy
_LOOK_S = 0.05                         # so long one look waits for a byte, so that Ctrl-C is heard on Windows too
_CHANGE_NS = 50 * NS_PER_MS            # for a board to change its baud once it has answered
_WORDS = {
    1: tr("it does not know that command"),
    2: tr("the command has another length than it knows"),
    3: tr("a value is out of its range"),
    4: tr("the checksum was wrong, so something was torn on the line"),
}


class SilentError(Exception):
    """No answer came in time. ``greeted`` says that a board's greeting was heard, at ``baud``; ``torn`` that an answer
    began and did not end."""

    def __init__(self, *, baud: int, greeted: bool = False, torn: bool = False) -> None:
        super().__init__(tr("no answer at {baud} baud", baud=baud))
        self.baud = baud
        self.greeted = greeted
        self.torn = torn


class NotTakenError(Exception):
    """The board answers that it does not do what was asked, and why."""


class Reply(NamedTuple):
    """An answer's payload, when its command was given to the system and when the first byte of the answer was read, in
    nanoseconds of the shared clock."""

    payload: bytes
    sent_ns: int
    came_ns: int


class Controller:
    """A controller on an open port, for a ``with`` statement. Opening restarts many boards.

    Raises PortError where the port cannot be opened, and later if it fails.
    """

    def __init__(self, name: str, baud: int) -> None:
        self.name = name
        self._baud = baud
        self._heard = Replies(greets=True, acknowledges=False)
        try:
            self._serial: Any = opened(name, baud)
            self._serial.timeout = _LOOK_S
            self._serial.write_timeout = _WRITE_S
        except ERRORS as error:
            raise PortError(reason(name, error)) from error

    def __enter__(self) -> "Controller":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        with contextlib.suppress(*ERRORS):
            self._serial.close()

    @property
    def baud(self) -> int:
        """The baud of the line."""
        return self._baud

    @baud.setter
    def baud(self, baud: int) -> None:
        if baud != self._baud:
            try:
                self._serial.baudrate = baud
            except ERRORS as error:
                raise PortError(reason(self.name, error)) from error
            self._baud = baud
            self._heard = Replies(greets=True, acknowledges=False)

    def wait_for_boot(self) -> None:
        """Wait until the board says something, 2.5 s at the most, and say nothing meanwhile: a boot loader might take
        it for its own. At another baud a greeting arrives as other bytes. Boards that do not restart greet in each
        second of silence, or never."""
        end_ns, heard = monotime.now_ns() + BOOT_NS, b""
        while len(heard) < _GREETS and monotime.now_ns() < end_ns:
            data = self._read()
            heard += data
            self._heard.heard(data)

    def ask(self, payload: bytes, *, patience_ns: int = ANSWER_NS) -> Reply:
        """Send a command and return its answer, which begins with the same letter. Raises SilentError, NotTakenError,
        PortError."""
        reader = BlockReader()
        try:
            self._serial.reset_input_buffer()              # what comes late belongs to an earlier command
            sent_ns = monotime.now_ns()
            self._serial.write(command(payload))
        except ERRORS as error:
            raise PortError(reason(self.name, error)) from error
        came_ns: int | None = None
        while monotime.now_ns() - sent_ns < patience_ns:
            data = self._read()
            now_ns = monotime.now_ns()
            self._heard.heard(data)
            answers = reader.take(data)
            if came_ns is None and (answers or reader.begun):
                came_ns = now_ns
            for answer in answers:
                if answer[:1] == ERROR:
                    raise NotTakenError(_WORDS.get(answer[1] if answer[1:] else 0, tr("it does not say why")))
                if answer[:1] == payload[:1] or (payload[:1], answer[:1]) == (WRITE, WHO):
                    return Reply(answer, sent_ns, now_ns if came_ns is None else came_ns)
            if not reader.begun:
                came_ns = None
        raise SilentError(baud=self._baud, greeted=self._heard.greeted, torn=reader.begun)

    def identity(self, *, patience_ns: int = ANSWER_NS) -> Identity:
        """Return who the controller is; a torn answer is asked for again. Raises SilentError, BlockError, PortError,
        NotTakenError."""
        for _ in range(_TRIES - 1):
            try:
                return read_identity(self.ask(WHO, patience_ns=patience_ns).payload)
            except BlockError:
                continue
            except SilentError as error:
                if not error.torn:
                    raise
        return read_identity(self.ask(WHO, patience_ns=patience_ns).payload)

    def store(self, settings: Settings) -> Identity:
        """Let the controller keep settings, and return who it is then, asked anew in its new baud.

        Settings are kept whole or not at all, so that it may be said twice. Raises SilentError if it is not heard any
        more, NotTakenError, BlockError, PortError: also, before anything is sent, if this port cannot do the new baud.
        """
        before = self._baud
        self.baud = settings.baud                          # or the board would be out of reach afterwards
        self.baud = before
        found: Identity | None = None
        for _ in range(_TRIES):
            # An answer that was torn tells nothing: the board is asked anew, in either baud.
            with contextlib.suppress(SilentError):
                self.ask(write_payload(settings))
            monotime.sleep_ns(_CHANGE_NS)
            found = self._found_at(settings.baud, before)
            if found is not None and found.settings == settings:
                return found
        if found is None:
            raise SilentError(baud=settings.baud)
        raise NotTakenError(tr("it answers, and has kept other values than it was given"))

    def _found_at(self, *bauds: int) -> Identity | None:
        """Return who answers at one of these, in which the line then is."""
        for baud in dict.fromkeys(bauds):
            self.baud = baud
            with contextlib.suppress(SilentError):
                return self.identity()
        return None

    def _read(self) -> bytes:
        """Return what has come; wait a moment for the first byte."""
        try:
            data = bytes(self._serial.read(1))
            return data + bytes(self._serial.read(self._serial.in_waiting)) if data else b""
        except ERRORS as error:
            raise PortError(reason(self.name, error)) from error


def meet(controller: Controller) -> Identity:
    """Return who the controller on an open port is, looked for in each baud, in which the line then is.

    Raises SilentError if nobody answers, with the baud of a greeting if there was one; PortError, BlockError,
    NotTakenError.
    """
    controller.wait_for_boot()
    bauds = tuple(dict.fromkeys((controller.baud, *TRIED_BAUDS)))
    nobody = SilentError(baud=controller.baud)
    for patience_ns in (ANSWER_NS, GREETING_NS):
        for baud in bauds:
            controller.baud = baud
            try:
                return controller.identity(patience_ns=patience_ns)
            except SilentError as error:
                nobody = error if error.greeted else nobody
    raise nobody
