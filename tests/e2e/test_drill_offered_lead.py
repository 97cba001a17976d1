"""The lead that is offered at the end of a drill at a real terminal: one line on a typed yes, and else nothing."""

import contextlib
import os
import shutil
import subprocess
from datetime import date, timedelta

import pytest

from tests.support.channels.screen_stand import MISSING, Server
from tests.support.config.bundled_copies import copied
from tests.support.journal.recorded_evenings import record_evening
from tests.support.people.evening_seat import EveningSeat
from tests.support.people.short_drill import DRILL, RIG
from tests.support.stands.stand import TOCSIN, wait_for
from tocsin.model.mark import VIDEO

pytestmark = pytest.mark.devices
QUESTION = "Write it into ours.toml? [no]"
CTRL_C, CTRL_D = "\x03", "\x04"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Return a folder with a plan of one's own, a drill of one round of it, and 36 matches in which pushes lasted
    longer than its lead."""
    folder = tmp_path_factory.mktemp("recorded")
    plan = copied(folder / "ours.toml", "plans/full.toml", ('break_off = "4s"', 'break_off = "4s"   # ours'))
    (folder / "hot.toml").write_text(DRILL.format(rounds=1), "utf-8")
    (folder / "rig.toml").write_text(RIG, "utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for evening in range(3):
            times = [4.4 + 0.03 * n for n in range(12)]
            day = date.today() - timedelta(days=2 + evening)
            record_evening(folder / "runs", day, times, plan=plan.name, match=True, source=VIDEO)
    return folder


@pytest.fixture
def place(recorded, tmp_path, monkeypatch):
    """Stand in a copy of it."""
    folder = tmp_path / "ours"
    shutil.copytree(recorded, folder)
    monkeypatch.chdir(folder)
    return folder


def played(folder, *arguments, rate="1"):
    """Play the drill's one round in a terminal up to its result, and leave that."""
    seat = EveningSeat(
        folder, "hot.toml", "--rig", "rig.toml", "--runs", "runs", *arguments, command=("drill",), rate=rate
    )
    seat.answer("Glasses on? y: yes", "y")
    seat.answer("Is flashing light safe for everybody here? y: yes", "y")
    seat.play_until("end of the drill")
    seat.press("s")
    seat.hear("Recorded:")
    return seat


def test_a_yes_writes_the_one_line_and_keeps_what_was_there(place):
    before = (place / "ours.toml").read_text("utf-8")
    seat = played(place)
    try:
        seat.hear("One change: call 1 s earlier. Lead break_off: 4 s now, then 5 s.")
        seat.hear('break_off = "5s"')
        seat.answer(QUESTION, "y\n")
        seat.hear("wrote ours.toml; as it was: ours.toml.before")
        assert seat.end() == 0
    finally:
        seat.terminal.kill()
    after = (place / "ours.toml").read_text("utf-8")
    assert after == before.replace('break_off = "4s"   # ours', 'break_off = "5s"')
    assert len([line for line in before.splitlines() if line not in after.splitlines()]) == 1
    assert (place / "ours.toml.before").read_text("utf-8") == before


@pytest.mark.parametrize(
    ("keys", "code"), [("n\n", 0), ("\n", 0), (CTRL_C, 130), (CTRL_D, 0), (None, None)],
    ids=["no", "Enter", "Ctrl-C", "end of input", "closed"],
)  # fmt: skip
def test_without_a_yes_nothing_is_written(place, keys, code):
    before = (place / "ours.toml").read_bytes()
    seat = played(place)
    try:
        seat.hear(QUESTION)
        if keys is None:
            seat.terminal.close()
            assert seat.end() is not None, "it has ended"
        else:
            seat.press(keys)
            assert seat.end() == code
            assert "Traceback" not in seat.shown
            assert ("ours.toml stays as it is." in seat.shown) is (code == 0)
    finally:
        seat.terminal.kill()
    assert (place / "ours.toml").read_bytes() == before
    assert not list(place.glob("*.before"))


def test_who_only_looks_at_a_drill_is_offered_nothing(place):
    seat = played(place, rate="20")
    try:
        assert seat.end() == 0
    finally:
        seat.terminal.kill()
    assert "One change" not in seat.shown
    assert QUESTION not in seat.shown


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
def test_without_a_terminal_nobody_is_asked(place):
    """The same round at a window, its keys pressed again and again until the drill is over."""
    with contextlib.closing(Server((640, 360))) as server:
        process = subprocess.Popen(
            [*TOCSIN, "drill", "hot.toml", "--rig", "rig.toml", "--runs", "runs"],
            env={**os.environ, "DISPLAY": server.name, "SDL_AUDIODRIVER": "dummy", "XDG_STATE_HOME": str(place)},
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip
        try:
            server.focus()
            wait_for(lambda: server.press("y", "f", "s") or process.poll() is not None, 240)
            said, _ = process.communicate(timeout=60)
        finally:
            process.kill()
            process.wait(10)
    assert process.returncode == 0
    assert "This evening, hot: " in said
    assert "One change" not in said
    assert not list(place.glob("*.before"))
