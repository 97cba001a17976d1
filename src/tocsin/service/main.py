"""Run the service: read lines of the conductor in a thread, serve in this one, end with the conductor's pipe."""

import logging
import os
import socket
import sys
import traceback
from typing import Any

from tornado import gen, locks
from tornado.ioloop import IOLoop
from tornado.web import Application

from tocsin import monotime
from tocsin.pipe import LineReader, LineWriter, MessageError, own_streams
from tocsin.service.address import Unusable, bound
from tocsin.service.broker_address import broker_of
from tocsin.service.desk import Desk
from tocsin.service.handlers import Elsewhere, Shared
from tocsin.service.messages import Alive, Down, Open, Opened, Up, decode_down, encode
from tocsin.service.routes import routes
from tocsin.service.sockets import Sockets

NICE = 5
ALIVE_EACH_S = 1.0
TRY_AGAIN_S = 5.0                      # to listen where that could not be
LAST_WORD_S = 2.0                      # so long the last word has to reach boards, at the most
MOST_TOLD = 20                         # who can make a fault must not fill the journal with it


class Service:
    """The process: one desk, one address."""

    def __init__(self, writer: LineWriter) -> None:
        self._writer = writer
        self._loop = IOLoop.current()
        self._ended = locks.Event()
        self._desk: Desk | None = None
        self._told = 0

    async def run(self, stdin: int) -> None:
        """Serve until the conductor is gone, whose lines come from the descriptor ``stdin``."""
        self._reader = LineReader(stdin, self._on_line, lambda: self._loop.add_callback(self._ended.set), "inbox")
        self._loop.add_callback(self._live)
        await self._ended.wait()
        if self._desk is not None:
            await self._desk.end(LAST_WORD_S)

    def _on_line(self, line: bytes) -> None:
        """Read a line, in the reader's thread: a timeline takes a while."""
        try:
            message = decode_down(line)
        except MessageError as error:
            self.log(type(error), error, None)
            return
        self._loop.add_callback(self._take, message)

    def _take(self, message: Down) -> None:
        if self._desk is not None:
            self._desk.take(message)
        elif isinstance(message, Open):
            self._desk = Desk(message, self._send)
            if message.broker:
                self._publish(message.broker, self._desk)
            self._loop.add_callback(self._open, message, self._desk)

    async def _open(self, opened: Open, desk: Desk) -> None:
        shared = Shared(opened, desk, self.log)
        application = Application(
            routes(shared), default_handler_class=Elsewhere, default_handler_args={"shared": shared},
            log_function=lambda handler: None,
        )  # fmt: skip
        shared.sockets = Sockets(application)
        listening, address = await self._bound(opened)
        shared.sockets.add_sockets(listening)
        self._loop.add_callback(shared.sockets.watch)
        self._send(Opened(address))

    async def _bound(self, opened: Open) -> tuple[list[socket.socket], str]:
        """Return the listening sockets and their address as soon as there are any, and say meanwhile, once, why not: a
        network that was left for a moment comes back."""
        told = ""
        while True:
            try:
                return bound(opened.host, opened.port)
            except Unusable as error:
                why = str(error)
            if why != told:
                told = why
                self._send(Opened("", why))
            await gen.sleep(TRY_AGAIN_S)

    def _publish(self, broker: str, desk: Desk) -> None:
        from tocsin.service.broker import Broker  # only here: most laptops have no library for it

        desk.broker = Broker(broker_of(broker), desk.published_run, self._send)
        desk.broker.start()

    async def _live(self) -> None:
        # No PeriodicCallback: it goes by the wall clock, and waits for an hour if that is set back by one.
        while True:
            if self._desk is not None:
                self._desk.look(monotime.now_ns())
            self._writer.send(encode(Alive(monotime.now_ns())), droppable=True)
            await gen.sleep(ALIVE_EACH_S)

    def _send(self, message: Up) -> None:
        self._writer.send(encode(message))

    def log(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        """Say a fault of ours on stderr, which the conductor keeps; no more than some."""
        self._told += 1
        if self._told <= MOST_TOLD:
            traceback.print_exception(kind, error, trace)


class _Faults(logging.Handler):
    """Hands what libraries call an error to the one log, and drops all that they say of peers."""

    def __init__(self, service: Service) -> None:
        super().__init__(logging.ERROR)
        self._service = service

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[0] is not None:
            self._service.log(*record.exc_info)


async def _serve(stdin: int, writer: LineWriter) -> None:
    service = Service(writer)
    logging.getLogger().addHandler(_Faults(service))
    await service.run(stdin)


def main() -> int:
    """Serve until stdin ends; return 0 then."""
    _step_back()
    stdin, stdout = own_streams()
    writer = LineWriter(stdout, "outbox")
    try:
        IOLoop().run_sync(lambda: _serve(stdin, writer))
    finally:
        writer.finish(timeout_s=0.5)
    return 0


def _step_back() -> None:
    """Let all that plays a match run first."""
    if sys.platform == "win32":
        import psutil  # only here: no other system needs it

        psutil.Process().nice(psutil.BELOW_NORMAL_PRIORITY_CLASS)
    else:
        os.nice(NICE)
