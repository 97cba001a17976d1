"""Keep the line to the keeper: exchanges with its clock each second, its records as they are written.

Two threads talk; what they heard waits until it is taken. Nobody waits for them: a keeper that is slow, gone or wrong
holds nothing up here. HTTP by the standard library: it follows no redirection, knows no proxy and keeps no cookie.
"""

import http.client
import json
import threading
from collections.abc import Callable
from http import HTTPStatus
from queue import SimpleQueue
from typing import NamedTuple, TypeVar

import msgspec

from tocsin import __version__, monotime
from tocsin.features.follow.address import Address
from tocsin.features.follow.event_stream import EventReader, TooLongError
from tocsin.journal.reader import MOST_BYTES
from tocsin.model.clock.exchange import Exchange
from tocsin.readable import readable_line
from tocsin.service.bodies import ClockReading, RunSoFar, State
from tocsin.translation import tr

T = TypeVar("T")

EACH_S = 1.0                           # between two exchanges
FIRST = 8                              # exchanges after a gap, without a pause
BETWEEN_FIRST_S = 0.05
ANSWER_S = 2.0                         # no answer for so long: the connection is given up
SILENT_S = 6.0                         # of the stream; the service says something each two seconds
PAUSES_S = (0.25, 0.5, 1.0, 2.0)       # before the next try
REFUSED_S = 12.0                       # and after a refusal: a service counts wrong tokens
_PIECE = 1 << 16


class RecordLine(NamedTuple):
    """A record that the keeper wrote: of which run, and its line. The run may have had it when it was fetched."""

    run: int
    line: bytes


class Refusal(NamedTuple):
    """Why this keeper cannot be followed, in a sentence, and what helps. It may change: it is asked again."""

    why: str
    hint: str


Heard = Exchange | RunSoFar | RecordLine | State | Refusal


