"""What boards are told of a stage: its piece, its status, its records; and what people are told of their service."""

import msgspec

from tests.support.runner.service_made import ServiceStand
from tests.support.runner.stage_stand import NOW_NS, Desk, notice, plain_stage
from tocsin.journal import records
from tocsin.model.display.boards import sign_of
from tocsin.runner.boards.link import BoardLink, link_maker
from tocsin.runner.boards.opening import Opening
from tocsin.runner.boards.tokens import TokenFile
from tocsin.runner.boards.wishes import Wishes
from tocsin.service.messages import (
    ENDED,
    Away,
    Board,
    Connected,
    Grant,
    Granted,
    Open,
    Opened,
    Play,
    Record,
    Show,
)

WALL = "2031-03-01T10:00:00.000Z"


class Linked:
    """A stage with a desk, and the service of its boards, which is no process."""

    def __init__(self, tmp_path, host="127.0.0.1", look=lambda: ""):
        self.programme, self.stage = plain_stage(tmp_path, board="here")
        self.desk = Desk(self.programme, self.stage)
        self.file = TokenFile(tmp_path / "state", WALL)
        self.service = ServiceStand(opening=None)
        wishes = Wishes(self.stage, self.programme, self.desk.actions, lambda: None)
        self.link = BoardLink(self.stage, self.service.service, Opening(host, self.file, look=look), wishes)
        self.link.start(NOW_NS)
        self.link.play()

    def turn(self):
        self.link.turn(self.desk.now_ns)
        self.link.show(self.desk.status)

    def told(self, kind):
        return [one for one in self.service.newest.said if isinstance(one, kind)]


def test_boards_are_told_the_plan_the_status_and_each_record_as_it_is_written(tmp_path):
    linked = Linked(tmp_path)
    linked.turn()
    (play,) = linked.told(Play)
    document = msgspec.json.decode(play.document)
    assert document["format"] == "tocsin-export/2"
    own = linked.stage.piece.timeline.firings
    assert [one["no"] for one in document["firings"]] == [firing.no for firing in own]
    assert play.timeline == linked.stage.match.timeline
    assert linked.told(Show)[-1].status.phase == "standby"
    assert linked.told(Record) == []
    linked.desk.press("s")
    linked.desk.after(1)
    linked.turn()
    assert linked.told(Show)[-1].status.phase in ("waiting", "running")
    told = [records.decode(bytes(one.record)) for one in linked.told(Record)]
    assert told[0].options["board_run"] == play.run == linked.told(Show)[-1].run
    assert told[1:] == linked.stage.match.record.kept
    linked.stage.match.record.close()


def test_boards_are_told_no_name_of_a_person(tmp_path):
    linked = Linked(tmp_path)
    linked.link.show(msgspec.structs.replace(linked.desk.status, named="Crew A: driver Zebulonia"))
    assert len(linked.told(Show)) == 1
    assert b"Zebulonia" not in msgspec.json.encode(linked.service.newest.said)


def test_a_piece_that_is_sent_again_with_other_words_is_the_same_run(tmp_path):
    linked = Linked(tmp_path)
    linked.link.play()
    assert len(linked.told(Play)) == 1
    linked.stage.reload(linked.programme.piece(0), NOW_NS)
    linked.link.play()
    first, second = linked.told(Play)
    assert second.run == first.run + 1


def test_boards_that_came_are_kept_for_a_restart_of_the_program(tmp_path):
    linked = Linked(tmp_path)
    board = Board(number=2, right="mark", token="t" * 22, here=True)
    linked.service.newest.listens(40001)
    linked.service.newest.says(Connected(boards=(board,), programs=1))
    linked.turn()
    assert linked.stage.boards.known == (board,)
    assert linked.stage.boards.here("mark") == 1
    assert linked.stage.boards.first_code == f"http://127.0.0.1:40001/#t={linked.file.kept.tokens.watch}"
    assert linked.file.kept.boards == (msgspec.structs.replace(board, here=False),)
    assert linked.file.kept.port == 40001


def test_rights_that_are_taken_back_are_taken_from_a_successor_too(tmp_path):
    linked = Linked(tmp_path)
    linked.service.newest.says(Connected(boards=(Board(number=1, right="steer", token="t" * 22),)))
    linked.turn()
    linked.stage.boards.revoke()
    watches = Board(number=1, right="watch", token="t" * 22)
    assert linked.file.kept.boards == (watches,)
    linked.service.newest.dies()
    linked.turn()
    assert linked.service.newest.said[0].boards == (watches,)


def test_a_second_code_reaches_the_service_once_and_is_gone_as_soon_as_it_was_used(tmp_path):
    """And no board is told of any code: a watcher who read the second one would mark."""
    linked = Linked(tmp_path, host="192.0.2.5")
    linked.service.newest.says(Opened(address="http://192.0.2.5:8737/"))
    linked.turn()
    linked.desk.press(linked.stage.keymap.key_for("phones"))
    (grant,) = linked.told(Grant)
    assert grant.right == linked.desk.status.boards.gives == "mark"
    linked.turn()
    assert all(show.status.boards is None for show in linked.told(Show))
    linked.service.newest.says(Granted(board=Board(number=2, right="mark", token="t" * 22, here=True)))
    linked.turn()
    assert linked.desk.notice == "board 2 may mark now: contact, turned, home"
    assert linked.desk.status.boards.gives == ""
    assert linked.told(Grant)[-1].secret == ""


