"""``tocsin devices --try`` on virtual pads: whose is whose, what is felt, what drops out, what is left alone."""

import re
import subprocess
import sys
import tomllib
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from tests.support.people.walk import Hand, Walk, confirm_pad
from tests.support.stands.stand import Pads, gone, wait_for
from tocsin.cli.main import main

RIG = """\
format = "tocsin-rig/1"
name = "Stand"                            # invented
drives_robot = {robot}
[[pad]]
role = "driver"                           # ours
order = 1
[[pad]]
role = "operator"
order = 2
strength = 0.3
"""
pytestmark = pytest.mark.devices


@pytest.fixture
def pads(tmp_path: Path) -> Pads:
    return Pads(tmp_path)


def rig(folder: Path, *, robot: bool = False) -> Path:
    path = folder / "rig.toml"
    path.write_text(RIG.format(robot=str(robot).lower()), encoding="utf-8")
    return path


@pytest.fixture
def walk(begin_walk, pads):
    """Give what begins to try the pads."""
    return lambda *arguments, **keywords: begin_walk("--only", "rumble", *arguments, env=pads.env, **keywords)


def press(process: Walk, pads: Pads, role: str, pad: str) -> str:
    """Press a button once the role is called; return what is said of it."""
    process.hear(f"{role}: press a button")
    return press_again(process, pads, f"{role.lower()}: Pad {pad.upper()}", pad)


def press_again(process: Walk, pads: Pads, said: str, pad: str, button: int = 0) -> str:
    push(pads, pad, button)
    return process.hear(said)


def push(pads: Pads, pad: str, button: int = 0) -> None:
    """Press a button shortly, as a thumb does."""
    pads.do("press", pad, button)
    pads.do("release", pad, button)


def verdicts(result: dict) -> list[tuple[str, str]]:
    return [(one["device"], one["verdict"]) for one in result["tried"]]


def is_today(day: object) -> bool:
    """Return whether a day is today somewhere on earth: the test and the program may look on both sides of midnight."""
    now = datetime.now(UTC)
    return day in {(now + timedelta(hours=hours)).date() for hours in (-12, 0, 14)}


def full_strength(motors: list[tuple[int, int, int]]) -> tuple[int, int]:
    """Return when the last shaking, at full strength whatever the rig says, began and ended. SDL sends a rumble that
    runs for 2 s once more, which may be just before its end."""
    *before, (off_ns, *_) = motors
    steps = [motors[0], *(step for last, step in pairwise(before) if step[1:] != last[1:])]
    on_ns, low, high = steps[-1]
    assert (low, high) == (65535, 65535)
    return on_ns, off_ns


def test_equal_pads_in_the_right_hands_are_confirmed_and_the_day_is_written(tmp_path, pads, walk):
    path = rig(tmp_path)
    process = walk("--rig", str(path))
    assert "order = 1" in press(process, pads, "Driver", "a")
    assert "order = 2" in press(process, pads, "Operator", "b")
    left, right = Hand(pads, "a"), Hand(pads, "b")
    confirm_pad(process, left)
    assert right.felt() == "nothing", "only the pad in question shakes"
    confirm_pad(process, right)
    assert left.felt() == "nothing"
    process.hear("at full strength for 2 s")
    process.answer("y")
    process.hear("How was it?")
    for pad in ("a", "b"):
        on_ns, off_ns = full_strength(pads.motors(pad))
        assert 1.9e9 < off_ns - on_ns < 2.5e9
    process.answer("1")
    code, result = process.finish()
    assert (code, result["left"], result["hub"]) == (0, False, {"holds": True, "why": ""})
    assert verdicts(result) == [("driver's pad", "confirmed"), ("operator's pad", "confirmed")]
    assert result["written"] == str(path)
    written = tomllib.loads(path.read_text("utf-8"))
    assert all(is_today(pad.pop("confirmed")) for pad in written["pad"])
    assert written == tomllib.loads(RIG.format(robot="false"))
    assert "# ours" in path.read_text("utf-8")
    assert main(["check", str(path)]) == 0


def test_a_pad_and_a_pager_of_one_role_are_tried_one_at_a_time(tmp_path, pads, walk):
    path = tmp_path / "rig.toml"
    path.write_text(RIG.format(robot="false").replace("operator", "driver"), encoding="utf-8")
    process = walk("--rig", str(path))
    press(process, pads, "Driver", "b")
    pad, pager = Hand(pads, "a"), Hand(pads, "b")
    confirm_pad(process, pad)
    assert pager.felt() == "nothing"
    confirm_pad(process, pager)
    assert pad.felt() == "nothing"
    process.hear("at full strength")
    process.answer("q")
    _, result = process.finish()
    assert verdicts(result) == [("driver's pad 1", "confirmed"), ("driver's pad 2", "confirmed")]
    assert result["left"]
    assert all(is_today(pad["confirmed"]) for pad in tomllib.loads(path.read_text("utf-8"))["pad"])


