"""Know the boards that may still send marks of a run that has ended: their line was cut before its end. Pure."""

from tocsin.runner.phones.boards import Boards
from tocsin.translation import trn
from tocsin.units import NS_PER_S

NOTICED_NS = 15 * NS_PER_S             # the service notices within that a phone that fell asleep
SENDS_NS = 3 * NS_PER_S                # so long after it came back what waited on a board has come


class Unheard:
    """The boards that were here with the right to mark, and are away since before the end of the newest run."""

    def __init__(self) -> None:
        self._came: set[int] = set()
        self._away: set[int] = set()
        self._back_ns: dict[int, int] = {}
        self._ended_ns: int | None = None

    def ended(self, boards: Boards, now_ns: int) -> None:
        """Take it that a run has just ended."""
        self._ended_ns = now_ns
        self._away = set()
        self.turn(boards, now_ns)

    def turn(self, boards: Boards, now_ns: int) -> None:
        """See who is here."""
        # On this laptop nobody puts a board into a pocket: what is not here was closed.
        known = boards.known if boards.lets_phones_in else ()
        mark = {board.number for board in known if board.right != "watch"}
        here = {board.number for board in known if board.here} & mark
        self._came |= here
        if self._ended_ns is not None and now_ns < self._ended_ns + NOTICED_NS:
            self._away |= self._came - here
        self._back_ns = {number: self._back_ns.get(number, now_ns) for number in here}
        sent = {number for number, back_ns in self._back_ns.items() if now_ns - back_ns >= SENDS_NS}
        self._away = (self._away & mark) - sent

    @property
    def told(self) -> str:
        """That a result may change, for people; an empty text if none does."""
        return trn(
            "board {numbers}, which marks, is not heard: this may change",
            "boards {numbers}, which mark, are not heard: this may change", len(self._away), numbers=self._numbers,
        ) if self._away else ""

    def beside(self, question: str) -> str:
        """Return what a key does that makes a result stand, with who is not heard yet."""
        return trn(
            "{question} (board {numbers} is not heard)", "{question} (boards {numbers} are not heard)",
            len(self._away), question=question, numbers=self._numbers,
        ) if self._away else question

    @property
    def _numbers(self) -> str:
        return ", ".join(map(str, sorted(self._away)))
