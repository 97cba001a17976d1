"""The last word to boards: the program has ended, or sets something up; and what a watcher is never told."""

import json
import time

import msgspec
import pytest

from tests.support.channels.screen_scenes import DEVICES
from tests.support.service.event_stream import events_of
from tests.support.service.peers import Reader, connected, request, said
from tests.support.service.service_stand import TOKENS, ServiceStand, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.model.display.status import Status
from tocsin.service.messages import ENDED, Away, Connected, Offer, Show

pytestmark = pytest.mark.devices
CAN = (Offer(action="mark.contact", does="contact"), Offer(action="hold", does="hold"))


def states(stream):
    return [json.loads(one.data) for one in events_of(stream) if one.kind == "state"]


def listening(stand, right="steer"):
    reader = Reader(stand, Authorization=f"Bearer {getattr(TOKENS, right)}")
    reader.wait_until(states)
    return reader


@pytest.mark.parametrize(
    ("told", "read"),
    [
        (None, ENDED),                                             # it died, and says nothing more
        (Away("The drill is over. " + ENDED, ends=True), "The drill is over. " + ENDED),
        (Away("The next drill is being set up"), ENDED),           # it died meanwhile
    ],
)  # fmt: skip
def test_the_last_state_says_that_the_program_has_ended(tmp_path, told, read):
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path):
        reader = listening(stand)
    if told is not None:
        stand.down(told)
        reader.wait_until(lambda stream: states(stream)[-1]["away"] == told.text)
    assert stand.end() == 0
    reader.wait_until(lambda stream: states(stream)[-1]["away"] == read)
    assert states(reader.stream)[-1]["can"] == []
    reader.close()


def last_word(reader):
    return states(reader.stream)[-1]["away"]


def by_board(stand, number):
    reader = Reader(stand, Authorization=f"Bearer {TOKENS.watch}", **{"Tocsin-Board": str(number) * 32})
    reader.wait_until(states)
    return reader


def test_streams_end_in_good_order_so_that_a_browser_hands_the_last_word_to_its_page(tmp_path):
    """What a page has not read yet is lost if its stream errs (WHATWG Streams, ReadableStreamDefaultControllerError:
    ResetQueue), and a body without its last chunk is incomplete (RFC 9112, 8)."""
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path):
        readers = [by_board(stand, number) for number in (1, 2, 3)]
    stand.down(Away(ENDED, ends=True))
    assert stand.end() == 0
    for reader in readers:
        assert reader.ended.wait(10)
        assert last_word(reader) == ENDED
        assert reader.data.endswith(b"0\r\n\r\n")
        reader.close()


def test_a_board_that_is_just_coming_back_gets_the_last_word_too(tmp_path):
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path):
        stays, leaves = by_board(stand, 1), by_board(stand, 2)
    leaves.close()
    stand.wait_for(Connected, lambda told: [board.here for board in told.boards] == [True, False])
    stand.down(Away(ENDED, ends=True))
    stand.process.stdin.close()
    assert stays.ended.wait(10)
    time.sleep(0.3)                                    # the page's pause before it comes again
    back = by_board(stand, 2)
    assert back.ended.wait(10)
    assert (last_word(stays), last_word(back)) == (ENDED, ENDED)
    assert stand.process.wait(10) == 0
    stays.close()
    back.close()
    stand.end()


def test_nobody_waits_for_a_board_that_is_not_coming_back(tmp_path):
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path):
        by_board(stand, 1).close()
    stand.wait_for(Connected, lambda told: [board.here for board in told.boards] == [False])
    stand.down(Away(ENDED, ends=True))
    assert stand.end() == 0                            # after its last two seconds, by itself


def test_a_slow_board_gets_the_last_word(tmp_path):
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path) as run:
        line = connected(stand, receive_buffer=2048)
        line.sendall(request("GET", "/api/1/events", f"Authorization: Bearer {TOKENS.steer}"))
        stand.wait_for(Connected, lambda told: told.programs == 1)
    for left in range(40):
        stand.down(Show(run=run.run, status=Status(phase="standby", notice=f"{left}" * 2000)))
    stand.down(Away(ENDED, ends=True))
    stand.process.stdin.close()
    time.sleep(0.5)                                    # it reads nothing for so long
    came = said(line)
    assert ENDED.encode() in came
    assert came.endswith(b"0\r\n\r\n")
    line.close()
    assert stand.process.wait(10) == 0
    stand.end()


@pytest.mark.parametrize(("phase", "can"), [("running", ["mark.contact"]), ("standby", []), ("over", [])])
def test_marks_of_a_match_that_was_cut_short_may_still_be_noted_and_nothing_else(tmp_path, phase, can):
    with service() as stand:
        with SimulatedRun(stand, tmp_path) as run:
            reader = listening(stand)
        stand.down(Show(run=run.run, status=Status(phase=phase), can=CAN))
        stand.down(Away(ENDED))
        reader.wait_until(lambda stream: states(stream)[-1]["away"] == ENDED)
        assert [one["action"] for one in states(reader.stream)[-1]["can"]] == can
        reader.close()


def test_what_is_shown_next_takes_the_word_away(tmp_path):
    with service() as stand:
        with SimulatedRun(stand, tmp_path) as run:
            reader = listening(stand)
        stand.down(Away("The next drill is being set up"))
        reader.wait_until(lambda stream: states(stream)[-1]["away"])
        stand.down(Show(run=run.run, status=Status(phase="standby"), can=CAN))
        reader.wait_until(lambda stream: not states(stream)[-1]["away"])
        assert [one["action"] for one in states(reader.stream)[-1]["can"]] == ["mark.contact", "hold"]
        reader.close()


OF_THE_LAPTOP = {
    "devices": DEVICES, "battery": "battery 41 %", "awake": "may fall asleep", "notice": "strip: its cable is out",
    "earlier": ("pad: out",), "video": "By video: tocsin runs --video /home/somebody/x.mp4", "label": "with Ottokar",
}  # fmt: skip


@pytest.mark.parametrize(("right", "reads"), [("watch", False), ("steer", True)])
def test_who_only_watches_reads_nothing_of_the_laptop_and_its_devices(tmp_path, right, reads):
    with service() as stand:
        with SimulatedRun(stand, tmp_path) as run:
            reader = listening(stand, right)
        lost = (msgspec.structs.replace(DEVICES[0], state="lost", text="Bench pad 1 is out"), *DEVICES[1:])
        stand.down(Show(run=run.run, status=Status(phase="standby", **OF_THE_LAPTOP | {"devices": lost})))
        stand.down(Away("seen"))
        reader.wait_until(lambda stream: states(stream)[-1]["away"] == "seen")
        came = json.dumps(states(reader.stream)[-1], ensure_ascii=False)
        words = [fact.text for fact in lost if fact.text]
        words += ["battery 41", "fall asleep", "cable is out", "pad: out", "/home/somebody", "Ottokar"]
        assert {word for word in words if word in came} == (set(words) if reads else set())
        assert bool(states(reader.stream)[-1]["view"]["alarms"]) is reads
        reader.close()
