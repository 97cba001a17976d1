"""A strip's board that stops hearing in the middle of a match: what the run plays, records and says meanwhile."""

import signal
import sys

import pytest

from tests.support.channels.simulated_board import SimulatedBoard
from tests.support.stands.stand import Run, wait_for
from tocsin.channels.device import DEAF

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(sys.platform != "linux", reason="the board reads the port's baud in Linux' way"),
]
# Long enough for whatever the test waits for; it is ended by a signal.
GAME = 'format = "tocsin-game/1"\nname = "Kiln"\n[[period]]\nid = "drive"\nkind = "driver"\nlasts = "10min"\n'
PLAN = """\
format = "tocsin-plan/1"
name = "A light a second"
game = "game.toml"
[[cue]]
id = "tick"
at = "drive.begin"
every = "1s"
until = "drive.end"
light = "last_five"
late_limit = "1500ms"
"""
RIG = 'format = "tocsin-rig/1"\nname = "Kiln"\ndrives_robot = false\n[light]\nport = "{port}"\nprotocol = "tpm2"\n'


def test_a_board_that_goes_deaf_is_lost_until_it_answers_and_its_cues_count_as_failed(tmp_path):
    with SimulatedBoard(tmp_path) as board:
        for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG.format(port=board.link))):
            (tmp_path / f"{name}.toml").write_text(text, "utf-8")
        run = Run(
            tmp_path, "--plan", str(tmp_path / "plan.toml"), "--start", "now", "--screen", "none",
            rig=str(tmp_path / "rig.toml"),
        )  # fmt: skip
        run.await_record(kind="firing", channel="light", outcome="played")
        board.deaf = True
        run.await_record(kind="device", channel="light", state="lost", why=DEAF)
        run.await_record(kind="firing", channel="light", outcome="failed", why=DEAF)
        board.deaf = False
        states = wait_for(lambda: len(found := devices(run)) == 3 and found)
        assert [state for state, _ in states] == ["ready", "lost", "ready"]
        assert [why for _, why in states] == ["", DEAF, ""]
        later = len(run.records())
        wait_for(lambda: any(one.get("outcome") == "played" for one in run.records()[later:]))
        run.process.send_signal(signal.SIGINT)
        run.finish()
        assert board.noise == 0
        assert not any(map(any, board.frames[-1]))         # left black


def devices(run):
    return [(r["state"], r.get("why", "")) for r in run.records() if r["kind"] == "device" and r["channel"] == "light"]
