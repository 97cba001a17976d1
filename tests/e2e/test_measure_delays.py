"""Delays measured on devices of known delay, written into the rig, and all of them landing together afterwards.

The devices are the stand's; each is given a delay of its own beyond what the stand sees: "seen" below is always the
stand's own time plus that. Of the strip it is what wire, LEDs and latch take: the film is measured against it.
"""

import csv
import json
import math
import os
import statistics
import subprocess
from pathlib import Path

import pytest

from tests.support.people.room import Room
from tests.support.stands.busy import allowed
from tests.support.stands.loudspeaker import Loudspeaker
from tests.support.stands.stand import LEDS, TOCSIN, Pads, Run, Strip, firings, rig_file, wait_for
from tocsin.config.load import load_rig
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices

TIMES = 8
FPS = 240
# 8N1: ten bits a byte at 115200 baud, a TPM2 frame has 5 beside its colours; 280 us to latch (datasheets, the last from
# memory). 35 us a LED, as measured on the emulated chip that runs Tocsin's firmware (WS2812B itself: 30).
STRIP_MS = (5 + 3 * LEDS) * 10 / 115.2 + LEDS * 0.035 + 0.28
DEVICE_MS = {"driver": 92.0, "operator": 143.0, "light": STRIP_MS, "sound": 60.0}
PADS = {"driver": "a", "operator": "b"}
BLOCK_MS = 256 * 1000 / 48_000
BIAS_MS, SPREAD_MS = 5.0, 10.0             # what a vigilance test's device may be off by
PLAN = """
format = "tocsin-plan/1"
name = "Together"
game = "bench"
{cues}
[pattern.rumble.pulse]
steps = [ {{ strong = 1.0, weak = 1.0, lasts = "200ms" }} ]
[pattern.light.lit]
form = "plain"
colours = ["white"]
lasts = "200ms"
[pattern.sound.tick]
steps = [ {{ hz = 750.0, lasts = "100ms" }} ]
"""
CUE = """
[[cue]]
id = "cue_{n}"
at = "match.begin+{at_ms}ms"
rumble = "pulse"
light = "lit"
sound = "tick"
say = "Cue"
"""
CUES_AT_MS = [1_000 + 903 * n for n in range(8)]


def environment(folder, **besides):
    env = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")}
    env["XDG_STATE_HOME"] = str(folder / "state")
    env.pop("DISPLAY", None)
    return env | besides


def measure(folder, *arguments, env):
    process = subprocess.run(
        [*TOCSIN, "measure", "delays", *arguments, "--json"],
        env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=90, check=False,
    )  # fmt: skip
    return process.returncode, json.loads(process.stdout) if process.stdout.strip() else {}, process.stderr


def lit_ns(strip):
    """Return when the strip went from dark to lit."""
    lit = [(at_ns, any(any(colour) for colour in colours)) for at_ns, colours in strip.frames]
    return [at_ns for (_, before), (at_ns, now) in zip([(0, False), *lit], lit, strict=False) if now and not before]


def shaken_ns(pads, pad):
    # A fresh worker sets motors to a hundredth for a moment: too weak to be felt.
    told = [(at_ns, low > 0x8000) for at_ns, low, _ in pads.motors(pad)]
    return [at_ns for (_, before), (at_ns, now) in zip([(0, False), *told], told, strict=False) if now and not before]


def seen_ns(strip, pads, loudspeaker):
    """Return when each device was seen, in order."""
    found = {role: shaken_ns(pads, pad) for role, pad in PADS.items()}
    found["light"] = lit_ns(strip)
    # A block was written between two readings of the file's size: their middle.
    found["sound"] = [round(statistics.fmean(loudspeaker.written_ns(tone.begin))) for tone in loudspeaker.tones()]
    return {device: [ns + round(DEVICE_MS[device] * NS_PER_MS) for ns in times] for device, times in found.items()}


@pytest.fixture(scope="module")
def filmed(tmp_path_factory):
    """Cues played for a film, the film's table filled in by what was seen, and what it was read as."""
    folder = tmp_path_factory.mktemp("film")
    strip, pads = Strip(folder), Pads(folder)
    rig = rig_file(folder, strip, pads=True)
    with Path(rig).open("a", encoding="utf-8") as file:
        file.write("buffer = 256\n")              # of [sound], which stands last: small blocks, finer times
    loudspeaker = Loudspeaker(folder / "sound.pcm")
    table = folder / "film.csv"
    env = environment(folder, **pads.env)
    arguments = ("--rig", rig, "--template", str(table), "--times", str(TIMES), "--now")
    try:
        code, played, err = measure(folder, *arguments, env=env)
    finally:
        loudspeaker.stop()
    assert code == 0, err
    seen = seen_ns(strip, pads, loudspeaker)
    began_ns = seen["light"][0] - 3_210_000_000
    empty = table.read_text("utf-8")
    with table.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        at_ns = seen[row["device"]][int(row["cue"]) - 1]
        row["frame"] = math.ceil((at_ns - began_ns) * FPS / 1e9)
    rows[5]["frame"] += 40                     # miscounted
    rows[10]["frame"] = ""                     # not seen
    with table.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    before = landings(folder / "before", rig, CUES_AT_MS[:3])      # a tenth of a second apart is seen by few
    code, read, err = measure(folder, "--rig", rig, "--frames", str(table), "--fps", str(FPS), "--write", env=env)
    assert code == 0, err
    return {"rig": rig, "folder": folder, "played": played, "empty": empty, "rows": rows, "seen": seen, "read": read,
            "before": before}  # fmt: skip


