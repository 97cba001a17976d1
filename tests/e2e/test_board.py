"""A drill that is led and scribed by HTTP calls beside the same drill by keys; a service that is stopped, killed and
flooded in a real match."""

import secrets
import signal
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import psutil
import pytest
from httpx import HTTPError, Response

from tests.support.people.evening import Evening, rig_text
from tests.support.people.phone import Phone, service_of
from tests.support.people.short_drill import short_drill
from tests.support.stands.stand import Run, Strip, firings, rig_file, wait_for
from tocsin.units import NS_PER_MS
from tocsin.workers.service_process import DEATHS

pytestmark = pytest.mark.devices

RATE = 2
HELD_NS, TAP_NS = 700 * NS_PER_MS, 60 * NS_PER_MS
CALLED = "Nobody on the field?"
AGAIN_S = 1.5                          # so long a person waits for what a press does
MOST_ASKED = 2000


class ByKeys:
    """A scribe's pad and a coach's keys."""

    def __init__(self, evening: Evening) -> None:
        self._evening = evening

    def do(self, action: str) -> None:
        if action in ("hold", "resume"):               # one key, which no pad has
            self._evening.type("p")
        else:
            self._evening.tap(action)

    def go_on(self) -> None:
        """Press start until the next round is called: the first press may only say that somebody read the screen."""
        self._press_until("start", CALLED)

    def _press_until(self, action: str, said: str) -> None:
        """Press until something is said anew; nobody presses again before they have waited for it."""
        asked = len(self._evening.hearing(said))
        self._evening.tap(action)
        pressed_s = time.monotonic()

        def heard() -> bool:
            nonlocal pressed_s
            if time.monotonic() > pressed_s + AGAIN_S:
                self._evening.tap(action)
                pressed_s = time.monotonic()
            return len(self._evening.hearing(said)) > asked

        wait_for(heard)

    def scrap(self) -> None:
        self._evening.tap("scrap")
        self._evening.tap("scrap")

    def mark(self, label: str, begin_ns: int, end_ns: int) -> None:
        self._evening.hold(f"mark.{label}", begin_ns, end_ns)

    def drop(self) -> None:
        self._press_until("drop", "Why not?")
        self._evening.type("2")


class ByBoard:
    """The same from a phone, which sees what it is told and nothing else."""

    def __init__(self, evening: Evening) -> None:
        self.phone = Phone(evening.runs.parent / "state", evening.process)

    def do(self, action: str) -> None:
        taken(self.phone.wish(action))

    def go_on(self) -> None:
        before = self.phone.state["run"]

        def called() -> bool:
            if self.phone.state["run"] == before:
                self.phone.wish("start")               # refused once the next round is called
            return bool(self.phone.state["run"] != before)

        wait_for(called)

    def scrap(self) -> None:
        taken(self.phone.wish("scrap", sure=True))

    def mark(self, label: str, begin_ns: int, end_ns: int) -> None:
        wait_for(lambda: time.perf_counter_ns() > end_ns)
        taken(self.phone.mark(label, begin_ns, end_ns))

    def drop(self) -> None:
        taken(self.phone.wish("drop"))
        taken(self.phone.wish("plan.1"))


def taken(answer: Response) -> None:
    assert answer.status_code == 202, answer.text


def play(folder: Path, by: type[ByKeys] | type[ByBoard]) -> Evening:
    """Play two rounds: one with marks and an undo, one that is cancelled, played again, and then not counted."""
    drill = short_drill(folder)
    (folder / "rig.toml").write_text(rig_text('by = "count_in"\ncount_in = "1s"'), "utf-8")
    boards = ["--board"] if by is ByBoard else []
    evening = Evening(folder, str(drill), "--rig", str(folder / "rig.toml"), "--rate", str(RATE), *boards)
    try:
        evening.hear("Glasses on?")
        evening.tap("yes")
        evening.hear(CALLED)
        lead = by(evening)
        begin(evening, lead, 1)
        # While it is held nobody has to be quick, on a machine that is busy.
        lead.do("hold")
        evening.await_round(1, kind="state", event="hold")
        mark(evening, lead, 1, "contact", HELD_NS)
        mark(evening, lead, 1, "turned", TAP_NS)
        lead.do("undo")
        evening.await_round(1, kind="mark", takes_back=1)
        mark(evening, lead, 1, "home", TAP_NS)
        lead.do("resume")
        evening.await_round(1, kind="end")
        lead.go_on()
        begin(evening, lead, 2)
        lead.scrap()
        evening.await_round(2, kind="end")
        evening.hear(CALLED)
        begin(evening, lead, 3)
        lead.do("hold")
        evening.await_round(3, kind="state", event="hold")
        mark(evening, lead, 3, "home", TAP_NS)
        lead.do("resume")
        evening.await_round(3, kind="end")
        lead.drop()
        assert evening.finish() == 0
    finally:
        evening.close()
    return evening