def test_swapped_pads_are_told_with_what_to_write_and_so_is_one_that_nobody_feels(tmp_path, pads, walk):
    path = rig(tmp_path)
    process = walk("--rig", str(path))
    press(process, pads, "Driver", "b")
    process.hear("Operator: press a button")
    press_again(process, pads, "that pad is somebody's already", "b", 1)
    press_again(process, pads, "operator: Pad A", "a", 1)
    assert "Operator" in process.hear("in both hands")
    process.answer("y")
    hand = Hand(pads, "a")
    for _ in range(2):
        question = process.hear("What did you feel?")
        process.name(question, hand.felt())
    process.hear("in both hands")
    process.answer("y")
    for _ in range(2):
        process.name(process.hear("What did you feel?"), "nothing")
    assert "Operator's pad (Pad B): not felt: the rig says operator" in process.hear("Operator's pad")
    process.hear("at full strength")
    process.answer("s")
    _, result = process.finish()
    assert verdicts(result) == [("driver's pad", "swapped"), ("operator's pad", "not_confirmed")]
    assert [bool(one["mends"]) for one in result["tried"]] == [False, True]
    first, second = (one["why"] for one in result["tried"])
    # What is to be written makes the hands right: a is the operator's, b the driver's.
    assert 'write usb = "1209:0001", order = 1 in the operator\'s [[pad]]' in first
    assert 'write usb = "1209:0001", order = 2 in the driver\'s [[pad]]' in second
    assert path.read_text("utf-8") == RIG.format(robot="false")


def test_a_button_before_its_call_does_not_count_and_leaving_in_the_middle_is_told(tmp_path, pads, walk):
    process = walk("--rig", str(rig(tmp_path)))
    process.hear("Driver: press a button")
    # Both in one look: the one that SDL tells second is down before anybody can have called the operator.
    pads.do("press", "a")
    pads.do("press", "b")
    other = "b" if "Pad A" in process.hear("driver: Pad") else "a"
    process.hear("Operator: press a button")
    assert f"Pad {other.upper()}" in process.hear("was pressed too early")
    press_again(process, pads, f"operator: Pad {other.upper()}", other, 1)
    process.hear("in both hands")
    process.answer("y")
    process.name(process.hear("What did you feel?"), "nothing")
    process.hear("What did you feel?")
    process.answer("q")
    code, result = process.finish()
    assert (code, result["left"], result["tried"]) == (0, True, [])
    assert "Ended before the first device was fully tried" in process.said
    assert "nothing was tried" not in process.said


def test_a_pad_that_is_pulled_out_is_lost_and_the_next_that_nobody_feels_has_likely_reasons(tmp_path, pads, walk):
    path = rig(tmp_path)
    process = walk("--rig", str(path))
    press(process, pads, "Driver", "a")
    press(process, pads, "Operator", "b")
    process.hear("in both hands")
    process.answer("y")
    process.hear("What did you feel?")
    pads.do("detach", "a")
    assert "unplugged: plug it in again" in process.hear("Driver's pad")
    hand = Hand(pads, "b")
    process.hear("in both hands")
    process.answer("y")
    for _ in range(2):
        question = process.hear("What did you feel?")
        assert hand.felt() != "nothing", "it does shake"
        process.name(question, "nothing")
    assert "not felt" in process.hear("Operator's pad (Pad B)")
    code, result = process.finish()
    assert (code, result["hub"]) == (0, None), "one pad alone is no trial of a hub"
    assert verdicts(result) == [("driver's pad", "lost"), ("operator's pad", "not_confirmed")]
    assert result["tried"][1]["why"] == ""
    fixes = result["tried"][1]["mends"]
    assert "strength = 0.3" in fixes[0]
    assert "it says yes but the motors do not turn" in fixes[1]
    assert path.read_text("utf-8") == RIG.format(robot="false")


