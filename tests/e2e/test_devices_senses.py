"""``tocsin devices --try`` on a strip behind pseudo-terminals, a window under Xvfb, the samples of a loudspeaker."""

import contextlib
import json
import subprocess
import sys
import threading
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.support import PROJECT
from tests.support.people.walk import Walk, seen
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.loudspeaker import Loudspeaker
from tests.support.stands.stand import Strip, gone, wait_for
from tocsin.cli.main import main

HEAD = 'format = "tocsin-rig/1"\nname = "Stand"\ndrives_robot = false\n'         # invented
PORTS = PROJECT / "tests/support/preload/usb_ports"
GRB = {"red": "green", "green": "red", "blue": "blue"}
pytestmark = pytest.mark.devices


def rig(folder: Path, text: str) -> Path:
    path = folder / "rig.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def plugged(folder: Path, name: str) -> Strip:
    (folder / name).mkdir()
    return Strip(folder / name)


def behind_usb(*ports: tuple[Strip, str]) -> dict[str, str]:
    """Return the environment in which the system lists these ports."""
    listed = json.dumps([(str(strip.link), usb) for strip, usb in ports])
    return {"PYTHONPATH": str(PORTS), "TOCSIN_TEST_PORTS": listed}


@contextlib.contextmanager
def greeting(strip: Strip):
    """Let a board greet again and again: opening a port throws away what came before."""
    over = threading.Event()

    def greet() -> None:
        while not over.wait(0.05):
            strip.send(b"Ada\n")

    thread = threading.Thread(target=greet)
    thread.start()
    yield
    over.set()
    thread.join()


def open_port(process: Walk) -> str:
    question = process.hear("Opening a port restarts many boards")
    process.answer("y")
    return question


def tell_colours(process: Walk, strip: Strip, times: int = 2, eyes: dict[str, str] | None = None) -> None:
    colour = "nothing"
    for _ in range(times):
        question = process.hear("What do you see on the strip?")
        before = colour
        # No colour comes twice in a row; what the strip was told may still be on its way to these eyes.
        colour = wait_for(lambda was=before: (now := seen(strip)) not in ("nothing", was) and now)
        process.name(question, (eyes or {}).get(colour, colour))


def test_a_strip_that_is_seen_is_confirmed_and_black_afterwards(tmp_path, strip, begin_walk):
    path = rig(tmp_path, f'[light]\nport = "{strip.link}"\nleds = 30\n')
    process = begin_walk("--only", "light", "--rig", str(path))
    assert str(strip.link) in open_port(process)
    tell_colours(process, strip)
    code, result = process.finish()
    assert (code, [(one["device"], one["verdict"]) for one in result["tried"]]) == (0, [("strip", "confirmed")])
    assert strip.black
    assert "confirmed" in tomllib.loads(path.read_text("utf-8"))["light"]
    # Each colour stands: nothing flashes (WCAG 2.2, 2.3.1 allows three flashes a second).
    lit = [(at_ns, pixels[0]) for at_ns, pixels in strip.frames if any(pixels[0])]
    changes = [at for (at, one), (_, before) in zip(lit[1:], lit, strict=False) if one != before]
    assert len(changes) <= 2


def test_a_rig_that_was_changed_meanwhile_is_not_written(tmp_path, strip, begin_walk):
    path = rig(tmp_path, f'[light]\nport = "{strip.link}"\n')
    process = begin_walk("--only", "light", "--rig", str(path))
    open_port(process)
    with path.open("a", encoding="utf-8") as file:
        file.write("leds = 12\n")
    tell_colours(process, strip)
    _, result = process.finish()
    assert (result["tried"][0]["verdict"], result["written"]) == ("confirmed", "")
    assert "was changed by others" in result["note"]
    assert path.read_text("utf-8").endswith("leds = 12\n")


def test_exchanged_colours_speak_for_another_order_of_bytes(tmp_path, strip, begin_walk):
    path = rig(tmp_path, f'[light]\nport = "{strip.link}"\n')
    process = begin_walk("--only", "light", "--rig", str(path))
    open_port(process)
    tell_colours(process, strip, times=5, eyes=GRB)
    _, result = process.finish()
    (one,) = result["tried"]
    assert one["verdict"] == "not_confirmed"
    assert 'write order = "GRB"' in one["mends"][0]
    assert path.read_text("utf-8") == HEAD + f'[light]\nport = "{strip.link}"\n'


