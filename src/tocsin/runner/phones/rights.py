"""Give a phone more than to watch, by a key at the laptop, and take it back by another; say what stands there.

The standing code only watches. A key opens a second one for ten seconds, by which one phone is given more. Pure but for
the secrets; time is an argument.
"""

import secrets
from collections.abc import Callable

from tocsin.model.clock.origins import Phase
from tocsin.model.display.boards import GIVEN_RIGHTS, BoardsFact, GivenBoard, GivenRight
from tocsin.model.display.status import GIVE_RIGHTS, TAKE_RIGHTS
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.phones.boards import Boards
from tocsin.runner.phones.code import modules
from tocsin.service.messages import Board, Grant
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

GIVES_NS = 10 * NS_PER_S               # so long a second code can be used
MISSING_NS = 30 * NS_PER_S             # a phone that has not come by then did not find its way
# A key that is held down repeats in a terminal, after half a second at the latest; it must not give more by that.
REPEATS_NS = 700 * NS_PER_MS
_SECRET_BYTES = 16
_IN_MATCH: tuple[Phase, ...] = ("waiting", "running", "held")
_GIVEN: dict[GivenRight, str] = {
    "mark": tr("board {number} may mark now: contact, turned, home"),
    "steer": tr("board {number} may mark now, and lead rounds: start, hold, cancel"),
}


def new_secret() -> str:
    """Return 128 random bits as 22 characters."""
    return secrets.token_urlsafe(_SECRET_BYTES)


class Rights:
    """The second code of a program, and what stands at the laptop of its ``boards``."""

    def __init__(self, boards: Boards, secret: Callable[[], str] = new_secret) -> None:
        self._boards = boards
        self._secret = secret
        self._grant: Grant | None = None
        self._came = False                     # whether any board came since the program's start
        self._pressed_ns = -REPEATS_NS

    def give(self, phase: Phase, at_ns: int, now_ns: int) -> Outcome:
        """Open a second code that lets a phone mark; if it is open one that lets it steer, then none."""
        if not self._boards.wanted:
            return Done()                      # no service is on: the key does nothing
        repeated, self._pressed_ns = at_ns - self._pressed_ns < REPEATS_NS, at_ns
        if repeated:
            return Done()
        if not self._boards.address:
            return Refused(tr("no phone can come: boards are not served now"))
        if not self._boards.lets_phones_in:
            return Refused(tr("no phone can come: start with --board lan to let phones in"))
        if phase in _IN_MATCH:
            return Refused(tr("a phone is given rights in standby and between rounds"))
        given = self._grant.right if self._grant is not None and now_ns < self._grant.until_ns else ""
        if given == "steer":
            self._close()
            return Done(tr("the code is gone: no phone was given a right"), briefly=True)
        right: GivenRight = "steer" if given == "mark" else "mark"
        self._grant = Grant(secret=self._secret(), right=right, until_ns=now_ns + GIVES_NS)
        self._boards.send(self._grant)
        return Done()

    def take_back(self) -> Outcome:
        """Take back every right that was given at the laptop, and the code that would give one."""
        if not self._boards.wanted:
            return Done()
        kept = any(board.right != "watch" and not board.token for board in self._boards.known)
        self._close()
        self._boards.revoke()
        if kept:
            return Done(tr("phones only watch now; what has an address of `tocsin board --address` keeps it"))
        return Done(tr("phones only watch now"))

    def used(self, board: Board) -> str:
        """Take it that the second code was used by a board; return what people are told."""
        self._close()                          # a service that is started anew must not take it a second time
        return _GIVEN[board.right].format(number=board.number) if board.right in GIVEN_RIGHTS else ""

    def turn(self, phase: Phase, now_ns: int) -> None:
        """Take a code away whose time is over, or that would cover a match."""
        if self._grant is not None and (now_ns >= self._grant.until_ns or phase in _IN_MATCH):
            self._close()
        self._came = self._came or any(board.here for board in self._boards.known)

    def actions(self, phase: Phase) -> tuple[str, ...]:
        """Return the actions of keys that mean something now."""
        if not self._boards.lets_phones_in:
            return ()
        gives = () if phase in _IN_MATCH else (GIVE_RIGHTS,)
        takes = (TAKE_RIGHTS,) if any(board.right != "watch" for board in self._boards.known) else ()
        return (*gives, *takes)

    def fact(self, phase: Phase, now_ns: int) -> BoardsFact | None:
        """Return what stands on the laptop's screen; in a match nothing does."""
        boards, grant = self._boards, self._grant
        if phase in _IN_MATCH or not (boards.address or boards.trouble):
            return None
        if not boards.address:
            return BoardsFact(address="", trouble=boards.trouble)
        scans = boards.lets_phones_in
        text = boards.first_code if grant is None else f"{boards.address}#g={grant.secret}"
        return BoardsFact(
            address=boards.address.rstrip("/"),
            code=modules(text) if scans else (),
            gives="" if grant is None or grant.right == "watch" else grant.right,
            until_ns=None if grant is None else grant.until_ns,
            given=tuple(
                GivenBoard(number=board.number, right=board.right, here=board.here)
                for board in boards.known
                # On this laptop nobody puts a board into a pocket: what is not here was closed.
                if board.right != "watch" and (board.here or scans)
            ),
            watching=boards.here("watch"),
            programs=boards.programs,
            trouble=boards.trouble,
            missing=scans and not self._came and now_ns - boards.since_ns >= MISSING_NS,
        )

    def _close(self) -> None:
        if self._grant is not None:
            self._boards.send(Grant(secret="", right="watch", until_ns=0))
            self._grant = None