def test_a_pad_that_drops_out_at_full_strength_speaks_for_a_hub_with_power(tmp_path, pads, walk):
    process = walk("--rig", str(rig(tmp_path)))
    for _ in range(2):
        process.hear("press a button")
        process.answer("n")
    for _ in range(2):
        process.hear("in both hands")
        process.answer("s")
    process.hear("at full strength")
    shaken = len(pads.motors("b"))
    process.answer("y")
    wait_for(lambda: len(pads.motors("b")) > shaken and pads.motors("b")[-1][1])
    pads.do("detach", "b")
    code, result = process.finish()
    assert (code, result["hub"]["holds"]) == (0, False)
    assert verdicts(result) == [("driver's pad", "left_out"), ("operator's pad", "left_out")]
    assert "Pad B: dropped out" in result["hub"]["why"]
    assert "hub with its own power" in result["hub"]["why"]
    assert pads.off("a")


def test_where_a_robot_may_be_enabled_the_pads_are_left_alone(tmp_path, pads, walk):
    process = walk("--rig", str(rig(tmp_path, robot=True)))
    process.hear("Is every robot that they could move disabled?")
    process.answer("n")
    code, result = process.finish()
    assert code == 0
    assert {verdict for _, verdict in verdicts(result)} == {"left_alone"}
    assert pads.motors("a") == pads.motors("b") == []


# A /dev of the process's own, in which another program has a pad open.
OTHER_PROGRAM = """
mount -t tmpfs none "$0" && cp -a /dev/null /dev/zero /dev/urandom "$0" && mkdir "$0/input" && mount --bind "$0" /dev
touch /dev/input/js0 && sleep 20 </dev/input/js0 >/dev/null 2>&1 &
while ! test -e /dev/input/js0; do :; done
exec "$@"
"""


def may_mount() -> bool:
    try:
        return subprocess.run(["unshare", "-m", "true"], capture_output=True, check=False).returncode == 0
    except OSError:
        return False


@pytest.mark.skipif(sys.platform != "linux" or not may_mount(), reason="only Linux tells it, and only root may mount")
def test_a_pad_that_another_program_has_open_is_left_alone_with_its_name(tmp_path, pads, walk):
    (tmp_path / "dev").mkdir()
    within = ["unshare", "-m", "sh", "-c", OTHER_PROGRAM, str(tmp_path / "dev")]
    process = walk("--rig", str(rig(tmp_path)), within=within)
    code, result = process.finish()
    assert code == 0
    for one in result["tried"]:
        assert one["verdict"] == "left_alone"
        assert re.search(r"a program that may drive a robot has a pad open: sleep \(process \d+\)", one["why"])
    assert pads.motors("a") == pads.motors("b") == []


def test_ctrl_c_in_the_middle_stops_the_motors_and_writes_nothing(tmp_path, pads, walk):
    path = rig(tmp_path)
    process = walk("--rig", str(path))
    press(process, pads, "Driver", "a")
    press(process, pads, "Operator", "b")
    confirm_pad(process, Hand(pads, "a"))
    process.hear("in both hands")
    shaken = len(pads.motors("b"))
    process.answer("y")
    wait_for(lambda: len(pads.motors("b")) > shaken and pads.motors("b")[-1][1])
    workers = process.workers()
    process.interrupt()
    code, result = process.finish()
    assert (code, result["exit"], result["left"]) == (130, 130, True)
    assert "nothing was written" in process.said
    assert gone(workers)
    assert pads.off("b")
    assert path.read_text("utf-8") == RIG.format(robot="false")
    assert sorted(found.suffix for found in tmp_path.glob("rig*")) == [".toml"]


def test_a_new_rig_has_the_roles_of_those_who_pressed(tmp_path, pads, walk):
    path = tmp_path / "new.toml"
    process = walk("--write", str(path))
    process.hear("Is every robot that they could move disabled?")
    process.answer("y")
    press(process, pads, "Driver", "b")
    process.hear("Operator: press a button")
    process.answer("n")
    press(process, pads, "Coach", "a")
    hand = Hand(pads, "a")
    assert "Coach" in process.hear("in both hands")
    process.answer("y")
    for _ in range(2):
        process.name(process.hear("What did you feel?"), hand.felt())
    process.hear("in both hands")
    process.end_input()
    code, result = process.finish()
    assert (code, result["left"], result["written"]) == (0, True, str(path))
    written = tomllib.loads(path.read_text("utf-8"))
    assert [(pad["role"], pad["usb"], pad["order"], "confirmed" in pad) for pad in written["pad"]] == [
        ("driver", "1209:0001", 2, False),
        ("coach", "1209:0001", 1, True),
    ]
    assert written["drives_robot"] is True
    assert main(["check", str(path)]) == 0
