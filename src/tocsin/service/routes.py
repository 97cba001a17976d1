"""Answer at each address of the service."""

from datetime import timedelta
from functools import cache

from tornado import gen
from tornado.iostream import StreamClosedError
from tornado.routing import URLSpec
from tornado.util import TimeoutError as LateError

from tocsin import monotime
from tocsin.service.bodies import (
    ClockBody,
    ClockReading,
    MarkBody,
    RightsBody,
    Taken,
    WishBody,
)
from tocsin.service.description import description
from tocsin.service.desk import Text
from tocsin.service.events import COMMENT
from tocsin.service.handlers import Elsewhere, Handler, Refused, Shared
from tocsin.service.messages import OLDEST_NS
from tocsin.translation import tr
from tocsin.units import NS_PER_S

ANSWER_WITHIN = timedelta(seconds=2)
COMMENT_EACH_S = 2.0
FLUSH_WITHIN = timedelta(seconds=5)


class Page(Handler):
    """The board: one file without data."""

    needs = None
    other_pages_read = False

    def get(self) -> None:
        self.set_header("Content-Security-Policy", self.shared.policy)
        self.set_header("X-Frame-Options", "DENY")
        self.send_text(self.shared.page, "text/html; charset=utf-8")

    head = get


class Description(Handler):
    """What can be asked here, for programs."""

    needs = None

    def get(self) -> None:
        self.send_text(_description(self.desk.version), "application/json")

    head = get


class Clock(Handler):
    """An exchange of times."""

    def post(self) -> None:
        self.body_as(ClockBody)
        self.send(ClockReading(received_ns=self.received_ns, sent_ns=monotime.now_ns()))


class Plan(Handler):
    """The plan that is played."""

    def get(self) -> None:
        if self.desk.plan is None:
            raise _not_yet()
        self.send_text(self.desk.plan, "application/json")

    head = get


class StateNow(Handler):
    """The run as it stands."""

    def get(self) -> None:
        state = self.desk.state(self.caller, monotime.now_ns())
        if state is None:
            raise _not_yet()
        self.send_json(state)

    head = get


class Run(Handler):
    """The records of the run so far."""

    needs = "steer"

    def get(self) -> None:
        run = self.desk.run_so_far(monotime.now_ns())
        if run is None:
            raise _not_yet()
        self.send(run)

    head = get


class Events(Handler):
    """All that happens, as it happens."""

    async def get(self) -> None:
        if not self.desk.has_room(self.caller):
            raise Refused(503, tr("Too many look on already: close a page on another phone."), Retry_After="5")
        self.set_header("Content-Type", "text/event-stream")
        last_id = self.request.headers.get("Last-Event-ID", "")
        listener = self.listener = self.desk.join(self.caller, last_id, self.line.writing)
        try:
            data: bytes | None = b""           # a comment at once, so that whoever listens knows
            while data is not None:
                self.write(data or COMMENT)
                flushed = self.flush()
                if self.line.writing():        # else all of it is on its way, as it nearly always is
                    await gen.with_timeout(FLUSH_WITHIN, flushed, quiet_exceptions=StreamClosedError)
                data = await listener.take(COMMENT_EACH_S)
            # In good order: of a body that is cut a browser drops what its page has not read yet (WHATWG Streams,
            # ResetQueue), which would be the last word.
            await gen.with_timeout(FLUSH_WITHIN, self.finish(), quiet_exceptions=StreamClosedError)
        except (StreamClosedError, LateError):
            pass
        finally:
            self.desk.leave(listener)
            self.line.close()              # the peer comes back by another one

    def on_connection_close(self) -> None:
        """End the stream of a peer that is gone."""
        if hasattr(self, "listener"):
            self.listener.end()


