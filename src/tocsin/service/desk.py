"""Hold what the conductor told last, and hand it to all who listen. It knows no HTTP."""

import gzip
import hashlib
from collections.abc import Callable
from typing import NamedTuple, Protocol

import msgspec
from tornado import gen
from tornado.concurrent import Future
from tornado.ioloop import IOLoop

from tocsin import monotime
from tocsin.service import eyes
from tocsin.service.asked import Asked
from tocsin.service.boards import Boards, Caller
from tocsin.service.bodies import MarkBody, RunSoFar, WishBody
from tocsin.service.events import Kept, Listener, event
from tocsin.service.messages import (
    ENDED,
    NOTHING,
    Answer,
    Away,
    Connected,
    Down,
    Grant,
    Granted,
    Marked,
    Open,
    Play,
    Record,
    Revoke,
    Show,
    Up,
    Wish,
)
from tocsin.service.states import Shown, States
from tocsin.units import NS_PER_MS, NS_PER_S

_LOOK_S = 0.01
BACK_WITHIN_NS = 5 * NS_PER_S          # a board that left so short a time ago is coming back
ANYBODY = Caller(standing="watch", board=None)
MOST_STREAMS = 40
APART_NS = 50 * NS_PER_MS              # states closer to each other than this are one: nobody reads faster
MOST_RECORDS = 20_000                  # of one run; it has some hundred


class Publishes(Protocol):
    """A broker's line, as the desk needs it: it takes what everybody may read, as JSON."""

    def listeners(self, now_ns: int) -> int:
        """Return how many follow by it now."""

    def turn(self, now_ns: int) -> None:
        """See whether the field is free, if it was not. Called each second."""

    def state(self, state: bytes) -> None:
        """Publish the newest state."""

    def record(self, run: int, record: bytes) -> None:
        """Publish a record of a run, which is no header."""

    def end(self) -> None:
        """Leave."""


class Text:
    """Something that is served as it is: its bytes, those compressed, its SHA-256."""

    def __init__(self, data: bytes) -> None:
        self.plain = data
        self.packed = gzip.compress(data, mtime=0)
        self.sha256 = hashlib.sha256(data).hexdigest()


class _Played(NamedTuple):
    """What is played, and the records of it so far. One value: a broker's thread reads both."""

    play: Play
    records: list[msgspec.Raw]