def landings(folder, rig, cues_at_ms):
    """Play a plan on fresh devices of the same delays; return how long after its cues each device was seen, in ms."""
    folder.mkdir()
    strip, pads = Strip(folder), Pads(folder)
    text = Path(rig).read_text("utf-8")
    port = next(line for line in text.splitlines() if line.startswith("port"))
    (folder / "rig.toml").write_text(text.replace(port, f'port = "{strip.link}"'), "utf-8")
    plan = folder / "plan.toml"
    plan.write_text(PLAN.format(cues="".join(CUE.format(n=n, at_ms=ms) for n, ms in enumerate(cues_at_ms))), "utf-8")
    loudspeaker = Loudspeaker(folder / "sound.pcm")
    run = Run(folder, "--start", "now", "--plan", str(plan), rig=str(folder / "rig.toml"), env=pads.env)
    try:
        origin_ns = run.await_record(kind="origin")["origin_ns"]
        last = f"cue_{len(cues_at_ms) - 1}"
        wait_for(lambda: len([r for r in firings(run.records()) if r["cue"] == last]) == len(DEVICE_MS))
        run.process.terminate()
        run.finish()
    finally:
        loudspeaker.stop()
        if run.process.poll() is None:
            run.kill()
    due_ns = [origin_ns + ms * NS_PER_MS for ms in cues_at_ms]
    # The first thing that is seen or heard of a cue: the loudspeaker may speak its word behind the tone.
    return {
        device: [
            (next(at_ns for at_ns in times if at_ns > cue_ns - 250 * NS_PER_MS) - cue_ns) / NS_PER_MS
            for cue_ns in due_ns
        ]
        for device, times in seen_ns(strip, pads, loudspeaker).items()
    }


def apart_ms(landed):
    """Return how far apart devices land, the middle of each over all cues: single ones also tell how busy it was."""
    middles = [statistics.median(times) for times in landed.values()]
    return max(middles) - min(middles)


def test_the_empty_table_asks_for_every_device_of_every_cue_in_order(filmed):
    rows = list(csv.reader(filmed["empty"].splitlines()))
    assert rows[0] == ["cue", "device", "called_ms", "frame"]
    assert [(row[0], row[1]) for row in rows[1:]] == [
        (str(cue), device) for cue in range(1, TIMES + 1) for device in ("driver", "operator", "light", "sound")
    ]
    assert {row[3] for row in rows[1:]} == {""}
    assert filmed["played"]["delays"] == []


def test_calls_of_one_cue_come_at_one_instant_whatever_the_rig_says(filmed):
    called = {}
    for row in filmed["rows"]:
        called.setdefault(row["cue"], []).append(float(row["called_ms"]))
    assert statistics.median(max(times) - min(times) for times in called.values()) < 5


def test_known_delays_are_read_from_the_film(filmed):
    """Against the stand's own times, from the call of the strip on: so what the stand itself takes is in both."""
    seen = filmed["seen"]
    called_ms = {(row["device"], int(row["cue"])): float(row["called_ms"]) for row in filmed["rows"]}
    readings = {delay["device"]: delay["reading"] for delay in filmed["read"]["delays"]}
    assert readings["light"]["median_ms"] == pytest.approx(STRIP_MS, abs=0.01)
    for device in ("driver", "operator", "sound"):
        true_ms = [
            STRIP_MS
            + (seen[device][n] - seen["light"][n]) / NS_PER_MS
            - (called_ms[device, n + 1] - called_ms["light", n + 1])
            for n in range(TIMES)
        ]
        # The middle: a stand that once sees something late makes an outlier, which the measurement refuses.
        assert abs(readings[device]["median_ms"] - statistics.median(true_ms)) < allowed(BIAS_MS)
        # The stand's own unrest, of a busy machine, is in the film: the reading adds no more than a device may.
        assert readings[device]["spread_ms"] < statistics.stdev(true_ms) + SPREAD_MS
    assert abs(readings["driver"]["median_ms"] - DEVICE_MS["driver"]) < allowed(BIAS_MS)
    assert abs(readings["operator"]["median_ms"] - DEVICE_MS["operator"]) < allowed(BIAS_MS)
    # SDL's disk driver takes some milliseconds more, from play() to the block.
    assert readings["sound"]["median_ms"] > DEVICE_MS["sound"]


