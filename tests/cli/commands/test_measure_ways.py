"""``tocsin measure delays`` and ``tocsin measure start`` from the command line, as far as no device is needed."""

import json
import re

import pytest

from tocsin.analysis.delays.film import FilmRow, cue_times_ns, film_text
from tocsin.cli.main import main
from tocsin.config.load import load_rig
from tocsin.units import NS_PER_MS

RIG = """\
format = "tocsin-rig/1"
name = "Bench of ours"
drives_robot = false

[[pad]]
role = "driver"
usb = "1209:0001"
latency_ms = 80          # guessed

[light]
port = "COM3"
leds = 30
latency_ms = 4

[screen]
latency_ms = 16
"""
# 8N1 at 115200 baud, 95 bytes; 280 us of latch: computed from data sheets (the latch from memory). 35 us a LED, as
# measured on the emulated chip that runs Tocsin's firmware; the strip itself takes 30 (WS2812B datasheet).
STRIP_MS = 95 * 10 / 115.2 + 30 * 0.035 + 0.28
TRUE_MS = {"driver": 110.0, "light": STRIP_MS, "screen": 55.0}


@pytest.fixture
def rig(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    return path


@pytest.fixture
def film(tmp_path):
    """A film at 240 frames a second of devices with TRUE_MS."""
    rows = [
        FilmRow(cue, device, at_ns / NS_PER_MS, float(int((at_ns / NS_PER_MS + true_ms) * 240 / 1000) + 1001))
        for cue, at_ns in enumerate(cue_times_ns(12), 1)
        for device, true_ms in TRUE_MS.items()
    ]
    path = tmp_path / "film.csv"
    path.write_text(film_text(rows), encoding="utf-8")
    return path


def test_a_film_is_read_and_written_into_the_rig(rig, film, capsys):
    assert main(["measure", "delays", "--rig", str(rig), "--frames", str(film), "--write"]) == 0
    out = capsys.readouterr().out
    assert "Compared with light: its 9.6 ms are computed" in out
    assert "With this rig they come" in out
    assert f"Wrote latency_ms into {rig}" in out
    found = load_rig(str(rig))
    assert found.pads[0].latency_ns / NS_PER_MS == pytest.approx(110, abs=1)
    assert found.light.latency_ns / NS_PER_MS == pytest.approx(STRIP_MS, abs=0.6)
    assert found.screen.latency_ns / NS_PER_MS == pytest.approx(55, abs=1)
    assert "# guessed" in rig.read_text(encoding="utf-8")


def test_json_holds_every_figure_and_nothing_is_written_unasked(rig, film, capsys):
    assert main(["measure", "delays", "--rig", str(rig), "--frames", str(film), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {delay["device"]: delay["reading"]["n"] for delay in found["delays"]} == dict.fromkeys(TRUE_MS, 12)
    assert found["rig_ms"] == {"driver": 80.0, "light": 4.0, "screen": 16.0}
    assert not found["written"]
    assert rig.read_text(encoding="utf-8") == RIG


def test_another_reference_moves_all_alike(rig, film, capsys):
    arguments = ["measure", "delays", "--rig", str(rig), "--frames", str(film), "--json"]
    main([*arguments, "--reference", "screen"])
    found = json.loads(capsys.readouterr().out)
    assert found["reference"] == "Only differences to screen were measured; its 16 ms come from the rig."
    assert {one["device"]: one["reading"]["median_ms"] for one in found["delays"]} == {
        "screen": 16, "driver": pytest.approx(110 - 55 + 16, abs=2), "light": pytest.approx(STRIP_MS - 55 + 16, abs=2)
    }  # fmt: skip
    # The strip answers before its call, if the screen takes but 16 ms: all are moved up by what is below nothing.
    assert found["latency_ms"] == {
        "light": 0, "screen": pytest.approx(55 - STRIP_MS, abs=2), "driver": pytest.approx(110 - STRIP_MS, abs=2)
    }  # fmt: skip
    main([*arguments, "--reference", "screen", "--reference-ms", "55"])
    found = json.loads(capsys.readouterr().out)
    assert found["latency_ms"]["driver"] == pytest.approx(110, abs=2)


def test_where_all_are_moved_up_it_is_said_by_how_much(rig, film, capsys):
    """By definition: the strip answers 55 less STRIP_MS before the screen, whose delay is given as 12 ms."""
    arguments = ["measure", "delays", "--rig", str(rig), "--frames", str(film), "--write"]
    assert main([*arguments, "--reference", "screen", "--reference-ms", "12"]) == 0
    (wrote,) = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Wrote latency_ms")]
    moved = re.search(r"; all (\d+) ms more than measured, since none may be negative\.$", wrote)
    assert moved is not None
    assert int(moved[1]) == pytest.approx(55 - STRIP_MS - 12, abs=2)
    found = load_rig(str(rig))
    assert (found.screen.latency_ns / NS_PER_MS, found.light.latency_ns) == (12 + int(moved[1]), 0)
    main([*arguments, "--reference", "screen", "--reference-ms", "55"])
    assert "since none may be negative" not in capsys.readouterr().out


def test_a_film_of_another_rig_asks_whether_it_is_the_right_one(tmp_path, film, capsys):
    bare = tmp_path / "bare.toml"
    bare.write_text('format = "tocsin-rig/1"\nname = "Bare"\ndrives_robot = false\n[screen]\n', encoding="utf-8")
    assert main(["measure", "delays", "--rig", str(bare), "--frames", str(film)]) == 20
    err = capsys.readouterr().err
    assert err.count("is not a device of this rig") == 2, "one line for each device, not for each of 24 rows"
    assert "line 2 and 11 more: 'driver' is not a device of this rig, which has screen: is it the right rig?" in err


def test_a_table_with_mistakes_leaves_with_all_of_them(rig, film, capsys):
    film.write_text(film.read_text("utf-8") + "1,lamp,,5\nx,light,,6\n", encoding="utf-8")
    assert main(["measure", "delays", "--rig", str(rig), "--frames", str(film), "--write"]) == 20
    err = capsys.readouterr().err
    told = "'lamp' is not a device of this rig, which has driver, light, screen: is it the right rig?"
    assert f"{film}: line 38: {told}" in err
    assert f"{film}: line 39: 'x' is not a cue" in err
    assert rig.read_text(encoding="utf-8") == RIG


def test_pictures_counted_in_another_way_are_refused(rig, film, capsys):
    assert main(["measure", "delays", "--rig", str(rig), "--frames", str(film), "--fps", "120"]) == 20
    assert "frames a second, not 120: write --fps 240" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        ([], 2, "say how to measure the delays"),
        (["--template", "x.csv", "--write"], 2, "nothing to write before the film's table is read"),
        (["--microphone"], 2, "no sound for the microphone to hear"),
        (["--template", "x.csv", "--only", "sound"], 2, "none of these devices"),
        (["--frames", "none.csv"], 2, "none.csv cannot be read"),
        (["--template", "x.csv", "--frames", "y.csv"], 2, "not allowed with"),
        (["--frames", "x.csv", "--microphone"], 2, "not allowed with"),
        (["--template", "x.csv", "--times", "2"], 2, "not a whole number from 3 to 60"),
        (["--frames", "x.csv", "--fps", "fast"], 2, "'fast' is not a number"),
        (["--frames", "x.csv", "--fps", "5"], 2, "not within 20 to 2000 frames a second"),
    ],
)
def test_what_does_not_fit_is_refused_before_anything_lights_up(rig, arguments, code, says, capsys):
    try:
        left = main(["measure", "delays", "--rig", str(rig), *arguments])
    except SystemExit as leaving:
        left = leaving.code
    assert (left, says in capsys.readouterr().err) == (code, True)


def test_pads_of_a_laptop_that_drives_a_robot_are_not_shaken_unasked(rig, capsys):
    rig.write_text(RIG.replace("drives_robot = false", "drives_robot = true"), encoding="utf-8")
    assert main(["measure", "delays", "--rig", str(rig), "--template", "x.csv", "--now"]) == 2
    assert "not shaken unasked" in capsys.readouterr().err


def test_another_reference_than_the_rig_has_is_refused(rig, film, capsys):
    assert main(["measure", "delays", "--rig", str(rig), "--frames", str(film), "--reference", "horn"]) == 2
    assert "it has driver, light, screen" in capsys.readouterr().err


@pytest.mark.parametrize("way", ["delays", "start"])
def test_a_bundled_rig_stays_as_it_is(way, capsys):
    arguments = ["--frames", "film.csv"] if way == "delays" else []
    assert main(["measure", way, "--rig", "practice_bench", "--write", *arguments]) == 2
    assert "tocsin init my_team" in capsys.readouterr().err
