"""Who may come in, without a process: rooms of peers, names of this laptop, secrets, boards."""

import pytest

from tests.support.service.service_stand import ONE, TOKENS, TWO
from tocsin.service.boards import MOST_KNOWN, Boards
from tocsin.service.guard import MOST_PEERS, Buckets, host_name, is_own_page, which
from tocsin.service.messages import Board, Grant
from tocsin.units import NS_PER_S as S


def test_a_peer_has_room_for_so_many_and_is_told_how_long_it_waits():
    buckets = Buckets(10, 6 * S)
    assert [buckets.take("a", 0) for _ in range(11)] == [0] * 10 + [6]
    assert buckets.take("b", 0) == 0, "each peer has its own"
    assert buckets.take("a", 5 * S) == 1
    assert buckets.take("a", 6 * S) == 0
    assert buckets.take("a", 6 * S) == 6
    assert [buckets.take("a", 600 * S) for _ in range(11)] == [0] * 10 + [6], "never more than its size"


def test_whoever_invents_peers_fills_no_memory():
    buckets = Buckets(1, S)
    for peer in range(3 * MOST_PEERS):
        buckets.take(peer, 0)
    assert len(buckets._full_ns) == MOST_PEERS


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("10.0.0.5", "10.0.0.5"), ("10.0.0.5:8737", "10.0.0.5"), ("LocalHost:1", "localhost"), ("[::1]:8737", "::1"),
        ("[::1]", "::1"), ("evil.example:80", "evil.example"), ("10.0.0.5:80@evil", ""), ("[::1", ""), ("[::1]x", ""),
        ("a:b:c", ""), ("", ""),
    ],
)  # fmt: skip
def test_the_name_in_a_host_header(header, name):
    assert host_name(header) == name


@pytest.mark.parametrize(
    ("origin", "own"),
    [
        ("http://10.0.0.5:8737", True), ("null", False), ("http://10.0.0.5", False), ("https://10.0.0.5:8737", False),
        ("http://evil.example", False), ("http://10.0.0.5:8737.evil.example", False), ("", False), ("file://", False),
    ],
)  # fmt: skip
def test_only_the_page_of_the_same_address_is_ours(origin, own):
    assert is_own_page(origin, "10.0.0.5:8737") is own


def test_an_empty_secret_opens_nothing():
    assert which("", ["", "a"]) is None
    assert which("a", ["", "a", "b"]) == 1
    assert which("\N{SNOWMAN}\udc80", ["a"]) is None


def test_a_standing_token_gives_its_right_and_a_board_keeps_its_number():
    boards = Boards(TOKENS)
    assert boards.caller("x" * 22, ONE) is None
    assert boards.told == (), "whoever has no token leaves no trace"
    assert boards.caller(TOKENS.watch, ONE).number == 1
    assert boards.caller(TOKENS.mark, TWO).number == 2
    assert boards.caller(TOKENS.watch, ONE).number == 1
    assert boards.caller(TOKENS.steer, "").source == "program"
    assert [board.right for board in boards.told] == ["watch", "mark"]


def test_the_second_code_gives_its_right_once_and_until_its_time():
    boards = Boards(TOKENS)
    grant = Grant(secret="g" * 22, right="mark", until_ns=10 * S)
    boards.offer(grant)
    assert boards.claim("x" * 22, None, ONE, S) is None, "a wrong secret does not use it up"
    assert boards.claim(grant.secret, None, ONE, 10 * S) is None, "too late"
    rights = boards.claim(grant.secret, boards.caller(TOKENS.watch, ONE), ONE, 9 * S)
    assert (rights.board, rights.right) == (1, "mark")
    assert boards.claim(grant.secret, None, TWO, 9 * S) is None, "once"
    caller = boards.caller(rights.token, "")
    assert (caller.number, caller.right) == (1, "mark")
    boards.offer(Grant(secret="h" * 22, right="steer", until_ns=99 * S))
    boards.offer(Grant(secret="", right="steer", until_ns=0))
    assert boards.claim("h" * 22, caller, ONE, 9 * S) is None, "closed at the laptop"


def test_what_was_given_at_the_laptop_is_taken_back_at_once_and_the_token_still_watches():
    boards = Boards(TOKENS)
    boards.offer(Grant(secret="g" * 22, right="steer", until_ns=10 * S))
    rights = boards.claim("g" * 22, None, ONE, S)
    caller = boards.caller(rights.token, ONE)
    assert caller.may("steer")
    boards.offer(Grant(secret="h" * 22, right="steer", until_ns=10 * S))
    boards.revoke()
    assert caller.right == boards.caller(rights.token, ONE).right == "watch"
    assert boards.claim("h" * 22, None, TWO, S) is None, "a code that is up is taken down too"
    assert boards.caller(TOKENS.steer, "").may("steer"), "what programs were given stays"
    boards.offer(Grant(secret="i" * 22, right="mark", until_ns=10 * S))
    again = boards.claim("i" * 22, boards.caller(rights.token, ONE), ONE, S)
    assert (again.board, again.right) == (1, "mark")
    assert boards.caller(rights.token, ONE) is None, "a board has one token"


def test_a_successor_knows_the_boards_by_id_and_token():
    boards = Boards(TOKENS, [Board(number=4, right="steer", token="t" * 22, id=ONE)])
    assert boards.caller("t" * 22, "").right == "steer"
    assert boards.caller(TOKENS.watch, ONE).number == 4
    assert boards.caller(TOKENS.watch, TWO).number == 5


def test_whoever_invents_boards_fills_no_memory_and_pushes_out_no_board_with_a_right():
    boards = Boards(TOKENS, [Board(number=1, right="mark", token="t" * 22, id=ONE)])
    for number in range(3 * MOST_KNOWN):
        boards.caller(TOKENS.watch, f"{number:032x}")
    assert len(boards.told) == MOST_KNOWN
    assert boards.caller("t" * 22, "").right == "mark"
