"""Wishes and marks: who may, what is too late, what is asked again, what is answered when nobody answers."""

import threading
from collections import Counter

import pytest

from tests.support.service.service_stand import ONE, TWO, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin import monotime
from tocsin.service.messages import Answer, Marked, Show, Wish
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    """A service whose conductor takes all, and the run number 3."""
    with service() as stand, SimulatedRun(stand, tmp_path_factory.mktemp("runs"), run=3):
        stand.answers = lambda asked: Answer(id=asked.id, taken=True, text=f"done: {asked.source}")
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        yield stand


def wish(no, action="start", ago_ns=0, **changed):
    return {
        "id": f"{no:032x}", "run": 3, "action": action, "at_ns": monotime.now_ns() - ago_ns, "error_ns": NS_PER_MS,
    } | changed  # fmt: skip


def mark(no, ago_ns=NS_PER_S, **changed):
    begin_ns = monotime.now_ns() - ago_ns
    return {
        "id": f"{no:032x}", "run": 3, "label": "contact", "begin_ns": begin_ns, "end_ns": None, "error_ns": NS_PER_MS,
    } | changed  # fmt: skip


def asked(stand, no):
    return [one for one in stand.ups if isinstance(one, Wish | Marked) and one.id == f"{no:032x}"]


def test_a_wish_comes_to_the_conductor_as_it_was_pressed_and_its_answer_comes_back(stand):
    body = wish(1, "call.home", ago_ns=800 * NS_PER_MS, sure=True)
    answer = stand.post("/api/1/wishes", body, board=ONE)
    number = stand.get("/api/1/state", board=ONE).json()["you"]["number"]
    assert (answer.status_code, answer.json()) == (202, {"text": f"done: board {number}"})
    assert asked(stand, 1) == [
        Wish(
            id=body["id"], run=3, action="call.home", at_ns=body["at_ns"], error_ns=NS_PER_MS,
            source=f"board {number}", sure=True,
        )
    ]  # fmt: skip


def test_a_mark_of_an_earlier_run_comes_late_and_is_handed_up(stand):
    body = mark(2, ago_ns=90 * NS_PER_S, run=2, label="contact_by_partner")
    body["end_ns"] = body["begin_ns"] + NS_PER_S
    assert stand.post("/api/1/marks", body, "mark").status_code == 202
    assert asked(stand, 2) == [
        Marked(
            id=body["id"], run=2, label="contact_by_partner", begin_ns=body["begin_ns"], end_ns=body["end_ns"],
            error_ns=NS_PER_MS, source="program",
        )
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("no", "change", "why"),
    [
        (10, {"run": 2}, "ended"),
        (11, {"run": 4}, "not known"),
        (12, {"ago_ns": 4 * NS_PER_S}, "pressed 4 s ago"),
        (13, {"ago_ns": -NS_PER_S}, "not come yet"),
        (14, {"action": "scrap"}, "twice"),
    ],
)
def test_what_the_service_itself_refuses_never_comes_to_the_conductor(stand, no, change, why):
    answer = stand.post("/api/1/wishes", wish(no, **change))
    assert answer.status_code == 409
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert why in answer.json()["detail"]
    assert asked(stand, no) == []


def test_a_press_just_ahead_of_the_clock_counts_within_its_error(stand):
    late = wish(20, ago_ns=-NS_PER_S, error_ns=5 * NS_PER_S)
    assert stand.post("/api/1/wishes", late).status_code == 202


@pytest.mark.parametrize("change", [{"run": 4}, {"ago_ns": -NS_PER_S}, {"end_ns": 1}])
def test_a_mark_of_no_time_or_no_run_is_refused(stand, change):
    no = 30 + len(repr(change))
    assert stand.post("/api/1/marks", mark(no, **change), "mark").status_code == 409
    assert asked(stand, no) == []


@pytest.mark.parametrize("action", ["clear", "yes", "no", "leave", "display", "preflight", "phones", "phones_off", ""])
def test_what_is_for_the_laptop_alone_is_no_wish(stand, action):
    assert stand.post("/api/1/wishes", wish(50, action)).status_code == 422
    assert asked(stand, 50) == []


@pytest.mark.parametrize(
    "change",
    [
        {"id": "x"}, {"id": "a" * 32 + "\n"}, {"id": "A" * 32}, {"run": -1}, {"run": 1.5}, {"at_ns": "1"},
        {"error_ns": 10**11}, {"action": "plan.x"}, {"action": "call."}, {"at_ns": None}, {"at_ns": 1 << 63},
        {"sure": 1}, {"at_ns": True},
    ],
)  # fmt: skip
def test_what_does_not_fit_is_said(stand, change):
    answer = stand.post("/api/1/wishes", wish(51, **change))
    assert answer.status_code == 422
    assert answer.json()["detail"].startswith("The message does not fit")


