"""The service's end, silence and return, with a service that is no process and a clock that the test moves."""

import os
import threading

import msgspec
import pytest

from tests.support.runner.service_made import OPEN, MadeService, ServiceStand
from tests.support.runner.workers_made import timeline_of
from tocsin.model.display.status import Status
from tocsin.pipe import MOST_UNSENT, LineReader, LineWriter
from tocsin.service.messages import (
    Alive,
    Board,
    Connected,
    Grant,
    Granted,
    Opened,
    Play,
    Record,
    Show,
    Wish,
    decode_down,
)
from tocsin.units import NS_PER_S

DOCUMENT = msgspec.Raw(b'{"format":"tocsin-export/2"}')
BOARD = Board(number=2, right="steer", token="t" * 22)


def play(run=1):
    return Play(run=run, timeline=timeline_of(()), document=DOCUMENT)


def record(text, run=1):
    return Record(run=run, record=msgspec.Raw(b'{"kind":"note","at_ns":1,"what":"%s"}' % text.encode()))


def show(phase, run=1):
    return Show(run=run, status=Status(phase=phase))


def wish(id):
    return Wish(id=id, run=1, action="start", at_ns=1, error_ns=1, source="board 1")


def test_a_service_that_ends_is_started_again_with_the_last_of_each_kind_of_message():
    stand = ServiceStand()
    stand.newest.listens(40000)
    sent = play(), record("a"), record("b"), show("standby"), show("running")
    for message in sent:
        stand.service.send(message)
    stand.service.send(Grant(secret="x", right="mark", until_ns=stand.now_ns + 9 * NS_PER_S))
    stand.service.know((BOARD,))
    stand.turns(1, alive=True)
    stand.newest.dies()
    stand.turns()
    assert stand.kinds() == ["again"]
    opening, *told = stand.newest.said
    assert opening == msgspec.structs.replace(OPEN, port=40000, boards=(BOARD,))     # phones know that port
    assert [type(one).__name__ for one in told] == ["Play", "Record", "Record", "Show", "Grant"]
    assert told[3] == sent[4]


def test_a_successor_is_told_the_whole_of_a_long_run(monkeypatch):
    """A writer leaves out what its reader is behind with: of two thousand lines and more the last ones, the status."""
    into, out = os.pipe()
    stand = ServiceStand()
    sent = [play(), *(record(str(n)) for n in range(MOST_UNSENT + 500)), show("running")]
    for message in sent:
        stand.service.send(message)
    writer = []

    def starts(made, line, *, droppable=False):
        if not writer:
            writer.append(LineWriter(out, "service", lambda: os.close(out)))
        writer[0].send(line, droppable=droppable)

    monkeypatch.setattr(MadeService, "send_line", starts)
    stand.newest.dies()
    stand.turns()
    told, ended = [], threading.Event()
    LineReader(into, lambda line: told.append(decode_down(line)), ended.set, "told")
    writer[0].finish(timeout_s=60)
    assert ended.wait(60)
    os.close(into)
    assert told[1:] == sent


def test_of_another_run_a_successor_is_told_nothing():
    stand = ServiceStand()
    for message in (play(), record("a"), show("over"), play(2)):
        stand.service.send(message)
    stand.newest.dies()
    stand.turns()
    assert [type(one).__name__ for one in stand.newest.said] == ["Open", "Play"]
    assert stand.newest.said[1].run == 2


def test_a_code_that_was_used_or_has_run_out_is_not_shown_again():
    stand = ServiceStand()
    stand.service.send(Grant(secret="x", right="mark", until_ns=stand.now_ns + 9 * NS_PER_S))
    stand.newest.says(Granted(board=BOARD))
    stand.turns(1, alive=True)
    stand.newest.dies()
    stand.turns()
    assert [type(one).__name__ for one in stand.newest.said] == ["Open"]
    stand.service.send(Grant(secret="y", right="mark", until_ns=stand.now_ns + NS_PER_S))
    stand.newest.listens()
    stand.turns(20, alive=True)
    stand.newest.dies()
    stand.turns()
    assert [type(one).__name__ for one in stand.newest.said] == ["Open"]


