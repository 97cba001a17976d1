"""Rights that a key gives to a phone and takes back, on a clock of the test's own."""

import itertools

import pytest

from tests.support.runner.stage_stand import Desk, notice, plain_stage
from tocsin.model.display.boards import GivenBoard, sign_of
from tocsin.runner.outcome import Done, Refused
from tocsin.runner.phones.boards import Boards
from tocsin.runner.phones.code import modules
from tocsin.runner.phones.rights import GIVES_NS, MISSING_NS, REPEATS_NS, Rights, new_secret
from tocsin.service.messages import Board, Grant, Revoke, Tokens
from tocsin.units import NS_PER_S as S

ADDRESS = "http://192.0.2.5:8737"
NOW_NS = 5000 * S


class Served:
    """Boards that are served at an address, with the second code's secrets told beforehand."""

    def __init__(self, address=f"{ADDRESS}/", boards=None):
        names = (f"secret{n}" for n in itertools.count(1))
        self.sent = []
        self.boards = boards or Boards()
        self.boards.wanted = self.boards.on = True
        self.boards.address, self.boards.since_ns = address, NOW_NS
        self.boards.tokens = Tokens(watch="token", mark="", steer="")
        self.boards.send = self.sent.append
        self.rights = Rights(self.boards, lambda: next(names))

    def press(self, after_ns=0, phase="standby"):
        return self.rights.give(phase, NOW_NS + after_ns, NOW_NS + after_ns)

    def fact(self, after_ns=0, phase="standby"):
        return self.rights.fact(phase, NOW_NS + after_ns)

    def known(self, *boards):
        self.boards.known = boards
        self.rights.turn("standby", NOW_NS)


@pytest.fixture
def served():
    return Served()


@pytest.fixture
def desk(tmp_path):
    desk = Desk(*plain_stage(tmp_path))
    desk.served = Served(boards=desk.stage.boards)
    desk.stage.rights = desk.served.rights
    return desk


CLOSES = Grant(secret="", right="watch", until_ns=0)


def test_the_standing_code_watches(served):
    fact = served.fact()
    assert (fact.address, fact.gives, fact.until_ns) == (ADDRESS, "", None)
    assert fact.code == modules(f"{ADDRESS}/#t=token")


def test_a_key_gives_the_right_to_mark_again_to_steer_and_a_third_time_none(served):
    assert served.press() == Done()
    first = Grant(secret="secret1", right="mark", until_ns=NOW_NS + GIVES_NS)
    fact = served.fact()
    assert (fact.gives, fact.until_ns, fact.code) == ("mark", first.until_ns, modules(f"{ADDRESS}/#g=secret1"))
    served.press(S)
    second = Grant(secret="secret2", right="steer", until_ns=NOW_NS + S + GIVES_NS)
    assert served.fact(S).code == modules(f"{ADDRESS}/#g=secret2")
    assert "no phone was given a right" in served.press(2 * S).told
    assert served.fact(2 * S).gives == ""
    assert served.sent == [first, second, CLOSES]