def begin(evening: Evening, lead: ByKeys | ByBoard, number: int) -> None:
    """Begin a round: the word that the field is clear is a second person's at the laptop, whoever leads."""
    evening.tap("clear")
    evening.hear("Field clear")
    lead.do("start")
    evening.await_round(number, kind="state", event="boundary")


def mark(evening: Evening, lead: ByKeys | ByBoard, number: int, label: str, held_ns: int) -> None:
    begin_ns = time.perf_counter_ns()
    lead.mark(label, begin_ns, begin_ns + held_ns)
    evening.await_round(number, kind="mark", label=label, takes_back=None)


def by_people(rows: list[dict[str, Any]]) -> list[tuple[Any, ...]]:
    """Return what people did in a round, by its records, without when and without who. What was refused is left out:
    whoever sees nothing come of a press on a busy machine presses again."""
    kept = []
    for row in rows:
        match row["kind"]:
            case "state" if row["event"] != "boundary" and not row["refused"]:
                kept.append((row["event"], row["held_ns"] is None))
            case "mark":
                kept.append((row["label"], row["by"], row["takes_back"], row["end_ns"] is None, row["pointlike"]))
            case "note":
                kept.append((row["what"], row["text"]))
            case "origin":
                kept.append((row["anchor"], row["cause"], row["rate"]))
            case "end":
                kept.append((row["outcome"], row["exit"]))
    return kept


def sources(rows: list[dict[str, Any]]) -> set[str]:
    """Return who did what people do while the clock goes."""
    did = [row for row in rows if row["kind"] == "mark" or (row["kind"] == "state" and row["event"] != "boundary")]
    return {row["source"] for row in did}


def test_a_drill_led_and_scribed_from_a_phone_is_recorded_as_the_same_one_by_keys(tmp_path):
    folders = [tmp_path / "keys", tmp_path / "board"]
    for folder in folders:
        folder.mkdir()
    with ThreadPoolExecutor(2) as pool:
        by_keys, by_board = pool.map(play, folders, [ByKeys, ByBoard])
    assert len(by_keys.folders()) == len(by_board.folders()) == 3
    for number in range(3):
        keys, board = by_keys.records(number), by_board.records(number)
        assert by_people(board) == by_people(keys), (number, by_people(board), by_people(keys))
        assert sources(board) == {"board 1"}
        assert all(not source or source.startswith("key ") for source in sources(keys))


def due(records: list[dict[str, Any]]) -> set[tuple[int, int]]:
    """Return the firings of light that were due, as number and instance."""
    begun = {row["anchor"] for row in records if row["kind"] == "origin"}
    timeline = records[0]["timeline"]["firings"]
    return {
        (firing["no"], 0) for firing in timeline
        if firing["channel"] == "light" and not firing["when"] and firing["begin"]["anchor"] in begun
    }


def given(records: list[dict[str, Any]]) -> set[tuple[int, int]]:
    """Return the firings of light that were given; one that came too late on a busy machine has gone to nobody else."""
    late = [one for one in firings(records, "light", "skipped") if one["why"] == "late"]
    assert len(late) <= 1, late
    return {(one["no"], one["instance"]) for one in (*firings(records, "light", "played"), *late)}


def flood(phone: Phone, enough: threading.Event) -> int:
    """Ask for what cannot be, again and again, at most so often; return how many answers came."""
    answers = 0
    for _ in range(MOST_ASKED):
        if enough.is_set():
            break
        try:
            phone.post("marks", {
                "id": secrets.token_hex(16), "run": 1, "label": "nothing", "begin_ns": 1, "end_ns": None, "error_ns": 0,
            }, 2)  # fmt: skip
            answers += 1
        except HTTPError:
            continue
    return answers


