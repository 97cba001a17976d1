"""The end of a drill that counts: the last result, the closing lines, the picture and the review say one sentence."""

import contextlib
import os
import re
import struct
import subprocess
from pathlib import Path

import pytest

from tests.support.channels.screen_stand import MISSING, Server
from tests.support.people.at_the_window import AtTheWindow, Hands
from tests.support.people.evening_seat import RUNNING, EveningSeat
from tests.support.people.photographer import Photographer
from tests.support.people.short_drill import MARK_KEYS, await_record, labels, records_of, short_drill
from tests.support.stands.stand import TOCSIN, Pads
from tocsin.journal.people import People

pytestmark = pytest.mark.devices
NAME = "Annabella"
SHOTS = os.environ.get("TOCSIN_SHOTS", "")
QUESTIONS = (("Glasses on?", "y"), ("Is flashing light safe for everybody here?", "y"))
TOO_FEW = "Too few count: 1 of 2"     # the other one nobody marked


def tocsin(*arguments: str) -> str:
    """Return what a command says, in one line."""
    done = subprocess.run(
        [*TOCSIN, *arguments], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=240, check=True
    )  # fmt: skip
    return " ".join(done.stdout.replace("\N{NO-BREAK SPACE}", " ").split())


def png_size(path: Path) -> tuple[int, int]:
    """Return width and height, by the header that a PNG begins with (W3C PNG, sections 5.2 and 11.2.1)."""
    data = path.read_bytes()
    assert data[:16] == b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def play_round(seat: EveningSeat, runs: Path, number: int, *, mark: bool) -> None:
    """Play a round; a scribe presses all three keys once robots must not touch any more."""
    seat.play_until(RUNNING)
    if mark:
        await_record(runs, number, kind="firing", cue="no_touch", outcome="played")
        for label, key in MARK_KEYS.items():
            seat.press(key)
            await_record(runs, number, kind="mark", label=label)


def test_all_that_a_person_reads_at_the_end_says_the_evenings_sentence(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    short_drill(tmp_path)
    runs = tmp_path / "runs"
    seat = EveningSeat(
        tmp_path, "hot.toml", "--rig", "rig.toml", "--runs", "runs", "--who", f"A.driver={NAME}", command=("drill",),
        rate="1",
    )  # fmt: skip
    try:
        for question, key in QUESTIONS:
            seat.answer(question, key)
        play_round(seat, runs, 1, mark=True)
        seat.play_until("next round")
        assert "This evening" not in seat.shown, "a round is to come"
        seat.press("s")
        play_round(seat, runs, 2, mark=False)
        seat.hear("end of the drill", timeout_s=240)
        seat.hear(f"This evening: {TOO_FEW}")
        seat.press("s")
        assert seat.end() == 0
        seat.hear("Its page: runs/review_")
        end = seat.shown.rpartition("Recorded:")[2]
        ((sentence, page),) = re.findall(r"This evening, hot: (.+) Its page: (runs/review_\d{4}-\d\d-\d\d\.png)", end)
        assert sentence.startswith(TOO_FEW)
        assert f"This evening: {sentence}" in seat.shown
    finally:
        seat.terminal.kill()
    assert labels(records_of(runs, 1)) == list(MARK_KEYS)
    page = Path(page)
    assert list(runs.glob("review_*")) == [tmp_path / page]
    assert png_size(page) == (1280, 720)
    (key,) = People(runs).names
    assert not [name for name in (NAME, key) if name.encode() in page.read_bytes()]
    said = tocsin("review", "--runs", "runs")
    assert sentence in said
    assert NAME not in said
    tocsin("runs", "--runs", "runs", "--forget", NAME, "--yes")
    assert list(runs.glob("review_*")) == []


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
@pytest.mark.parametrize("size", [(1366, 768), (1920, 1080)], ids=lambda size: f"{size[0]}x{size[1]}")
def test_the_window_shows_the_whole_sentence_beneath_the_last_result(tmp_path, monkeypatch, size):
    """Set ``TOCSIN_SHOTS`` to a folder to keep a picture of it."""
    monkeypatch.chdir(tmp_path)
    short_drill(tmp_path, rounds=1, pads=True)
    with contextlib.closing(Server(size)) as server:
        window = AtTheWindow(tmp_path, server, Pads(tmp_path, ("a",)), "hot.toml", "--rig", "rig.toml")
        hands = Hands(server)
        try:
            window.wait(lambda: bool(window.prompt), "the window")
            server.focus()
            window.wait(lambda: "Click" not in window.rows.get("keys", "Click"), "the keyboard")
            for sign, key in (*QUESTIONS, ("Nobody on the field?", "f"), ("count-in", "s")):
                window.wait(lambda sign=sign: sign in window.prompt, sign)
                hands.tap(key)
            window.await_round(1, kind="origin", anchor="match")
            hands.go(MARK_KEYS["contact"], down=True)          # a push that lasts into the window
            window.await_round(1, kind="firing", cue="no_touch", outcome="played")
            hands.let_go()
            window.await_round(1, kind="mark", label="contact")
            hands.tap(MARK_KEYS["home"])
            window.wait(lambda: "end of the drill" in window.prompt, "the result", 240)
            window.wait(lambda: window.rows.get("notice", "").startswith("This evening: "), "the sentence")
            said = window.rows["notice"].removeprefix("This evening: ")
            assert not said.endswith("…")
            Photographer(server, Path(SHOTS) if SHOTS else None, f"{size[0]}").take("closing")
            hands.tap("s")
            assert window.finish() == 0
        finally:
            window.close()
    assert window.hearing(f"This evening, hot: {said}")
    assert said in tocsin("review", "--runs", "runs")
