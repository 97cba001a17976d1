"""What all addresses of the service have in common: who may ask, how refusals look, which headers stand on answers."""

from collections.abc import Awaitable
from http import HTTPStatus
from typing import Any, NoReturn, TypeVar

import msgspec
from tornado.http1connection import HTTP1Connection
from tornado.iostream import IOStream
from tornado.web import HTTPError, RequestHandler

from tocsin import monotime
from tocsin.readable import readable_line, utf8_json
from tocsin.service.boards import Caller
from tocsin.service.bodies import Problem, decode
from tocsin.service.desk import Desk, Text
from tocsin.service.guard import Buckets, host_name, is_own_page
from tocsin.service.messages import Open, Right
from tocsin.service.sockets import Sockets
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

T = TypeVar("T")

BOARD_ID = 32                          # hex digits
WRONG_TOKENS, WRONG_TOKEN_EACH_NS = 10, 6 * NS_PER_S           # so many a minute, of one address
PRESSES, PRESS_EACH_NS = 20, NS_PER_S // 20                    # so many a second, of one token and address
_HEADERS_FOR_PAGES = "authorization, last-event-id, tocsin-board"


class Shared:
    """What all handlers share."""

    def __init__(self, opened: Open, desk: Desk, log: Any) -> None:
        self.desk = desk
        self.page = Text(opened.page.encode("utf-8", "replace"))
        self.policy = opened.policy
        self.hosts = frozenset(name.lower().strip("[]") for name in (*opened.hosts, opened.host, "localhost"))
        self.wrong_tokens = Buckets(WRONG_TOKENS, WRONG_TOKEN_EACH_NS)
        self.presses = Buckets(PRESSES, PRESS_EACH_NS)
        self.sockets: Sockets | None = None
        self.log = log


class Refused(HTTPError):
    """A problem in words, with headers of its own."""

    def __init__(self, status: int, detail: str, **headers: str) -> None:
        super().__init__(status)
        self.detail = detail
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}


