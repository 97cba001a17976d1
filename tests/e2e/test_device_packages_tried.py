"""Devices of packages beside matches: tried with people, listed, previewed; and what they cost whoever has none."""

import json
import os
import subprocess
import tomllib

import pytest

from tests.support.packages.installing import Board, install_example, most_flashes
from tests.support.packages.match import GAME, PLAN, RIG
from tests.support.stands.stand import TOCSIN, Run, wait_for

pytestmark = pytest.mark.devices

# It notes which process looks through all packages, and whether for devices: a library that reads files looks for
# plugins of its own. A look for one package by its name is not counted.
FINDER = '''
import os, sys, traceback
class Noting:
    @staticmethod
    def find_spec(*_): return None
    @staticmethod
    def find_distributions(context):
        if context.name is None:
            with open(os.environ["SCANS"], "a") as file:
                ours = any(frame.filename.endswith("installed.py") for frame in traceback.extract_stack())
                file.write(f"{' '.join(sys.orig_argv[1:])} {ours}\\n")
        return ()
sys.meta_path.append(Noting)
'''


@pytest.fixture
def board():
    boards = []

    def make():
        boards.append(Board())
        return boards[-1]

    yield make
    for one in boards:
        one.close()


def seen(board):
    """Return the colour of the strip's last frame in words."""
    red, green, blue = board.frames[-1][1][0]
    found = {(True, False, False): "red", (False, True, False): "green", (False, False, True): "blue"}
    return found.get((red > 0, green > 0, blue > 0), "nothing")


def felt(board, since):
    """Return what a hand on the belt has felt since so many shakes, once it is still."""
    wait_for(lambda: len(board.shakes) > since and board.shakes[-1][1:] == (0, 0, 0))
    told = board.shakes[since:]
    ends = [at for at, strong, weak, _ in told if not (strong or weak)]
    begins = [at for at, strong, weak, _ in told if strong or weak]
    pulses_ms = [(min(end for end in ends if end > at) - at) / 1e6 for at in begins]
    if len(pulses_ms) == 3:
        return "three short"
    return "one long" if pulses_ms[0] > 700 else "one short"


def test_people_confirm_a_packages_strip_and_shaker_and_the_day_is_written(tmp_path, board, begin_walk):
    strip, belt = board(), board()
    path = tmp_path / "rig.toml"
    path.write_text(RIG, "utf-8")
    env = install_example(tmp_path) | {"ROPE": strip.address, "BELT": belt.address}
    walk = begin_walk("--only", "rumble,light", "--rig", str(path), env=env)
    walk.hear("in both hands")
    walk.answer("y")
    for _ in range(2):
        since = len(belt.shakes)
        question = walk.hear("What did you feel?")
        walk.name(question, felt(belt, since))
    assert "The strip, device rope of a package." in walk.hear("Do not look into the strip from near")
    walk.answer("y")
    colour = "nothing"
    for _ in range(2):
        question = walk.hear("What do you see on the strip?")
        before = colour
        colour = wait_for(lambda was=before: (now := seen(strip)) not in ("nothing", was) and now)
        walk.name(question, colour)
    code, result = walk.finish()
    told = [(one["device"], one["verdict"], one["name"]) for one in result["tried"]]
    assert (code, told) == (0, [
        ("driver's pad", "confirmed", "belt (rope-light 1.0)"), ("strip", "confirmed", "rope (rope-light 1.0), 4 LEDs"),
    ])  # fmt: skip
    written = tomllib.loads(path.read_text("utf-8"))
    assert "confirmed" in written["pad"][0]
    assert "protocol" not in written["light"]
    assert "confirmed" in written["light"]
    assert strip.black


def test_devices_lists_them_and_says_what_a_slip_meant(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(RIG.replace('"rope"', '"rpoe"'), "utf-8")
    env = {**os.environ, **install_example(tmp_path)}
    done = subprocess.run(
        [*TOCSIN, "devices", "--rig", str(path), "--json"], env=env, capture_output=True, text=True, check=True
    )
    told = json.loads(done.stdout)
    assert [one for one in told["devices"] if one["package"] == "rope-light"] == [
        {"name": "belt", "package": "rope-light", "version": "1.0", "used": ["driver"]},
        {"name": "rope", "package": "rope-light", "version": "1.0", "used": []},
    ]
    missing = {one["device"]: one["mend"] for one in told["missing"]}
    assert 'Write: device = "rope"' in missing["strip (device rpoe)"]
    assert not [device for device in missing if "belt" in device]
    done = subprocess.run([*TOCSIN, "check", str(path), "--json"], env=env, capture_output=True, text=True, check=True)
    (finding,) = json.loads(done.stdout)["findings"]
    assert (finding["code"], finding["level"]) == ("device_not_installed", "warning")
    assert RIG.replace('"rope"', '"rpoe"').splitlines()[finding["line"] - 1] == 'device = "rpoe"'
    assert finding["mend"].startswith('Write: device = "rope"')


def test_a_preview_is_seen_and_felt(tmp_path, board):
    strip, belt = board(), board()
    for name, text in (("last_seconds", GAME), ("last_cues", PLAN), ("rig", RIG)):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    env = {**os.environ, **install_example(tmp_path), "ROPE": strip.address, "BELT": belt.address,
           "XDG_STATE_HOME": str(tmp_path / "state"), "SDL_AUDIODRIVER": "dummy"}  # fmt: skip
    process = subprocess.Popen(
        [*TOCSIN, "preview", "--plan", str(tmp_path / "last_cues.toml"), "--play", "home", "--rig",
         str(tmp_path / "rig.toml"), "--screen", "none"],
        env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    out, err = process.communicate(timeout=100)
    assert process.returncode == 0, (out, err)
    assert any(max(map(max, colours)) == 123 for _, colours in strip.frames)
    assert most_flashes(strip.frames) <= 2
    assert strip.black
    assert (0.5, 0.25) in [(strong, weak) for _, strong, weak, _ in belt.shakes]
    assert belt.shakes[-1][1:] == (0, 0, 0)


@pytest.mark.parametrize("named", [False, True])
def test_packages_are_looked_through_only_where_the_rig_names_a_device(tmp_path, board, named):
    strip, belt = board(), board()
    env = install_example(tmp_path) | {"ROPE": strip.address, "BELT": belt.address, "SCANS": str(tmp_path / "scans")}
    (tmp_path / "site" / "sitecustomize.py").write_text(FINDER, "utf-8")
    rig = RIG if named else RIG.replace('device = "belt"', "order = 1").replace('device = "rope"', 'port = "COM3"')
    for name, text in (("last_seconds", GAME), ("last_cues", PLAN), ("rig", rig)):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    plan = str(tmp_path / "last_cues.toml")
    run = Run(tmp_path, "--plan", plan, "--start", "now", "--rate", "4", rig=str(tmp_path / "rig.toml"), env=env)
    code, _, err = run.finish()
    assert code == 0, err
    scans = (tmp_path / "scans").read_text("utf-8").splitlines() if (tmp_path / "scans").exists() else []
    workers = sorted(line.split()[-2] for line in scans if "tocsin.worker" in line)
    for_devices = [line for line in scans if line.endswith("True")]
    assert (workers, len(for_devices)) == ((["light", "rumble"], 3) if named else ([], 0)), "the third is the header's"
