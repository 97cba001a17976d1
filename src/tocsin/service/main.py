"""Run the service: read lines of the conductor in a thread, serve in this one, end with the conductor's pipe."""

import logging
import os
import sys
import traceback
from typing import Any

from tornado import gen, locks
from tornado.ioloop import IOLoop
from tornado.web import Application

from tocsin import monotime
from tocsin.pipe import LineReader, LineWriter, MessageError
from tocsin.service.address import Unusable, bound
from tocsin.service.broker_address import broker_of
from tocsin.service.desk import Desk
from tocsin.service.handlers import Elsewhere, House
from tocsin.service.messages import Alive, Down, Open, Opened, Up, decode_down, encode
from tocsin.service.routes import routes
from tocsin.service.sockets import Sockets

NICE = 5
ALIVE_EACH_S = 1.0
MOST_TOLD = 20                         # who can make a fault must not fill the journal with it


class Service:
    """The process: one desk, one address."""

    def __init__(self, writer: LineWriter) -> None:
        self._writer = writer
        self._loop = IOLoop.current()
        self._ended = locks.Event()
        self._desk: Desk | None = None
        self._told = 0

    async def run(self) -> None:
        """Serve until the conductor is gone."""
        self._reader = LineReader(0, self._on_line, lambda: self._loop.add_callback(self._ended.set), "inbox")
        self._loop.add_callback(self._live)
        await self._ended.wait()
        if self._desk is not None:
            self._desk.end()

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
            self._open(message, self._desk)

    def _open(self, opened: Open, desk: Desk) -> None:
        house = House(opened, desk, self.log)
        application = Application(
            routes(house), default_handler_class=Elsewhere, default_handler_args={"house": house},
            log_function=lambda handler: None,
        )  # fmt: skip
        house.sockets = Sockets(application)
        try:
            listening, address = bound(opened.host, opened.port)
        except Unusable as error:
            self._send(Opened("", str(error)))     # whoever started this process decides when to try again
            return
        house.sockets.add_sockets(listening)
        self._loop.add_callback(house.sockets.watch)
        self._send(Opened(address))

    def _publish(self, broker: str, desk: Desk) -> None:
        from tocsin.service.broker import Broker  # only here: most laptops have no library for it

        desk.broker = Broker(broker_of(broker), desk.published_run, self._send)
        desk.broker.start()

    async def _live(self) -> None:
        # No PeriodicCallback: it goes by the wall clock, and waits for an hour if that is set back by one.
        while True:
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


async def _serve(writer: LineWriter) -> None:
    service = Service(writer)
    logging.getLogger().addHandler(_Faults(service))
    await service.run()


def main() -> int:
    """Serve until stdin ends; return 0 then."""
    _step_back()
    writer = LineWriter(1, "outbox")
    try:
        IOLoop().run_sync(lambda: _serve(writer))
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
