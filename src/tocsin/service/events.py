"""Write events as a text stream (WHATWG HTML, 9.2), keep the newest, and hold what waits for each listener."""

from collections import deque
from collections.abc import Callable

from tornado.concurrent import Future
from tornado.ioloop import IOLoop

from tocsin.service.boards import Caller
from tocsin.service.bodies import State
from tocsin.service.messages import Right
from tocsin.service.states import Shown

# Keeps a line open, and tells a page that it is. No blank line behind it: some readers make an empty event of that.
COMMENT = b":\n"
MOST_KEPT = 500
MOST_WAITING = 50                      # for one whose line takes no more: who is that far behind reads nothing
MOST_AT_ONCE = 500                     # for any: so much may come before a reader's turn comes


def event(kind: str, event_id: str, data: bytes) -> bytes:
    """Return one event. JSON has no newline outside of its texts, and there it is escaped."""
    return b"event: %s\nid: %s\ndata: %s\n\n" % (kind.encode(), event_id.encode(), data)


class Kept:
    """The newest records as events: for each its id, for all eyes, and for those who steer."""

    def __init__(self) -> None:
        self._events: deque[tuple[str, bytes, bytes]] = deque(maxlen=MOST_KEPT)
        self._dropped = False

    @property
    def last_id(self) -> str:
        """The id of the newest, "0" before any."""
        return self._events[-1][0] if self._events else "0"

    def add(self, event_id: str, for_all: bytes, for_steer: bytes) -> None:
        """Keep a record."""
        self._dropped = self._dropped or len(self._events) == MOST_KEPT
        self._events.append((event_id, for_all, for_steer))

    def since(self, event_id: str, *, steers: bool) -> list[bytes]:
        """Return what came after an event, nothing if that is not kept any more."""
        missed: list[bytes] = []
        for kept_id, for_all, for_steer in reversed(self._events):
            if kept_id == event_id:
                return missed[::-1]
            missed.append(for_steer if steers else for_all)
        return missed[::-1] if event_id == "0" and not self._dropped else []


class Listener:
    """One open stream: whose it is, and what waits for it. ``over`` once it is to end. ``blocked`` says whether its
    line takes no more for now."""

    def __init__(self, caller: Caller, blocked: Callable[[], bool]) -> None:
        self.caller = caller
        self.over = False
        self._blocked = blocked
        self._waiting: deque[tuple[bool, bytes]] = deque()
        self._bell: Future[None] = Future()
        self._last: State | None = None

    def put(self, data: bytes, *, is_state: bool = False) -> None:
        """Let an event wait. Of states only the newest counts: what it replaces is not sent any more."""
        if self.over:
            return
        if is_state:
            self._waiting = deque(one for one in self._waiting if not one[0])
        self._waiting.append((is_state, data))
        waiting = len(self._waiting)
        if waiting > MOST_AT_ONCE or (waiting > MOST_WAITING and self._blocked()):
            self.over = True
            self._waiting.clear()          # who reads nothing is cut off
        self._ring()

    @property
    def right(self) -> Right:
        """What it may do now."""
        return self.caller.right

    def is_news(self, shown: Shown) -> bool:
        """Return whether a state differs from the last one in more than its time."""
        last, self._last = self._last, shown.timeless
        return last is not shown.timeless and last != shown.timeless

    def end(self) -> None:
        """Let the stream end, behind what waits."""
        self.over = True
        self._ring()

    async def take(self, within_s: float) -> bytes | None:
        """Return all that waits, after ``within_s`` nothing; None once the stream is over and nothing waits."""
        if not self._waiting and not self.over:
            self._bell = Future()
            due = IOLoop.current().call_later(within_s, self._ring)
            await self._bell
            IOLoop.current().remove_timeout(due)
        data = b"".join(one for _, one in self._waiting)
        self._waiting.clear()
        return None if self.over and not data else data

    def _ring(self) -> None:
        if not self._bell.done():
            self._bell.set_result(None)