class Desk:
    """The run as it stands, the boards, the listeners. ``tell`` sends a message up."""

    def __init__(self, opened: Open, tell: Callable[[Up], None]) -> None:
        self.version = opened.version
        self.boards = Boards(opened.tokens, opened.boards)
        self.plan: Text | None = None
        self._tell = tell
        self._asked = Asked()
        self._kept = Kept()
        self._listeners: list[Listener] = []
        self._played: _Played | None = None
        self._states = States()
        self._sent_ns = 0
        self._due: object | None = None
        self._connected: Connected | None = None
        self._unheard: set[int] | None = None      # the boards that still come back for the last word, once it is said
        self.broker: Publishes | None = None

    @property
    def run(self) -> int | None:
        """The number of the run that is played, None before any."""
        return None if self._played is None else self._played.play.run

    def has_room(self, caller: Caller) -> bool:
        """Return whether one more may listen. For who may do more than watch the oldest who watches makes room: a crowd
        at the field must not keep the coach out."""
        if len(self._listeners) < MOST_STREAMS:
            return True
        oldest = next((one for one in self._listeners if one.right == "watch" and not one.over), None)
        if oldest is None or not caller.may("mark"):
            return False
        oldest.end()
        return True

    def take(self, message: Down) -> None:
        """Take what the conductor says."""
        match message:
            case Play():
                self._take_play(message)
            case Show() if message.run == self.run:
                if self._states.show(message):
                    self._changed()
            case Record():
                self._take_record(message)
            case Answer():
                self._asked.answer(message)
            case Grant():
                self.boards.offer(message)
            case Away():
                self._states.leave(message)
                self._send_at(0)
            case Revoke():
                self.boards.revoke()
                self._boards_changed()
            case _:
                pass                               # a status of a run that is not played (any more), a second ``Open``

    def state(self, caller: Caller, now_ns: int) -> bytes | None:
        """Return the state for the eyes of a caller as JSON; None before the conductor has shown any."""
        shown = self._states.at(caller.right, self.boards, now_ns)
        return None if shown is None else shown.json(caller.you)

    def run_so_far(self, now_ns: int) -> RunSoFar | None:
        """Return the run for a follower; None before any."""
        if self._played is None:
            return None
        play, written = self._played
        ahead = () if play.ahead == NOTHING else (play.ahead,)
        records = tuple(written) or ahead
        return RunSoFar(run=play.run, now_ns=now_ns, version=self.version, timeline=play.timeline, records=records)

    def published_run(self) -> RunSoFar | None:
        """Return the run as it is for whoever a broker lets follow it: nothing of it is what people wrote. It is called
        from the broker's thread."""
        found = self.run_so_far(monotime.now_ns())
        if found is None:
            return None
        followed = tuple(msgspec.Raw(eyes.followed(bytes(record))) for record in found.records)
        return msgspec.structs.replace(found, records=followed)

    def join(self, caller: Caller, last_id: str, blocked: Callable[[], bool]) -> Listener:
        """Let somebody listen from now on, beginning with what came after the event ``last_id`` and the state.
        ``blocked`` says whether their line takes no more for now."""
        listener = Listener(caller, blocked)
        self._listeners.append(listener)
        if caller.board is None:
            self.boards.programs += 1
        else:
            caller.board.streams += 1
        if last_id and (missed := self._kept.since(last_id, steers=caller.may("steer"))):
            listener.put(b"".join(missed))         # as one: who comes back is not behind
        self._put_state(listener, self._states.at(listener.right, self.boards, monotime.now_ns()))
        self._boards_changed()
        if self._unheard is not None:
            listener.end()
        return listener

    def leave(self, listener: Listener) -> None:
        """Forget a listener."""
        self._listeners.remove(listener)
        if listener.caller.board is None:
            self.boards.programs -= 1
        else:
            listener.caller.board.streams -= 1
            listener.caller.board.left_ns = monotime.now_ns()
            (self._unheard or set()).discard(listener.caller.number)
        self._boards_changed()

    def granted(self, number: int) -> None:
        """Tell that a board was given a right."""
        self._tell(Granted(self.boards.board(number)))
        self._boards_changed()

    def asked_before(self, caller: Caller, body: WishBody | MarkBody) -> Future[Answer] | None:
        """Return the answer of what was asked before. Raises ValueError if its id was used for something else."""
        answer = self._asked.find((caller.source, body))
        if answer is not None and not answer.done():
            self._hand_up(caller, body)            # lost on its way, perhaps: the conductor does no id twice
        return answer

    def ask(self, caller: Caller, body: WishBody | MarkBody, refusal: str) -> Future[Answer]:
        """Hand a wish or mark up, unless there is a ``refusal``; return the answer to come."""
        answer = self._asked.add((caller.source, body))
        if refusal:
            self._asked.answer(Answer(id=body.id, taken=False, text=refusal))
        else:
            self._hand_up(caller, body)
        return answer

    def asks_twice(self, action: str) -> bool:
        """Return whether an action must be sure."""
        return action == "scrap" or any(offer.sure for offer in self._states.can if offer.action == action)

    def look(self, now_ns: int) -> None:
        """Count who follows by a broker. Called each second."""
        if self.broker is not None:
            self.broker.turn(now_ns)
        count = 0 if self.broker is None else self.broker.listeners(now_ns)
        if count != self.boards.by_broker:
            self.boards.by_broker = count
            self._boards_changed()

    async def end(self, within_s: float) -> None:
        """Tell all that the program has ended, unless it has said so itself, and let all streams end, at most so long;
        boards whose line was cut just now come back for it."""
        self._states.leave(Away(ENDED, ends=True))
        self._send_at(0)
        for listener in self._listeners:
            listener.end()
        now_ns = monotime.now_ns()
        self._unheard = self.boards.left_since(now_ns - BACK_WITHIN_NS)
        until_ns = now_ns + round(within_s * NS_PER_S)
        while (self._listeners or self._unheard) and monotime.now_ns() < until_ns:
            await gen.sleep(_LOOK_S)
        if self.broker is not None:
            self.broker.end()

    def _hand_up(self, caller: Caller, body: WishBody | MarkBody) -> None:
        kind = Wish if isinstance(body, WishBody) else Marked
        self._tell(kind(source=caller.source, **msgspec.structs.asdict(body)))

    def _take_play(self, play: Play) -> None:
        before = self._played
        records = before.records if before is not None and before.play.run == play.run else []
        self._states.play(play.timeline, anew=play.run != self.run)
        self._played = _Played(play, records)
        self.plan = Text(bytes(play.document))
        self._changed()

    def _take_record(self, record: Record) -> None:
        data = bytes(record.record)
        played = self._played
        if played is not None and record.run == played.play.run and len(played.records) < MOST_RECORDS:
            played.records.append(record.record)
        if eyes.is_header(data):
            return
        # A service that takes this one's place gives the same record the same id.
        event_id = f"{record.run}.{hashlib.sha256(data).hexdigest()[:16]}"
        for_all, for_steer = event("record", event_id, eyes.record_for_all(data)), event("record", event_id, data)
        self._kept.add(event_id, for_all, for_steer)
        if self.broker is not None and record.run == self.run:
            self.broker.record(record.run, eyes.record_for_all(data))
        for listener in self._listeners:
            listener.put(for_steer if listener.caller.may("steer") else for_all)

    def _boards_changed(self) -> None:
        connected = Connected(self.boards.told, self.boards.listening)
        if connected != self._connected:
            self._connected = connected
            self._tell(connected)
        self._changed()

    def _changed(self) -> None:
        """Send the state, now or as soon as the last one is old enough."""
        self._send_at(self._sent_ns + APART_NS)

    def _send_at(self, at_ns: int) -> None:
        loop = IOLoop.current()
        if self._due is not None:
            loop.remove_timeout(self._due)
            self._due = None
        left_ns = at_ns - monotime.now_ns()
        if left_ns <= 0:
            self._send()
        else:
            self._due = loop.call_later(left_ns / NS_PER_S, self._send)

    def _send(self) -> None:
        """Send everybody the state; words that change by themselves are sent when they do."""
        self._due = None
        now_ns = self._sent_ns = monotime.now_ns()
        shown = {right: self._states.at(right, self.boards, now_ns) for right in {one.right for one in self._listeners}}
        for listener in self._listeners:
            self._put_state(listener, shown[listener.right])
        if self.broker is not None and (state := self.state(ANYBODY, now_ns)) is not None:
            self.broker.state(state)
        stale_ns = self._states.stale_ns(now_ns)
        if (self._listeners or self.broker) and stale_ns is not None:
            self._send_at(max(stale_ns, now_ns + APART_NS))

    def _put_state(self, listener: Listener, shown: Shown | None) -> None:
        if shown is not None and listener.is_news(shown):
            data = event("state", self._kept.last_id, shown.json(listener.caller.you))
            listener.put(data, is_state=True)
