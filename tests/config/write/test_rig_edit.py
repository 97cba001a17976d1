"""Values put into a rig file: they stand where they should, and nothing else has changed."""

import datetime
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.config.good_files import RIG
from tocsin.config import bundle
from tocsin.config.load import load_rig
from tocsin.config.write.rig_edit import edited, own_rig, write_values
from tocsin.errors import TocsinError, UsageError
from tocsin.units import NS_PER_MS

DAY = datetime.date(2031, 3, 1)


def bundled(name: str) -> str:
    return (bundle.root() / "rigs" / f"{name}.toml").read_text(encoding="utf-8")


def test_a_value_that_is_there_is_replaced_and_its_comment_stays():
    text = "[light]\nleds = 30\nlatency_ms = 4   # with the long cable\nport = 'COM3'\n"
    assert edited(text, {("light", "latency_ms"): 9}) == text.replace("= 4 ", "= 9 ")


def test_a_value_that_is_not_there_is_added_to_its_table():
    text = "# ours\n[light]\nleds = 30\n\n[sound]\nvolume = 0.8\n"
    assert edited(text, {("light", "confirmed"): DAY}) == text.replace(
        "leds = 30\n", "leds = 30\nconfirmed = 2031-03-01\n"
    )


def test_a_table_that_is_not_there_is_added():
    text = "# ours\nname = 'Bench'\n"
    changed = edited(text, {("start", "late_ms"): 210})
    assert changed.startswith(text)
    assert tomllib.loads(changed) == {"name": "Bench", "start": {"late_ms": 210}}


def test_lines_that_end_as_on_windows_still_do():
    text = "[light]\r\nleds = 30\r\n"
    assert edited(text, {("light", "latency_ms"): 9}) == "[light]\r\nleds = 30\r\nlatency_ms = 9\r\n"


def test_the_right_one_of_several_pads_is_changed():
    text = '[[pad]]\nrole = "driver"\n\n[[pad]]\nrole = "operator"\nlatency_ms = 80\n'
    changed = tomllib.loads(edited(text, {("pad", 1, "latency_ms"): 95, ("pad", 0, "latency_ms"): 70}))
    assert [(pad["role"], pad["latency_ms"]) for pad in changed["pad"]] == [("driver", 70), ("operator", 95)]


@given(st.sampled_from(bundle.names("rigs")), st.integers(0, 2000), st.integers(10, 2000))
def test_all_else_of_a_bundled_rig_stays(name, latency_ms, spread_ms):
    """Checked with the standard library's own reader, and line by line."""
    text = bundled(name)
    changed = edited(text, {("sound", "latency_ms"): latency_ms, ("start", "spread_ms"): spread_ms})
    before, after = tomllib.loads(text), tomllib.loads(changed)
    before.setdefault("sound", {})["latency_ms"] = latency_ms
    before.setdefault("start", {})["spread_ms"] = spread_ms
    assert after == before
    kept = changed.splitlines()
    assert [line for line in text.splitlines() if line not in kept and "latency_ms" not in line] == []


def test_a_rig_reads_what_was_written(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_bytes(RIG.replace("\n", "\r\n").encode())
    write_values(path, {("pad", 0, "confirmed"): DAY, ("screen", "latency_ms"): 31, ("start", "late_ms"): -40})
    assert path.read_bytes().count(b"\n") == path.read_bytes().count(b"\r\n") > RIG.count("\n")
    rig = load_rig(str(path))
    assert rig.pads[0].confirmed == "2031-03-01"
    assert rig.screen is not None
    assert (rig.screen.latency_ns, rig.start.error_ms[0]) == (31 * NS_PER_MS, -40)


@pytest.mark.parametrize("text", ["name = ", 'format = "tocsin-rig/1"\nname = "Bench"\nleds = 3\n'])
def test_a_rig_with_a_mistake_is_left_as_it_is(tmp_path, text):
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TocsinError):
        write_values(path, {("light", "latency_ms"): 9})
    assert path.read_text(encoding="utf-8") == text


def test_a_pad_that_is_not_there_is_refused(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    with pytest.raises(TocsinError, match="number 7"):
        write_values(path, {("pad", 7, "latency_ms"): 9})
    assert path.read_text(encoding="utf-8") == RIG


@pytest.mark.parametrize("argument", ["practice_bench", str(bundle.root() / "rigs" / "practice_bench.toml")])
def test_a_bundled_rig_is_not_written_into(argument):
    with pytest.raises(UsageError, match="comes with Tocsin") as error:
        own_rig(argument)
    assert "tocsin init my_team" in error.value.hint
    assert "my_team/rigs/practice_bench.toml" in error.value.hint


def test_a_rig_of_ones_own_may_be_written_into(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_text(RIG, encoding="utf-8")
    assert own_rig(str(path)) == path
    with pytest.raises(UsageError, match="there is no file"):
        own_rig(str(tmp_path / "other.toml"))