def test_a_whole_number_may_have_a_point(stand):
    """JSON Schema Core 2020-12, 6.1.1: "integer" is any number with a zero fractional part."""
    body = wish(52)
    answer = stand.post("/api/1/wishes", body | {"run": 3.0, "error_ns": 1e6})
    assert answer.status_code == 202
    assert asked(stand, 52)[0].error_ns == 1_000_000


def test_asked_again_it_is_not_done_again_and_gets_the_first_answer(stand):
    body = wish(60)
    first = stand.post("/api/1/wishes", body, board=ONE)
    stand.answers = lambda asked: Answer(id=asked.id, taken=False, text="another answer")
    assert stand.post("/api/1/wishes", body, board=ONE).text == first.text
    assert len(asked(stand, 60)) == 1
    other = stand.post("/api/1/wishes", body | {"action": "undo"}, board=ONE)
    assert (other.status_code, "id" in other.json()["detail"]) == (409, True)
    assert stand.post("/api/1/wishes", body, board=TWO).status_code == 409, "it was not theirs"
    refused = stand.post("/api/1/wishes", wish(61))
    assert (refused.status_code, refused.json()["detail"]) == (409, "another answer")
    assert stand.post("/api/1/wishes", wish(61, ago_ns=-NS_PER_S)).status_code == 409


def test_a_conductor_that_does_not_answer_is_waited_for_two_seconds_then_asked_again_with_the_same_id(stand):
    held = []
    stand.answers = held.append            # and answers nothing
    body = wish(70)
    late = stand.post("/api/1/wishes", body)
    assert late.status_code == 504
    assert "ask again with the same id" in late.json()["detail"]
    stand.down(Answer(id=body["id"], taken=True, text="at last"))
    stand.wait_until(lambda: stand.post("/api/1/wishes", body).status_code == 202)
    assert stand.post("/api/1/wishes", body).json() == {"text": "at last"}
    assert {one.id for one in held} == {body["id"]}


def test_what_was_lost_on_its_way_to_the_conductor_is_told_again_when_it_is_asked_again(stand):
    lost = []
    stand.answers = lost.append
    body = mark(71)
    assert stand.post("/api/1/marks", body, "mark").status_code == 504
    stand.answers = lambda asked: Answer(id=asked.id, taken=True, text="noted")
    assert stand.post("/api/1/marks", body, "mark").json() == {"text": "noted"}
    assert lost == asked(stand, 71)[:1]


def test_only_as_much_as_a_right_allows(stand):
    stand.answers = lambda asked: Answer(id=asked.id, taken=True)
    assert stand.post("/api/1/wishes", wish(80), "watch").status_code == 403
    assert stand.post("/api/1/marks", mark(81), "watch").status_code == 403
    assert stand.post("/api/1/wishes", wish(82), "mark").status_code == 403
    assert stand.post("/api/1/wishes", wish(83, "undo"), "mark").status_code == 202
    assert stand.post("/api/1/marks", mark(84), "mark").status_code == 202
    assert stand.post("/api/1/marks", mark(85), "steer").status_code == 202
    assert [no for no in range(80, 86) if asked(stand, no)] == [83, 84, 85]


def test_what_may_be_wished_is_told_by_right(stand):
    can = {
        right: [offer["action"] for offer in stand.get("/api/1/state", right).json()["can"]]
        for right in ("watch", "mark", "steer")
    }
    newest = [one for one in stand.ups if isinstance(one, Show)]
    assert newest == []                    # what was sent down does not come up
    assert can["watch"] == []
    assert "start" in can["steer"]
    assert set(can["mark"]) <= {"undo", "mark.contact", "mark.turned", "mark.home"}


def test_a_flood_of_wishes_is_stopped_by_the_bucket_whoever_sends_it(stand):
    """20 a second: each thread calls itself another board, which changes nothing."""
    stand.answers = lambda asked: Answer(id=asked.id, taken=True)
    codes = []

    def flood(thread):
        for no in range(30):
            board = f"{1000 + 100 * thread + no:032x}"
            codes.append(stand.post("/api/1/wishes", wish(1000 + 100 * thread + no), board=board))

    begun_ns = monotime.now_ns()
    threads = [threading.Thread(target=flood, args=(thread,)) for thread in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took_s = (monotime.now_ns() - begun_ns) / NS_PER_S
    counts = Counter(answer.status_code for answer in codes)
    assert set(counts) <= {202, 429}
    assert counts[202] <= 20 + 20 * took_s + 1
    assert all(int(answer.headers["Retry-After"]) >= 1 for answer in codes if answer.status_code == 429)
    came = [one for one in stand.ups if isinstance(one, Wish) and int(one.id, 16) >= 1000]
    assert len(came) == counts[202]