def test_a_service_that_cannot_listen_is_a_notice(tmp_path):
    linked = Linked(tmp_path)
    linked.service.newest.says(Opened(address="", why="address in use"))
    linked.turn()
    assert notice(linked.stage) == "boards cannot come at 127.0.0.1:8737: address in use"
    linked.desk.after(60)
    assert stands(linked) == ["boards cannot come at 127.0.0.1:8737: address in use"]
    linked.service.newest.listens()
    linked.turn()
    assert not any("cannot come" in line for line in stands(linked))


def stands(linked):
    """Return what stands of boards at the laptop in standby."""
    sign, _ = sign_of(linked.desk.status.boards, "standby", "u", linked.desk.now_ns)
    return [] if sign is None else list(sign.lines)


def test_another_port_than_the_one_that_boards_know_is_told(tmp_path):
    linked = Linked(tmp_path)
    linked.service.newest.listens(34065)
    linked.turn()
    assert "port 8737 is taken: boards are at http://127.0.0.1:34065" in stands(linked)


def test_a_network_that_is_joined_later_is_taken_between_matches(tmp_path):
    linked = Linked(tmp_path, host="", look=lambda: networks[-1])
    networks = [""]
    linked.desk.after(60)
    linked.turn()
    assert stands(linked) == ["this laptop is in no network: join one, or switch its hotspot on"]
    assert linked.service.made == []
    networks.append("192.0.2.5")
    linked.desk.press("s")
    linked.desk.after(10)
    linked.turn()
    assert linked.service.made == [], "in a match no network is looked for"
    linked.desk.press("x", "x")
    linked.desk.after(10)
    linked.turn()
    [opened] = linked.told(Open)
    assert (opened.host, opened.hosts) == ("192.0.2.5", ("192.0.2.5",))
    assert linked.told(Play)
    assert linked.told(Show)
    linked.stage.match.record.close()


def test_a_laptop_without_a_network_starts_no_service_and_says_so(tmp_path):
    linked = Linked(tmp_path, host="")
    assert linked.service.made == []
    assert not linked.stage.boards.on
    assert "no network" in notice(linked.stage)
    linked.turn()


def test_a_service_that_is_given_up_is_a_notice_and_a_fault_of_no_channel(tmp_path):
    linked = Linked(tmp_path)
    for _ in range(3):
        linked.service.newest.dies()
        linked.turn()
    faults = [one for one in linked.stage.match.record.kept if isinstance(one, records.Fault)]
    assert [(fault.channel, fault.what) for fault in faults] == [("", "service")] * 3
    assert "boards are off" in notice(linked.stage)
    assert not linked.stage.boards.on
    linked.turn()                          # nobody is told any more, and nothing fails
    linked.desk.press("s")
    linked.desk.after(1)
    assert linked.desk.phase in ("waiting", "running")
    linked.stage.match.record.close()


def test_where_boards_may_steer_nothing_starts_by_itself(tmp_path):
    linked = Linked(tmp_path)
    linked.stage.front.interactive = False
    assert linked.stage.by_key
    linked.programme.leave_if_deserted(linked.stage)
    assert linked.stage.ending is None
    linked.stage.boards.on = False         # for the evening: nobody can press a key any more
    assert linked.stage.by_key
    linked.programme.leave_if_deserted(linked.stage)
    assert linked.stage.ending is not None


BETWEEN = "The next drill is being set up"


class Standing(Linked):
    """One of several programmes whose boards share a service that stands."""

    def __init__(self, tmp_path, service):
        self.programme, self.stage = plain_stage(tmp_path, board="here")
        self.desk = Desk(self.programme, self.stage)
        self.file = TokenFile(None, WALL)
        self.service = service
        made = link_maker(Opening("127.0.0.1", self.file), service.service, BETWEEN)
        self.link = made(self.stage, self.programme, self.desk.actions, lambda: None)
        self.link.start(NOW_NS)
        self.link.play()
        self.turn()


def test_a_service_that_stands_is_handed_from_programme_to_programme(tmp_path):
    """In an evening: the same process, so the same address, tokens and numbers; and a word between two drills."""
    service = ServiceStand(opening=None)
    first = Standing(tmp_path / "first", service)
    service.newest.listens()
    phone = Board(number=1, right="steer", token="its own", here=True, id="1" * 32)
    service.newest.says(Connected((phone,), programs=2))
    first.turn()
    assert first.stage.boards.address
    first.link.leave()
    first.link.ended()
    assert len(service.made) == 1
    assert first.told(Away) == [Away(BETWEEN)]
    assert not service.newest.gone()
    second = Standing(tmp_path / "second", service)
    assert len(service.made) == 1
    boards = second.stage.boards
    assert (boards.address, boards.known, boards.programs) == (first.stage.boards.address, (phone,), 2)
    assert boards.on
    runs = [one.run for one in second.told(Play)]
    assert len(runs) == 2
    assert second.told(Show)[-1].run == runs[-1]
    for linked in (first, second):
        linked.stage.match.record.close()


def test_a_service_that_died_between_two_programmes_is_started_anew_with_its_boards(tmp_path):
    service = ServiceStand(opening=None)
    first = Standing(tmp_path / "first", service)
    service.newest.listens()
    phone = Board(number=1, right="steer", token="its own", here=True, id="1" * 32)
    service.newest.says(Connected((phone,)))
    first.turn()
    first.link.leave()
    service.newest.dies()
    second = Standing(tmp_path / "second", service)
    assert len(service.made) == 2
    [opened] = second.told(Open)
    assert [board.token for board in opened.boards] == ["its own"]
    for linked in (first, second):
        linked.stage.match.record.close()


def test_a_service_of_one_programme_ends_with_it_and_says_so(tmp_path):
    linked = Linked(tmp_path)
    linked.turn()
    linked.link.leave()
    assert linked.told(Away) == [Away(ENDED, ends=True)]
    assert not linked.service.service.on
    linked.stage.match.record.close()