class Line:
    """The line to one keeper. ``wake`` is called from its threads whenever something has been heard."""

    def __init__(self, address: Address, wake: Callable[[], None] = lambda: None) -> None:
        self.address = address
        self.wake = wake
        self.heard_ns: int | None = None           # when the keeper was heard last
        self._inbox: SimpleQueue[Heard] = SimpleQueue()
        self._closed = threading.Event()
        self._anew = threading.Event()             # the clock is to be read anew, quickly
        self._run_anew = threading.Event()         # the run is to be fetched anew
        self._threads = [
            threading.Thread(target=self._keep, args=(talk,), name=name, daemon=True)
            for talk, name in ((self._exchange, "keeper's clock"), (self._listen, "keeper's records"))
        ]

    def start(self) -> None:
        """Begin to talk."""
        for thread in self._threads:
            thread.start()

    def close(self) -> None:
        """End; does not wait for the threads, which hold nothing that must be given back."""
        self._closed.set()
        self._anew.set()

    def read_clock_anew(self) -> None:
        """Read the keeper's clock several times at once: this laptop slept, or a clock has jumped."""
        self._anew.set()

    def take(self) -> list[Heard]:
        """Return what was heard since the last call."""
        heard = []
        while not self._inbox.empty():
            heard.append(self._inbox.get())
        return heard

    def _put(self, heard: Heard) -> None:
        self._inbox.put(heard)
        self.wake()

    def _keep(self, talk: Callable[[http.client.HTTPConnection], None]) -> None:
        """Talk over one connection after the other until the line is closed."""
        tries = 0
        while not self._closed.is_set():
            connection = http.client.HTTPConnection(self.address.host, self.address.port, timeout=ANSWER_S)
            began_ns = monotime.now_ns()
            try:
                talk(connection)
            except _Refused as refused:
                self._put(Refusal(str(refused), refused.hint))
                self._closed.wait(REFUSED_S)
            except (OSError, http.client.HTTPException, TooLongError, msgspec.DecodeError, RecursionError, ValueError):
                pass                                   # cut off, or not what a keeper says: another connection
            finally:
                connection.close()
            if self.heard_ns is not None and self.heard_ns > began_ns:
                tries = 0
            self._closed.wait(PAUSES_S[min(tries, len(PAUSES_S) - 1)])
            tries += 1

    # -- the clock

    def _exchange(self, connection: http.client.HTTPConnection) -> None:
        connection.connect()
        quick = FIRST
        while not self._closed.is_set():
            self._anew.clear()
            sent_ns = monotime.now_ns()
            body, got_ns = self._ask(connection, "POST", "/api/1/clock", b"{}")
            reading = _as(body, ClockReading)
            self._put(
                Exchange(
                    sent_ns=sent_ns, received_ns=reading.received_ns, answered_ns=reading.sent_ns, got_ns=got_ns
                )
            )
            quick -= 1
            if self._anew.wait(BETWEEN_FIRST_S if quick > 0 else EACH_S):
                quick = FIRST

    # -- the records

    def _listen(self, connection: http.client.HTTPConnection) -> None:
        """Open the stream first and fetch the whole run then, so that nothing falls between the two."""
        connection.connect()
        connection.sock.settimeout(SILENT_S)
        connection.request("GET", "/api/1/events", headers=self._headers("text/event-stream"))
        response = connection.getresponse()
        self._demand_ok(response)
        reader, run = EventReader(), self._fetch_run()
        while not self._closed.is_set():
            piece = response.read1(_PIECE)
            if not piece:
                return
            self.heard_ns = monotime.now_ns()
            for event in reader.feed(piece):
                if event.kind == "record":
                    self._put(RecordLine(int(event.event_id.partition(".")[0]), event.data.encode()))
                elif event.kind == "state":
                    state = _as(event.data.encode(), State)
                    if state.run != run:
                        run = self._fetch_run()
                    self._put(state)
            if self._run_anew.is_set():
                run = self._fetch_run()

    def fetch_run(self) -> None:
        """Have the whole run fetched, within two seconds."""
        self._run_anew.set()

    def _fetch_run(self) -> int:
        """Fetch the whole run; return its number. What has come over the stream behind it is read only then: all of
        that is newer, or known."""
        self._run_anew.clear()
        connection = http.client.HTTPConnection(self.address.host, self.address.port, timeout=ANSWER_S)
        try:
            body, _ = self._ask(connection, "GET", "/api/1/run")
        finally:
            connection.close()
        if (version := _version_of(body)) != __version__:
            raise _Refused(
                tr(
                    "the keeper has Tocsin {version}, this laptop has {own}", version=readable_line(version, 40),
                    own=__version__,
                ),
                tr("both need the same version: install it on one of them"),
            )
        run = _as(body, RunSoFar)
        self._put(run)
        return run.run

    # -- HTTP

    def _headers(self, accepts: str = "application/json") -> dict[str, str]:
        return {
            "Authorization": f"Bearer {self.address.token}", "Accept": accepts, "Content-Type": "application/json",
        }

    def _ask(
        self, connection: http.client.HTTPConnection, method: str, path: str, body: bytes | None = None
    ) -> tuple[bytes, int]:
        """Return the answer's body and when it had come. Raises OSError, HTTPException, _Refused."""
        connection.request(method, path, body=body, headers=self._headers())
        response = connection.getresponse()
        answer = response.read(MOST_BYTES + 1)
        got_ns = monotime.now_ns()
        if len(answer) > MOST_BYTES:
            raise http.client.HTTPException("longer than any run")
        self._demand_ok(response)
        self.heard_ns = got_ns
        return answer, got_ns

    def _demand_ok(self, response: http.client.HTTPResponse) -> None:
        match response.status:
            case HTTPStatus.OK:
                return
            case HTTPStatus.UNAUTHORIZED:
                raise _Refused(
                    tr("the keeper at {place} does not know this token", place=self.address.place),
                    tr("tokens hold for 12 hours: `tocsin board --address steer` prints the new address there"),
                )
            case HTTPStatus.FORBIDDEN:
                raise _Refused(
                    tr("with this token one may look, but not follow"),
                    tr("`tocsin board --address steer` on the keeper prints the address for followers"),
                )
        raise http.client.HTTPException(response.status)


class _Refused(Exception):
    def __init__(self, why: str, hint: str) -> None:
        super().__init__(why)
        self.hint = hint


def _as(body: bytes, kind: type[T]) -> T:
    return msgspec.json.decode(body, type=kind)


def _version_of(body: bytes) -> str:
    """Return the keeper's version: all else of another version's answer may look otherwise."""
    found = json.loads(body)
    version = found.get("version") if isinstance(found, dict) else None
    return version if isinstance(version, str) else "?"
