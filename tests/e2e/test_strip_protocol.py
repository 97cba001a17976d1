"""What a run sends a strip, and what it says where a rig leaves the protocol out: a whole process and a decoder."""

import pytest

from tests.support.stands.stand import LEDS, Run

pytestmark = pytest.mark.devices

GAME = 'format = "tocsin-game/1"\nname = "Kiln"\n[[period]]\nid = "drive"\nkind = "driver"\nlasts = "4s"\n'
PLAN = """\
format = "tocsin-plan/1"
name = "One light"
game = "game.toml"
[[cue]]
id = "over"
at = "drive.begin+1s"
light = "over"
"""
RIG = 'format = "tocsin-rig/1"\nname = "Kiln"\ndrives_robot = false\n[light]\nport = "{port}"\nleds = {leds}\n'
NOTE = "[light] names no protocol, so the strip is sent TPM2."


def test_a_strip_whose_limit_dark_leds_use_up_is_said_to_stay_dark(tmp_path, strip):
    """1 mA a dark LED (measured by others, just under 1 mA)."""
    stated = f'protocol = "tpm2"\nmax_ma = {LEDS}\n'
    for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG.format(port=strip.link, leds=LEDS) + stated)):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    run = Run(
        tmp_path, "--plan", str(tmp_path / "plan.toml"), "--start", "now", "--screen", "none",
        rig=str(tmp_path / "rig.toml"),
    )  # fmt: skip
    code, _, err = run.finish()
    assert code == 0
    assert not any(any(map(any, colours)) for _, colours in strip.frames)
    assert f"the strip stays dark: its {LEDS} LEDs draw {LEDS} mA while dark" in " ".join(err.split())


@pytest.mark.parametrize(("stated", "sent", "is_said"), [
    ("", "tpm2", True),
    ('protocol = "tpm2"\n', "tpm2", False),
    ('protocol = "adalight"\n', "adalight", False),
    ("confirmed = 2031-03-01\n", "adalight", False),              # seen at work by a version that sent this
])  # fmt: skip
def test_a_strip_is_sent_what_its_rig_says_and_a_rig_that_says_nothing_is_told_so(
    tmp_path, strip, stated, sent, is_said
):
    for name, text in (("game", GAME), ("plan", PLAN), ("rig", RIG.format(port=strip.link, leds=LEDS) + stated)):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    run = Run(
        tmp_path, "--plan", str(tmp_path / "plan.toml"), "--start", "now", "--screen", "none",
        rig=str(tmp_path / "rig.toml"),
    )  # fmt: skip
    code, summary, err = run.finish()
    assert (code, summary["outcome"]) == (0, "over"), err
    assert any(any(map(any, colours)) for _, colours in strip.frames)
    assert (strip.protocols, strip.garbage) == ({sent}, 0)
    assert (NOTE in " ".join(err.split())) is is_said