class Asking(Handler):
    """Wishes and marks: handed to the conductor, answered when it has answered."""

    async def answer_to(self, body: WishBody | MarkBody, refusal: str) -> None:
        # By token, not by board: whoever has one may call itself a new board each time.
        whose = self.caller.standing or self.caller.number
        if wait_s := self.shared.presses.take((self.request.remote_ip, whose), self.received_ns):
            self.too_many(wait_s)
        try:
            answer = self.desk.asked_before(self.caller, body)
        except ValueError as error:
            raise Refused(409, tr("This id was used for something else: each press has its own.")) from error
        if answer is None:
            answer = self.desk.ask(self.caller, body, refusal)
        try:
            said = await gen.with_timeout(ANSWER_WITHIN, answer)
        except LateError as error:
            raise Refused(504, tr("No answer from the laptop yet: ask again with the same id.")) from error
        if not said.taken:
            raise Refused(409, said.text)
        self.send(Taken(text=said.text), 202)

    def against(self, run: int, at_ns: int, error_ns: int) -> str:
        """Return what speaks against any press, or nothing."""
        if self.desk.run is None:
            return tr("There is no match yet.")
        if run > self.desk.run:
            return tr("This match is not known here: load the page again.")
        if at_ns > self.received_ns + error_ns:
            return tr("That time has not come yet: the clocks do not agree.")
        return ""


class Wishes(Asking):
    """What a board wants done."""

    needs = "mark"

    async def post(self) -> None:
        body = self.body_as(WishBody)
        if body.action != "undo":
            self.authenticated("steer")
        await self.answer_to(body, self._against(body))

    def _against(self, body: WishBody) -> str:
        if why := self.against(body.run, body.at_ns, body.error_ns):
            return why
        if body.run != self.desk.run:
            return tr("That was for a match that has ended.")
        if self.received_ns - body.at_ns > OLDEST_NS:
            age = (self.received_ns - body.at_ns) / NS_PER_S
            return tr("Too late: that was pressed {age:.0f} s ago.", age=age)
        if self.desk.asks_twice(body.action) and not body.sure:
            return tr("This is asked twice: say that you are sure.")
        return ""


class Marks(Asking):
    """What a scribe saw."""

    needs = "mark"

    async def post(self) -> None:
        body = self.body_as(MarkBody)
        newest_ns = body.begin_ns if body.end_ns is None else body.end_ns
        backwards = tr("A mark ends after it begins.") if newest_ns < body.begin_ns else ""
        await self.answer_to(body, backwards or self.against(body.run, newest_ns, body.error_ns))


class RightsGiven(Handler):
    """A right for who shows the second code in time."""

    needs = None

    def post(self) -> None:
        if wait_s := self.shared.wrong_tokens.wait_s(self.request.remote_ip, self.received_ns):
            self.too_many(wait_s)
        secret = self.body_as(RightsBody).secret
        caller = self.shown_caller()
        rights = self.desk.boards.claim(secret, caller, self.board_id, self.received_ns)
        if rights is None:
            self.count_wrong()
            raise Refused(403, tr("This code is not valid any more: ask for a new one at the laptop."))
        self.desk.granted(rights.board)
        self.send(rights)


@cache
def _description(version: str) -> Text:
    return Text(description(version))


def _not_yet() -> Refused:
    return Refused(503, tr("The laptop has not shown a match yet: ask again."), Retry_After="1")


def routes(shared: Shared) -> list[URLSpec]:
    """Return all addresses."""
    given = {"shared": shared}
    handlers: dict[str, type[Handler]] = {
        "/": Page,
        "/api/1/openapi.json": Description,
        "/api/1/clock": Clock,
        "/api/1/plan": Plan,
        "/api/1/state": StateNow,
        "/api/1/events": Events,
        "/api/1/marks": Marks,
        "/api/1/wishes": Wishes,
        "/api/1/rights": RightsGiven,
        "/api/1/run": Run,
    }
    specs = [URLSpec(path.replace(".", r"\."), handler, given) for path, handler in handlers.items()]
    return [*specs, URLSpec(".*", Elsewhere, given)]
