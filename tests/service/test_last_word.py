"""The last word to boards: the program has ended, or sets something up; and what a watcher is never told."""

import json

import msgspec
import pytest

from tests.support.channels.screen_scenes import DEVICES
from tests.support.service.event_stream import events_of
from tests.support.service.peers import Reader
from tests.support.service.service_stand import TOKENS, ServiceStand, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.model.display.status import Status
from tocsin.service.messages import ENDED, Away, Offer, Show

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
