"""Hold what the laptop knows of its boards: where they come from, which are there, and what each may do."""

from collections.abc import Callable

import msgspec

from tocsin.service.messages import Board, Down, Revoke, Right, Tokens

NO_TOKENS = Tokens(watch="", mark="", steer="")
_ON_LAPTOP = ("//127.", "//[::1]", "//localhost")


def _nobody(told: Down) -> None:
    """Take what nobody is told of: there are no boards."""


class Boards(msgspec.Struct):
    """The boards of a program. ``wanted`` where the command line asked for them, ``on`` while the service lives;
    ``address`` is where it listens (``http://10.0.0.5:8737/``), empty while it does not, since ``since_ns``.
    ``trouble`` is why it does not, or not where it should, as a sentence. ``known`` are all
    boards that came, ``programs`` how many other streams are open. ``send`` reaches the service."""

    wanted: bool = False
    on: bool = False
    address: str = ""
    since_ns: int = 0
    trouble: str = ""
    tokens: Tokens = NO_TOKENS
    known: tuple[Board, ...] = ()
    programs: int = 0
    send: Callable[[Down], None] = _nobody

    @property
    def lets_phones_in(self) -> bool:
        """Whether it listens where a phone can reach it: not on this laptop only."""
        return bool(self.address) and not any(host in self.address for host in _ON_LAPTOP)

    @property
    def first_code(self) -> str:
        """The address in the code that is on the screen, with which a phone may watch; empty while there is none."""
        return f"{self.address}#t={self.tokens.watch}" if self.address else ""

    def here(self, right: Right) -> int:
        """Return how many boards are here with a right."""
        return sum(board.here and board.right == right for board in self.known)

    def revoke(self) -> None:
        """Take back all rights that boards were given at the laptop: they watch, and stay known."""
        self.known = tuple(
            msgspec.structs.replace(board, right="watch") if board.token else board for board in self.known
        )
        self.send(Revoke())
