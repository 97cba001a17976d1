"""Who a board is: numbers, rights and tokens, however many boards come."""

from tests.support.service.service_stand import TOKENS
from tocsin.service.boards import MOST_KNOWN, Boards
from tocsin.service.messages import Board


def test_a_stranger_never_becomes_another_board_however_many_have_tokens_of_their_own():
    """Then the last that was known would be taken for the new one, with its number and its right."""
    known = [Board(number=n, right="steer", token=f"{n:022}", id=f"{n:032x}") for n in range(1, MOST_KNOWN + 1)]
    boards = Boards(TOKENS, known)
    caller = boards.caller(TOKENS.watch, "f" * 32)
    assert caller.number == MOST_KNOWN + 1
    assert caller.right == "watch"
    assert len(boards.told) == MOST_KNOWN
    assert boards.board(MOST_KNOWN) == known[-1]


def test_who_is_here_stays_known_while_strangers_come():
    boards = Boards(TOKENS)
    first = boards.caller(TOKENS.watch, "0" * 32).board
    first.streams = 1
    for n in range(1, 2 * MOST_KNOWN):
        boards.caller(TOKENS.watch, f"{n:032x}")
    assert boards.caller(TOKENS.watch, "0" * 32).board is first
    assert len(boards.told) == MOST_KNOWN