def test_the_board_that_greets_is_the_strip_of_a_new_rig(tmp_path, begin_walk):
    mute, board = plugged(tmp_path, "a_mute"), plugged(tmp_path, "board")
    path = tmp_path / "new.toml"
    with greeting(board):
        process = begin_walk(
            "--only", "light", "--write", str(path), env=behind_usb((mute, "1209:0005"), (board, "1209:0004"))
        )
        question = open_port(process)
        assert f"{mute.link} or {board.link}" in question
        assert "no answer from a board" in process.hear(str(mute.link))
        assert "greets" in process.hear(str(board.link))
        tell_colours(process, board)
        code, result = process.finish()
    assert (code, [one["port"] for one in result["tried"]]) == (0, [str(board.link)])
    assert "Not there: display" not in process.said, "--only light asks for none"
    light = tomllib.loads(path.read_text("utf-8"))["light"]
    assert (light["port"], light["usb"], "confirmed" in light) == ("auto", "1209:0004", True)
    assert main(["check", str(path)]) == 0


def test_of_ports_with_equal_ids_the_right_one_is_named(tmp_path, begin_walk):
    first, second = plugged(tmp_path, "first"), plugged(tmp_path, "second")
    path = rig(tmp_path, '[light]\nusb = "1209:0004"\n')
    with greeting(second):
        env = behind_usb((first, "1209:0004"), (second, "1209:0004"))
        process = begin_walk("--only", "light", "--rig", str(path), env=env)
        open_port(process)
        tell_colours(process, second)
        _, result = process.finish()
    (one,) = result["tried"]
    assert one["verdict"] == "not_confirmed", "a match would light the first"
    assert f'write port = "{second.link}"' in one["why"]


def test_a_board_that_does_not_answer_and_a_strip_that_nobody_sees(tmp_path, begin_walk):
    board = plugged(tmp_path, "board")
    path = rig(tmp_path, '[light]\nusb = "1209:0004"\n')
    process = begin_walk("--only", "light", "--rig", str(path), env=behind_usb((board, "1209:0004")))
    open_port(process)
    for _ in range(2):
        process.name(process.hear("What do you see"), "nothing")
    _, result = process.finish()
    assert result["tried"][0]["verdict"] == "not_confirmed"
    assert "no board answered" in result["tried"][0]["mends"][0]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who holds a port")
def test_a_port_that_another_program_holds_is_absent_with_its_name(tmp_path, strip, begin_walk):
    # TIOCEXCL: what terminal programs take (ioctl_tty(2)); root opens such a port all the same, so flock too.
    script = (
        "import fcntl, sys, termios\n"
        "port = open(sys.argv[1], 'r+b', buffering=0)\n"
        "fcntl.ioctl(port, termios.TIOCEXCL)\n"
        "fcntl.flock(port, fcntl.LOCK_EX)\n"
        "print('held', flush=True)\n"
        "sys.stdin.read()\n"
    )
    holder = subprocess.Popen([sys.executable, "-c", script, str(strip.link)], stdin=-1, stdout=-1)
    assert holder.stdout is not None
    holder.stdout.readline()
    process = begin_walk("--rig", str(rig(tmp_path, f'[light]\nport = "{strip.link}"\n')), "--only", "light")
    open_port(process)
    code, result = process.finish()
    holder.communicate(timeout=10)
    assert result["tried"][0]["verdict"] == "absent"
    assert f"(process {holder.pid}): close it" in result["tried"][0]["why"]
    assert code == 21, "--only asks for it"
    assert "light: asked for, but there is no device" in process.said


def test_ctrl_c_makes_the_strip_black(tmp_path, strip, begin_walk):
    path = rig(tmp_path, f'[light]\nport = "{strip.link}"\n')
    process = begin_walk("--only", "light", "--rig", str(path))
    open_port(process)
    process.hear("What do you see on the strip?")
    wait_for(lambda: not strip.black)
    workers = process.workers()
    process.interrupt()
    code, _ = process.finish()
    assert code == 130
    assert gone(workers)
    assert wait_for(lambda: strip.black)
    assert path.read_text("utf-8") == HEAD + f'[light]\nport = "{strip.link}"\n'