def test_a_miscounted_picture_is_refused_and_a_missing_one_left_out(filmed):
    readings = {delay["device"]: delay["reading"] for delay in filmed["read"]["delays"]}
    assert (filmed["rows"][5]["device"], filmed["rows"][10]["device"]) == ("operator", "light")
    # On a busy machine a stand that sees something late makes an outlier too.
    assert readings["operator"]["refused"] >= 1
    assert {readings[device]["n"] + readings[device]["refused"] for device in ("driver", "operator")} == {TIMES - 1}


def test_what_was_measured_stands_in_the_rig(filmed):
    rig = load_rig(filmed["rig"])
    wanted = {delay["device"]: round(delay["reading"]["median_ms"]) for delay in filmed["read"]["delays"]}
    found = {pad.role: pad.latency_ns for pad in rig.pads}
    assert rig.light is not None
    assert rig.sound is not None
    found |= {"light": rig.light.latency_ns, "sound": rig.sound.latency_ns}
    assert found == {device: ms * NS_PER_MS for device, ms in wanted.items()}
    assert filmed["read"]["written"]
    assert filmed["read"]["latency_ms"] == wanted


def test_all_devices_land_together_only_afterwards(filmed):
    assert apart_ms(filmed["before"]) > 100
    after = landings(filmed["folder"] / "after", filmed["rig"], CUES_AT_MS)
    sound = after.pop("sound")
    assert apart_ms(after) < allowed(BIAS_MS), after
    # The stand's loudspeaker is no device of constant delay: SDL's disk driver begins a tone with one of its next
    # blocks, in one play some blocks sooner than in another (18 ms apart were seen while other tests ran beside it).
    assert apart_ms({**after, "sound": sound}) < allowed(BIAS_MS) + 4 * BLOCK_MS, sound
    assert all(abs(statistics.median(times)) < allowed(SPREAD_MS) for times in after.values()), after


def test_where_no_microphone_is_it_says_so_before_anything_sounds(tmp_path, strip):
    env = environment(tmp_path, SDL_DISKAUDIOFILEIN=str(tmp_path / "nothing" / "ear"))
    rig = rig_file(tmp_path, strip)
    code, _, err = measure(tmp_path, "--rig", rig, "--microphone", "loud hailer", "--now", env=env)
    assert (code, "no microphone is called 'loud hailer'" in err) == (21, True)
    code, _, err = measure(tmp_path, "--rig", rig, "--microphone", "--now", env=env)
    assert (code, "the microphone does not open" in err) == (21, True)
    assert not (tmp_path / "sound.pcm").exists()


HEARD_AFTER_MS = 87.0


def test_a_microphone_hears_a_known_delay(tmp_path, strip):
    """The strip stands for the instant of the call: its frames come some tenths of a millisecond after it."""
    rig = rig_file(tmp_path, strip)
    ear, table = tmp_path / "ear", tmp_path / "film.csv"
    room = Room(tmp_path / "sound.pcm", ear, HEARD_AFTER_MS)
    # The delay of 10 ms is what the driver takes anyway for blocks of 512; the recorder then waits for the room alone.
    env = environment(tmp_path, SDL_DISKAUDIOFILEIN=str(ear), SDL_DISKAUDIODELAY="10")
    hears = ("--microphone", "--microphone-ms", "20", "--template", str(table), "--times", "6")
    try:
        code, found, err = measure(tmp_path, "--rig", rig, *hears, "--now", "--write", env=env)
    finally:
        room.stop()
    assert code == 0, err
    (delay,) = found["delays"]
    with table.open(newline="", encoding="utf-8") as file:
        called_ms = {(row["device"], int(row["cue"])): float(row["called_ms"]) for row in csv.DictReader(file)}
    calls_ns = [
        at_ns + (called_ms["sound", n] - called_ms["light", n]) * NS_PER_MS for n, at_ns in enumerate(lit_ns(strip), 1)
    ]
    true_ms = [(at_ns - call_ns) / NS_PER_MS for at_ns, call_ns in zip(room.begins_ns, calls_ns, strict=True)]
    assert (delay["device"], delay["method"], found["unheard"]) == ("sound", "microphone", 0)
    assert delay["reading"]["n"] + delay["reading"]["refused"] == 6
    assert abs(delay["reading"]["median_ms"] - (statistics.median(true_ms) - 20)) < allowed(BIAS_MS)
    assert delay["reading"]["spread_ms"] < SPREAD_MS
    sound = load_rig(rig).sound
    assert sound is not None
    assert sound.latency_ns == round(delay["reading"]["median_ms"]) * NS_PER_MS