def test_a_key_that_is_held_down_does_not_give_more(served):
    """A terminal repeats it after a quarter to half a second, then 30 times a second."""
    served.press()
    for n in range(60):
        assert served.press(S // 2 + n * S // 30) == Done()
    assert served.fact().gives == "mark"
    served.press(S // 2 + 59 * S // 30 + REPEATS_NS)
    assert served.fact().gives == "steer"


def test_the_second_code_ends_by_itself_and_the_key_begins_anew(served):
    served.press()
    served.rights.turn("standby", NOW_NS + GIVES_NS - 1)
    assert served.fact().gives == "mark"
    served.rights.turn("standby", NOW_NS + GIVES_NS)
    assert served.fact().gives == ""
    served.press(GIVES_NS + 1)
    assert served.fact().gives == "mark"


def test_a_start_takes_the_second_code_away(served):
    served.press()
    served.rights.turn("waiting", NOW_NS + 1)
    assert served.sent[-1] == CLOSES
    assert served.fact(1, "waiting") is None


def test_a_code_that_was_used_is_gone_for_a_new_service_too_and_it_is_told_who_may_what(served):
    served.press()
    assert served.rights.used(Board(number=2, right="mark", token="x")) == "board 2 may mark now: contact, turned, home"
    assert served.fact().gives == ""
    assert served.sent[1:] == [CLOSES]


@pytest.mark.parametrize("phase", ["waiting", "running", "held"])
def test_in_a_match_no_code_covers_the_plate_but_rights_are_taken_back(served, phase):
    assert isinstance(served.press(phase=phase), Refused)
    assert served.sent == []
    assert served.rights.take_back() == Done("phones only watch now")
    assert served.sent == [Revoke()]


def test_taking_back_closes_an_open_code_first(served):
    served.press()
    served.rights.take_back()
    assert served.sent[1:] == [CLOSES, Revoke()]


def test_what_a_program_was_given_by_its_address_stays_and_is_told(served):
    served.known(Board(number=1, right="steer", here=True))
    assert "`tocsin board --address` keeps it" in served.rights.take_back().told


@pytest.mark.parametrize(
    ("count", "says"),
    [(0, ()), (1, ("1 program or second laptop listens",)), (2, ("2 programs or laptops listen",))],
)
def test_a_laptop_that_follows_is_seen_in_standby(served, count, says):
    served.boards.programs = count
    sign, _ = sign_of(served.fact(), "standby", "u", NOW_NS)
    assert sign.who == says


def test_boards_are_listed_with_their_rights(served):
    assert served.rights.actions("standby") == ("phones",)
    rights = enumerate(("watch", "mark", "steer"), 1)
    here = [Board(number=n, right=right, token="x", here=n != 3) for n, right in rights]
    served.known(*here, Board(number=4, right="watch"))
    assert served.fact().given == (GivenBoard(number=2, right="mark"), GivenBoard(number=3, right="steer", here=False))
    assert served.fact().watching == 1
    assert served.rights.actions("standby") == ("phones", "phones_off")
    assert served.rights.actions("running") == ("phones_off",)


def test_on_this_laptop_a_board_that_was_closed_is_listed_no_more(served):
    """Nobody carries it away in a pocket, as a phone."""
    served.boards.address = "http://127.0.0.1:8737/"
    served.known(Board(number=1, right="steer", token="x", here=True))
    assert served.fact().given == (GivenBoard(number=1, right="steer"),)
    served.known(Board(number=1, right="steer", token="x"))
    assert served.fact().given == ()


def test_who_is_given_a_right_reads_what_may_be_done_with_it(served):
    served.press()
    told = served.rights.used(Board(number=1, right="steer"))
    assert told == "board 1 may mark now, and lead rounds: start, hold, cancel"


def test_after_half_a_minute_without_a_phone_it_is_told_why_until_one_comes(served):
    served.known(Board(number=1, right="watch"))       # of yesterday: it has not come today
    assert not served.fact(MISSING_NS - 1).missing
    assert served.fact(MISSING_NS).missing
    served.known(Board(number=1, right="watch", here=True))
    served.known(Board(number=1, right="watch"))
    assert not served.fact(2 * MISSING_NS).missing


@pytest.mark.parametrize("address", ["http://127.0.0.1:8737/", "http://[::1]:8737/", "http://localhost:1/"])
def test_a_service_on_this_laptop_only_shows_no_code_and_gives_no_rights_to_phones(address):
    served = Served(address)
    fact = served.fact(MISSING_NS)
    assert (fact.code, fact.missing, served.rights.actions("standby")) == ((), False, ())
    assert "--board lan" in served.press().why


def test_while_the_service_is_not_there_nothing_stands_there_and_the_key_says_so():
    served = Served("")
    assert served.fact(MISSING_NS) is None
    assert "not served now" in served.press().why


def test_without_a_service_the_keys_do_nothing_and_are_not_shown(tmp_path):
    desk = Desk(*plain_stage(tmp_path))
    assert desk.press("u", "l") == ""
    assert not {"phones", "phones_off"} & {entry.action for entry in desk.status.keys}
    assert desk.status.boards is None


def test_the_keys_work_on_the_stage_and_tell_what_came_of_them(desk):
    gives, takes = "u", "l"            # in this rig h is for the call home
    assert {("phones", gives)} < {(entry.action, entry.key) for entry in desk.status.keys}
    desk.press(gives)
    assert desk.status.boards.gives == "mark"
    desk.press("s")
    desk.stage.rights.turn(desk.phase, desk.now_ns)
    desk.now_ns += S
    assert desk.press(gives) == "a phone is given rights in standby and between rounds"
    assert desk.press(takes) == "phones only watch now"
    assert notice(desk.stage, desk.now_ns) == "phones only watch now"
    assert [type(message) for message in desk.served.sent] == [Grant, Grant, Revoke]


def test_no_code_is_in_what_boards_are_sent(desk):
    """A watcher who read the second code in it would steer."""
    desk.press("u")
    assert desk.status.boards.code
    assert desk.status.for_boards.boards is None


def test_secrets_are_of_128_bits_and_never_the_same():
    found = {new_secret() for _ in range(1000)}
    assert len(found) == 1000
    assert {len(secret) for secret in found} == {22}