def test_a_silent_service_is_killed_after_three_seconds_and_started_anew():
    stand = ServiceStand()
    stand.newest.listens()
    stand.turns()
    stand.turns(2.9)
    assert not stand.made[0].killed
    stand.turns(0.3)
    assert stand.made[0].killed
    assert stand.kinds() == ["again"]
    assert "silent for 3" in stand.notes[0].why
    assert len(stand.made) == 2


def test_a_conductor_that_was_held_up_takes_nobody_for_silent():
    stand = ServiceStand()
    stand.newest.listens()
    stand.turns()
    stand.turns(30, took_ns=10 * NS_PER_S)         # three turns: this process was stopped, or the laptop slept
    assert not stand.made[0].killed


def test_a_service_may_take_its_time_to_listen():
    stand = ServiceStand()
    stand.turns(14)
    assert not stand.made[0].killed
    stand.turns(2)
    assert stand.made[0].killed


def test_the_third_end_within_ten_seconds_is_the_last():
    stand = ServiceStand()
    for _ in range(3):
        stand.newest.listens()
        stand.turns(1, alive=True)
        stand.newest.dies()
        stand.turns()
    assert stand.kinds() == ["again", "again", "off"]
    assert not stand.service.on
    stand.turns(60)
    assert len(stand.made) == 3


def test_ends_that_lie_apart_never_switch_it_off():
    stand = ServiceStand()
    for _ in range(6):
        stand.newest.listens()
        stand.turns(5.1, alive=True)
        stand.newest.dies()
        stand.turns()
    assert stand.kinds() == ["again"] * 6


def test_three_lives_in_which_it_never_listened_are_enough():
    stand = ServiceStand()
    stand.turns(50)
    assert stand.kinds() == ["again", "again", "off"]


def test_what_it_said_last_on_stderr_says_why_it_ended():
    stand = ServiceStand()
    stand.newest.says("Traceback (most recent call last):")
    stand.newest.says("ImportError: no such thing")
    stand.turns()
    stand.newest.dies()
    stand.turns()
    assert stand.notes[0].why == "ended with 1: ImportError: no such thing"


def test_one_that_cannot_listen_tries_again_by_itself_and_nothing_is_off():
    stand = ServiceStand()
    stand.newest.says(Opened(address="", why="no such address"))
    stand.turns(60, alive=True)
    assert stand.service.address == ""
    stand.newest.listens()
    stand.turns(1, alive=True)
    assert stand.service.address == "http://127.0.0.1:8737/"
    assert len(stand.made) == 1


def test_a_system_that_starts_no_process_is_told_and_asked_again_later():
    stand = ServiceStand(opening=None)
    stand.refuses = 1
    stand.notes += stand.service.start(OPEN, stand.now_ns)
    assert stand.kinds() == ["silent"]
    stand.turns(29)
    assert stand.made == []
    stand.turns(2)
    assert len(stand.made) == 1


def test_a_predecessors_words_count_no_more():
    stand = ServiceStand()
    old = stand.newest
    old.dies()
    stand.turns()
    old.says(wish("late"))
    old.says(Connected(boards=(BOARD,)))
    stand.turns()
    assert stand.heard == []


def test_a_flood_takes_no_more_than_its_share_of_a_turn_and_of_memory():
    stand = ServiceStand()
    for number in range(5000):
        stand.newest.says(wish(str(number)))
    stand.turns()
    assert len(stand.heard) == 50
    stand.turns(10)
    assert [one.id for one in stand.heard[:3]] == ["0", "1", "2"]
    assert len(stand.heard) <= 1001


@pytest.mark.parametrize(("message", "rings"), [(wish("1"), 1), (Alive(now_ns=1), 0), ("a line", 0)])
def test_the_conductor_is_woken_by_what_it_is_to_answer(message, rings):
    stand = ServiceStand()
    stand.newest.says(message)
    assert stand.rings == rings
