"""Talk to a keeper over HTTP, by the standard library: no redirection is followed, no proxy known, no cookie kept."""

import http.client
import threading
from collections.abc import Callable
from http import HTTPStatus

from tocsin import monotime
from tocsin.features.follow.address import KeeperAddress
from tocsin.features.follow.event_stream import EventReader, TooLongError
from tocsin.features.follow.heard import NO_ANSWER, RecordLine, Refusal, RefusedError, as_kind, run_of
from tocsin.features.follow.line import ANSWER_S, FIRST, Line
from tocsin.journal.reader import MOST_BYTES
from tocsin.model.clock.exchange import Exchange
from tocsin.service.bodies import ClockReading, State
from tocsin.translation import tr

SILENT_S = 6.0                         # of the stream; the service says something each two seconds
PAUSES_S = (0.25, 0.5, 1.0, 2.0)       # before the next try
REFUSED_S = 12.0                       # and after a refusal: a service counts wrong tokens
_PIECE = 1 << 16


class HttpLine(Line):
    """The line to the service of one keeper."""

    def __init__(self, address: KeeperAddress, wake: Callable[[], None] = lambda: None) -> None:
        super().__init__(address.place, wake)
        self._address = address
        self._run_anew = threading.Event()         # the run is to be fetched anew
        self._threads = [
            threading.Thread(target=self._keep, args=(talk,), name=name, daemon=True)
            for talk, name in ((self._exchange, "keeper's clock"), (self._listen, "keeper's records"))
        ]

    def start(self) -> None:
        """Begin to talk."""
        for thread in self._threads:
            thread.start()

    def _keep(self, talk: Callable[[http.client.HTTPConnection], None]) -> None:
        """Talk over one connection after the other until the line is closed."""
        tries = 0
        while not self._closed.is_set():
            connection = http.client.HTTPConnection(self._address.host, self._address.port, timeout=ANSWER_S)
            began_ns = monotime.now_ns()
            try:
                talk(connection)
            except RefusedError as refused:
                self._put(Refusal(str(refused), refused.hint))
                self._closed.wait(REFUSED_S)
            except (OSError, http.client.HTTPException, TooLongError, *NO_ANSWER) as error:
                self.failure = error                   # cut off, or not what a keeper says: another connection
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
            reading = as_kind(body, ClockReading)
            self._put(
                Exchange(
                    sent_ns=sent_ns, received_ns=reading.received_ns, answered_ns=reading.sent_ns, got_ns=got_ns
                )
            )
            quick = self._pause(quick - 1)

    # -- the records

    def _listen(self, connection: http.client.HTTPConnection) -> None:
        """Open the stream first and fetch the whole run then, so that nothing falls between the two."""
        connection.connect()
        connection.sock.settimeout(SILENT_S)
        connection.request("GET", "/api/1/events", headers=self._headers("text/event-stream"))
        with connection.getresponse() as response:     # one that was refused has a socket of its own
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
                        state = as_kind(event.data.encode(), State)
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
        connection = http.client.HTTPConnection(self._address.host, self._address.port, timeout=ANSWER_S)
        try:
            body, _ = self._ask(connection, "GET", "/api/1/run")
        finally:
            connection.close()
        run = run_of(body)
        self._put(run)
        return run.run

    # -- HTTP

    def _headers(self, accepts: str = "application/json") -> dict[str, str]:
        return {
            "Authorization": f"Bearer {self._address.token}", "Accept": accepts, "Content-Type": "application/json",
        }

    def _ask(
        self, connection: http.client.HTTPConnection, method: str, path: str, body: bytes | None = None
    ) -> tuple[bytes, int]:
        """Return the answer's body and when it had come. Raises OSError, HTTPException, RefusedError."""
        connection.request(method, path, body=body, headers=self._headers())
        with connection.getresponse() as response:
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
                raise RefusedError(
                    tr("the keeper at {place} does not know this token", place=self._address.place),
                    tr("tokens hold for 12 hours: `tocsin board --address steer` prints the new address there"),
                )
            case HTTPStatus.FORBIDDEN:
                raise RefusedError(
                    tr("with this token one may look, but not follow"),
                    tr("`tocsin board --address steer` on the keeper prints the address for followers"),
                )
        raise http.client.HTTPException(response.status)