class Handler(RequestHandler):
    """An address. ``needs`` is the right that its caller needs, None where anybody may ask."""

    needs: Right | None = "watch"
    other_pages_read = True            # pages of other origins may GET it: without cookies that gives nothing away

    def initialize(self, shared: Shared) -> None:
        """Take what all handlers share."""
        self.shared = shared
        self.desk = shared.desk
        self.received_ns = monotime.now_ns()

    def set_default_headers(self) -> None:
        """Set what stands on every answer."""
        self.clear_header("Server")
        self.clear_header("Content-Type")
        self.set_header("X-Content-Type-Options", "nosniff")
        self.set_header("Referrer-Policy", "no-referrer")
        self.set_header("Cache-Control", "no-store")
        self.set_header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
        if self.other_pages_read and self.request.method in ("GET", "HEAD"):
            self.set_header("Access-Control-Allow-Origin", "*")

    def prepare(self) -> None:
        """Refuse whoever may not ask, before anything is done."""
        if host_name(self.request.host) not in self.shared.hosts:
            raise Refused(421, tr("This laptop has another name: use the address on its screen."))
        if self.request.method not in self.methods:
            raise Refused(405, self._not_for_that)
        if self.request.method == "POST":
            self._check_post()
        elif self.request.method == "OPTIONS":
            return
        if self.needs is not None:
            self.caller = self.authenticated(self.needs)

    @property
    def _not_for_that(self) -> str:
        return tr("This address is not for that.")

    def _check_post(self) -> None:
        origin = self.request.headers.get("Origin")
        if origin is not None and not is_own_page(origin, self.request.host):
            raise Refused(403, tr("Only the board's own page may do this, not a page from somewhere else."))
        kind = self.request.headers.get("Content-Type", "").partition(";")[0].strip().lower()
        if kind != "application/json":
            raise Refused(415, tr("This address takes JSON only (application/json)."))

    @property
    def methods(self) -> tuple[str, ...]:
        """The methods that this address knows."""
        return tuple(name for name in ("GET", "HEAD", "POST", "OPTIONS") if getattr(type(self), name.lower()) is not (
            getattr(RequestHandler, name.lower())
        ))

    def options(self) -> None:
        """Say what this address takes, and let pages of other origins know that they may read it."""
        self.set_status(204)
        self.set_header("Allow", ", ".join(self.methods))
        if self.other_pages_read and "GET" in self.methods:
            self.set_header("Access-Control-Allow-Origin", "*")
            self.set_header("Access-Control-Allow-Methods", "GET")
            self.set_header("Access-Control-Allow-Headers", _HEADERS_FOR_PAGES)

    @property
    def line(self) -> IOStream:
        """The line to the peer."""
        connection = self.request.connection
        assert isinstance(connection, HTTP1Connection)
        return connection.stream

    @property
    def board_id(self) -> str:
        """How a board names itself, empty for who does not."""
        shown = self.request.headers.get("Tocsin-Board")
        if shown is not None and (len(shown) != BOARD_ID or set(shown) - set("0123456789abcdef")):
            raise Refused(422, tr("A board's id has 32 hex digits."))
        return shown or ""

    def shown_caller(self) -> Caller | None:
        """Return whose token was shown, None for no or a wrong one."""
        way, _, token = self.request.headers.get("Authorization", "").partition(" ")
        return self.desk.boards.caller(token.strip(), self.board_id) if way.lower() == "bearer" else None

    def authenticated(self, right: Right) -> Caller:
        """Return who asks; refuse who has no token, a wrong one, or one that allows less than ``right``."""
        caller = self.shown_caller()
        if caller is None:
            if self.request.headers.get("Authorization"):
                self.count_wrong()
            raise Refused(401, tr("The code is not valid any more: scan it again."), WWW_Authenticate="Bearer")
        if self.shared.sockets is not None:
            self.shared.sockets.trust(self.line, acts=caller.may("mark"))
        if not caller.may(right):
            detail = tr("This board may only watch. Rights are given at the laptop, by a key.")
            if caller.right != "watch":
                detail = tr("This board may mark, but not lead rounds. Rights are given at the laptop, by a key.")
            raise Refused(403, detail, WWW_Authenticate='Bearer error="insufficient_scope"')
        return caller

    def count_wrong(self) -> None:
        """Count a wrong token or code of this peer, and refuse whoever has shown too many."""
        if wait_s := self.shared.wrong_tokens.take(self.request.remote_ip, self.received_ns):
            self.too_many(wait_s)

    def too_many(self, wait_s: int) -> NoReturn:
        """Refuse whoever asks too often."""
        detail = trn("Too often: wait {count} second.", "Too often: wait {count} seconds.", wait_s)
        raise Refused(429, detail, Retry_After=str(wait_s))

    def body_as(self, kind: type[T]) -> T:
        """Return the request's body as its type."""
        try:
            return decode(self.request.body, kind)
        except msgspec.ValidationError as error:
            raise Refused(422, tr("The message does not fit: {why}", why=readable_line(str(error)))) from error
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            raise Refused(400, tr("The message is no JSON: {why}", why=readable_line(str(error)))) from error

    def send(self, value: msgspec.Struct, status: int = 200) -> None:
        """Answer with a value as JSON."""
        self.set_status(status)
        self.send_json(utf8_json(value))

    def send_json(self, data: bytes) -> None:
        """Answer with JSON."""
        self.set_header("Content-Type", "application/json")
        self.finish(data)

    def send_text(self, text: Text, kind: str) -> None:
        """Answer with what changes seldom, compressed for who can read that, or say that nothing has changed."""
        packs = "gzip" in self.request.headers.get("Accept-Encoding", "").replace(" ", "").split(",")
        tag = f'"{text.sha256}-gzip"' if packs else f'"{text.sha256}"'
        self.set_header("ETag", tag)
        self.set_header("Vary", "Accept-Encoding")
        self.set_header("Cache-Control", "no-cache")
        known = [one.strip().removeprefix("W/") for one in self.request.headers.get("If-None-Match", "").split(",")]
        if tag in known or "*" in known:
            self.set_status(304)
            return
        self.set_header("Content-Type", kind)
        if packs:
            self.set_header("Content-Encoding", "gzip")
        self.finish(text.packed if packs else text.plain)

    def compute_etag(self) -> str | None:
        """Return no ETag: what has one sets it itself."""
        return None

    def write_error(self, status_code: int, **kwargs: Any) -> None:
        """Answer with a problem (RFC 9457)."""
        error = kwargs.get("exc_info", (None, None, None))[1]
        detail = ""
        if isinstance(error, Refused):
            detail = error.detail
            for name, value in error.headers.items():
                self.set_header(name, value)
        elif status_code == 405:                   # a method that tornado does not know
            detail = self._not_for_that
        elif status_code < 500:                    # tornado's own, of what is no request of HTTP
            detail = tr("This cannot be read.")
        else:
            detail = tr("Something went wrong at the laptop. The match goes on without it.")
        if status_code == 405:
            self.set_header("Allow", ", ".join(self.methods))
        problem = Problem(title=HTTPStatus(status_code).phrase, status=status_code, detail=detail)
        self.set_header("Content-Type", "application/problem+json")
        self.finish(utf8_json(problem))

    def log_exception(self, typ: Any, value: BaseException | None, tb: Any) -> None:
        """Hand what is a fault of ours to the log; refusals are none."""
        if not isinstance(value, HTTPError):
            self.shared.log(typ, value, tb)

    def data_received(self, chunk: bytes) -> Awaitable[None] | None:
        """Take no streamed bodies."""
        return None


class Elsewhere(Handler):
    """All addresses where nothing is."""

    needs = None
    other_pages_read = False

    def prepare(self) -> None:
        """Refuse."""
        if host_name(self.request.host) not in self.shared.hosts:
            raise Refused(421, tr("This laptop has another name: use the address on its screen."))
        raise Refused(404, tr("There is nothing at this address."))