def heard(speaker: Loudspeaker, before: int) -> str:
    """Return what the tones since ``before`` of them are."""
    tones = speaker.tones()[before:]
    if len(tones) == 2:
        return "two even tones"
    (tone,) = tones
    return "a tone that rises" if tone.begins_hz < tone.ends_hz else "a tone that falls"


@pytest.mark.parametrize("bundled", [False, True])
def test_sounds_that_are_heard_confirm_the_loudspeaker(tmp_path, begin_walk, bundled):
    path = rig(tmp_path, "[sound]\n")
    process = begin_walk("--rig", "practice_bench" if bundled else str(path), "--only", "sound")
    process.hear("keep ears off the speaker")
    process.answer("y")
    speaker = Loudspeaker(tmp_path / "sound.pcm")
    before = 0
    for _ in range(2):
        question = process.hear("What did you hear?")
        process.name(question, heard(speaker, before))
        before = len(speaker.tones())
    code, result = process.finish()
    speaker.stop()
    assert (code, result["tried"][0]["verdict"]) == (0, "confirmed")
    assert result["written"] == ("" if bundled else str(path))
    assert ("--rig my_team/rigs/practice_bench.toml" in result["note"]) == bundled


@pytest.mark.skipif(bool(MISSING), reason=f"not there: {', '.join(MISSING)}")
def test_words_that_are_read_confirm_the_screen_with_keys_pressed_in_its_window(tmp_path, begin_walk):
    server = Server((1280, 720))
    try:
        path = rig(tmp_path, "[screen]\n")
        process = begin_walk("--only", "screen", "--rig", str(path), env={"DISPLAY": server.name})
        for turn in range(2):
            question = process.hear("Which word is on the screen?")
            word = wait_for(lambda: read_word(server.pixels()))
            if turn:
                server.focus()
                server.press(question[question.index(word) - 3])
            else:
                process.name(question, word)
        code, result = process.finish()
    finally:
        server.close()
    assert (code, result["tried"][0]["verdict"]) == (0, "confirmed")


def read_word(pixels: np.ndarray) -> str:
    """Return the word on the screen by its lines and letters: HOME has four, CHOOSE six, LAST ONE two lines."""
    bands = stretches(pixels.any(axis=(1, 2)))
    if len(bands) < 2:
        return ""
    (top, bottom), (second_top, second_bottom) = bands[:2]
    if second_bottom - second_top > 0.8 * (bottom - top):
        return "LAST ONE"
    return {4: "HOME", 6: "CHOOSE"}.get(len(stretches(pixels[top:bottom].any(axis=(0, 2)))), "")


def stretches(lit: np.ndarray) -> list[tuple[int, int]]:
    """Return begin and end of each stretch that is lit."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], lit.astype(int), [0]))))
    return [(int(begin), int(end)) for begin, end in zip(edges[::2], edges[1::2], strict=True)]


def test_keys_of_a_terminal_answer_and_the_terminal_is_given_back(tmp_path, begin_walk):
    import termios

    process = begin_walk("--only", "sound", "--rig", str(rig(tmp_path, "[sound]\n")), terminal=True)
    process.hear("keep ears off")
    raw = termios.tcgetattr(process.keyboard)[3]
    assert not raw & termios.ICANON
    process.answer("s")
    code, result = process.finish()
    assert (code, result["tried"][0]["verdict"], result["written"]) == (0, "left_out", "")
    assert termios.tcgetattr(process.keyboard)[3] & termios.ICANON


def test_a_second_tocsin_waits_its_turn(tmp_path, begin_walk):
    path = str(rig(tmp_path, "[sound]\n"))
    first = begin_walk("--rig", path)
    first.hear("keep ears off")
    second = begin_walk("--rig", path)
    code, _ = second.finish()
    assert code == 21
    assert "another Tocsin is running" in second.said
    first.end_input()
    code, result = first.finish()
    assert (code, result["left"]) == (0, True)
    assert "The input has ended" in first.said