@pytest.mark.skipif(sys.platform == "win32", reason="sends signals")
def test_a_service_that_is_stopped_killed_and_flooded_takes_no_firing(tmp_path):
    run = Run(
        tmp_path, "--rig", rig_file(tmp_path, Strip(tmp_path)), "--only", "light", "--screen", "none", "--start", "now",
        "--rate", "5", "--board",
    )  # fmt: skip
    enough = threading.Event()
    try:
        phone = Phone(tmp_path / "state", run.process)
        run.await_record(kind="firing", outcome="played")
        with ThreadPoolExecutor(4) as pool:
            floods = [pool.submit(flood, phone, enough) for _ in range(4)]
            first = service_of(run.pid)
            first.send_signal(signal.SIGSTOP)
            wait_for(lambda: not psutil.pid_exists(first.pid) or first.status() == psutil.STATUS_ZOMBIE)
            second = wait_for(lambda: service_of(run.pid))
            wait_for(lambda: phone.reached)
            second.kill()
            wait_for(lambda: phone.reached)
            enough.set()
            asked = [one.result() for one in floods]
        code, summary, err = run.finish()
    finally:
        enough.set()
        if run.process.poll() is None:
            run.kill()
    records = run.records()
    assert code == 0, err
    assert sum(asked) > 0
    assert len(due(records)) > 5
    assert given(records) == due(records)
    assert summary["channels"]["light"]["restarts"] == 0
    faults = [one["why"] for one in records if one["kind"] == "fault" and one["what"] == "service"]
    assert [why.split(":")[0] for why in faults] == ["silent for 3.0 s", "ended by signal 9"], faults
    assert {one["channel"] for one in records if one["kind"] == "fault"} == {""}


@pytest.mark.skipif(sys.platform == "win32", reason="sends signals")
def test_a_program_that_was_killed_has_its_boards_back_when_it_goes_on(tmp_path):
    """Same port, same token, same number of the run: what the phone still has to send is taken."""
    state = tmp_path / "state"
    run = Run(
        tmp_path, "--rig", rig_file(tmp_path, Strip(tmp_path)), "--only", "light", "--screen", "none", "--rate", "2",
        "--board",
    )  # fmt: skip
    try:
        phone = Phone(state, run.process)
        taken(phone.wish("start"))
        run.await_record(kind="state", event="boundary")
        before = phone.state["run"]
        marked_ns = time.perf_counter_ns()
        taken(phone.mark("contact", marked_ns, None))
        service = service_of(run.pid)
    finally:
        run.kill()
    service.wait(30)                                   # it goes with the conductor's pipe
    again = Run(tmp_path, "--resume")
    try:
        wait_for(lambda: phone.reached)
        assert phone.state["run"] == before
        assert phone.state["status"]["phase"] == "running"
        taken(phone.mark("contact", marked_ns, None))          # asked again, since no answer had come
        taken(phone.mark("turned", time.perf_counter_ns(), None))
        assert phone.wish("scrap").status_code == 409
        taken(phone.wish("scrap", sure=True))
        again.await_record(kind="end")
        again.process.send_signal(signal.SIGINT)
        assert again.finish()[1]["outcome"] == "scrapped"
    finally:
        if again.process.poll() is None:
            again.kill()
    marks = [(row["label"], row["source"]) for row in again.records() if row["kind"] == "mark"]
    assert marks == [("contact", "board 1"), ("turned", "board 1")]
    assert again.records()[0]["options"]["board_run"] == before


@pytest.mark.skipif(sys.platform == "win32", reason="sends signals")
def test_a_service_that_ends_again_and_again_is_given_up_and_the_match_goes_on(tmp_path):
    run = Run(
        tmp_path, "--rig", rig_file(tmp_path, Strip(tmp_path)), "--only", "light", "--screen", "none", "--start", "now",
        "--rate", "10", "--board",
    )  # fmt: skip
    ended: list[int] = []

    def faults() -> list[dict[str, Any]]:
        return [row for row in run.records() if row["kind"] == "fault" and row["what"] == "service"]

    def given_up() -> bool:
        service = service_of(run.pid)
        if service is not None and service.pid not in ended:
            service.kill()
            ended.append(service.pid)
        return len(faults()) >= DEATHS

    try:
        run.await_record(kind="state", event="start")
        wait_for(given_up)
        assert service_of(run.pid) is None
        code, summary, err = run.finish()
    finally:
        if run.process.poll() is None:
            run.kill()
    assert len(ended) == DEATHS
    assert (code, summary["outcome"], len(faults())) == (0, "over", DEATHS), err
    assert given(run.records()) == due(run.records())
