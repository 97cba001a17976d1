"""Keep the boards that were here: number, right, token of their own, and who is here now. Pure."""

import secrets
from collections.abc import Iterable

import msgspec

from tocsin.model.mark import PROGRAM, board_source
from tocsin.service.bodies import BoardsHere, Rights, You
from tocsin.service.guard import which
from tocsin.service.messages import RIGHTS, Board, Grant, Right, Tokens

MOST_KNOWN = 200                       # whoever invents boards must not fill the memory; numbers go on


class KnownBoard:
    """A board, and how many streams of it are open."""

    def __init__(self, board: Board) -> None:
        self.number = board.number
        self.id = board.id
        self.right: Right = board.right
        self.token = board.token
        self.streams = 0
        self.left_ns: int | None = None            # when its last stream ended

    @property
    def told(self) -> Board:
        """The board as the conductor is told."""
        return Board(number=self.number, right=self.right, token=self.token, here=self.streams > 0, id=self.id)


class Caller(msgspec.Struct, frozen=True, kw_only=True):
    """Whose token it is: a board of its own right, or who has one of the standing tokens, perhaps a board too."""

    standing: Right | None
    board: KnownBoard | None

    @property
    def right(self) -> Right:
        """What may be done now; a board's own right may be taken back at any time."""
        if self.standing is not None or self.board is None:
            return self.standing or "watch"
        return self.board.right

    @property
    def number(self) -> int:
        """The board's number, 0 for a program."""
        return 0 if self.board is None else self.board.number

    @property
    def you(self) -> You:
        """What a caller is told of itself."""
        return You(number=self.number, right=self.right)

    @property
    def source(self) -> str:
        """Whose a wish or mark is in the records; it is structure there, so it is not translated."""
        return board_source(self.number) if self.board else PROGRAM

    def may(self, right: Right) -> bool:
        """Return whether what needs ``right`` is allowed."""
        return RIGHTS.index(self.right) >= RIGHTS.index(right)


class Boards:
    """All that are known. Who has no ``Tocsin-Board`` id is a program."""

    def __init__(self, tokens: Tokens, boards: Iterable[Board] = ()) -> None:
        self._standing = (tokens.watch, tokens.mark, tokens.steer)
        self._known = [KnownBoard(board) for board in boards]
        self._newest = max((board.number for board in self._known), default=0)
        self._grant: Grant | None = None
        self.programs = 0
        self.by_broker = 0                         # who follows by a broker, and has no stream here

    @property
    def told(self) -> tuple[Board, ...]:
        """All boards, for the conductor."""
        return tuple(board.told for board in self._known)

    @property
    def listening(self) -> int:
        """How many listen who are no boards: programs, and laptops that follow."""
        return self.programs + self.by_broker

    @property
    def here(self) -> BoardsHere:
        """How many are here."""
        rights = [board.right for board in self._known if board.streams]
        return BoardsHere(
            watching=rights.count("watch"), marking=rights.count("mark"), steering=rights.count("steer")
        )

    def caller(self, token: str, board_id: str) -> Caller | None:
        """Return whose token it is, None if nobody's. A board that names itself is known from then on."""
        found = which(token, [*self._standing, *(board.token for board in self._known)])
        if found is None:
            return None
        if found >= len(RIGHTS):
            return Caller(standing=None, board=self._known[found - len(RIGHTS)])
        board = self._named(board_id) if board_id else None
        if board is not None and not board.token:
            board.right = RIGHTS[found]
        return Caller(standing=RIGHTS[found], board=board)

    def offer(self, grant: Grant) -> None:
        """Put up a second code, or close it if its secret is empty."""
        self._grant = grant if grant.secret else None

    def claim(self, secret: str, caller: Caller | None, board_id: str, now_ns: int) -> Rights | None:
        """Return a token of its own for who shows the secret of the second code in time, once; else None."""
        grant = self._grant
        if grant is None or which(secret, [grant.secret]) is None or now_ns >= grant.until_ns:
            return None
        self._grant = None
        board = caller.board if caller is not None and caller.board else self._named(board_id)
        board.right, board.token = grant.right, secrets.token_urlsafe(16)
        return Rights(token=board.token, board=board.number, right=board.right)

    def revoke(self) -> None:
        """Let all that were given a right at the laptop watch; their tokens stay theirs."""
        self._grant = None
        for board in self._known:
            if board.token:
                board.right = "watch"

    def board(self, number: int) -> Board:
        """Return a board for the conductor."""
        return next(board.told for board in self._known if board.number == number)

    def left_since(self, at_ns: int) -> set[int]:
        """Return the numbers of the boards that are not here, and were at ``at_ns`` or later."""
        away = [one for one in self._known if not one.streams]
        return {one.number for one in away if one.left_ns is not None and one.left_ns >= at_ns}

    def _named(self, board_id: str) -> KnownBoard:
        """Return the board of an id, a new one for a new id."""
        for board in self._known:
            if board_id and board.id == board_id:
                return board
        if len(self._known) >= MOST_KNOWN:
            away = [board for board in self._known if not board.streams]
            oldest = next((board for board in away if not board.token), away[0] if away else self._known[0])
            self._known.remove(oldest)
        self._newest += 1
        new = KnownBoard(Board(number=self._newest, right="watch", id=board_id))
        self._known.append(new)
        return new
