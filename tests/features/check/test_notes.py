"""What speaks against a plan, on its picture: each finding of ``tocsin check`` once, at its cue."""

import re
from pathlib import Path

import pypdf
import pytest

from tests.support.export.exported_plans import BUNDLED, bundled
from tocsin.cli.main import main
from tocsin.cli.source import source_of
from tocsin.features.check.notes import notes_of
from tocsin.model.timeline.point import Point
from tocsin.units import NS_PER_S as S

# In the bundled plans' invented game the pause begins at 28 s, the drivers at 39, the last windows at 111 and 118 s.
PLAN = """
format = "tocsin-plan/1"
name = "Wrong"
game = "casting_day"
[lead]
break_off = "2s"
[[cue]]
id = "shelf"
at = "pause.begin+2s"
rumble = "weak"
screen = "prepare"
[[cue]]
id = "waver"
at = ["driver.begin+40s", "driver.begin+60s"]
say = "Stop"
light = "fast"
screen = "prepare"
[[cue]]
id = "home"
at = "no_contact.begin-break_off"
rumble = "weak"
light = "home"
screen = "home"
[[cue]]
id = "now"
callable = true
rumble = "weak"
[pattern.light.fast]
form = "on_off"
colours = ["white"]
cycle = "200ms"
lasts = "2s"
[pattern.rumble.weak]
steps = [ { strong = 0.3, lasts = "300ms" } ]
"""


@pytest.fixture
def plan(tmp_path: Path) -> str:
    path = tmp_path / "wrong.toml"
    path.write_text(PLAN, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("name", BUNDLED)
def test_nothing_speaks_against_the_bundled_plans(name: str) -> None:
    assert notes_of(bundled(name)) == []


def test_each_stands_where_its_cue_comes(plan: str) -> None:
    notes = notes_of(source_of(plan, None))
    places = {(note.text.partition(":")[0], note.rank): note.point for note in notes}
    at_home, at_shelf, at_waver = Point("match", 116 * S), Point("match", 30 * S), Point("match", 79 * S)
    assert places["warning, lead_short", 1] == at_home           # the cue that uses the lead
    assert places["warning, hands_away", 1] == at_shelf
    assert places["error, reserved_word", 0] == places["error, flash", 0] == at_waver
    assert places["warning, rumble_alone", 1] == Point("call.now", 0)
    # A pattern that three cues use is told of once, where it comes first.
    weak = [note for note in notes if "weak_pulse" in note.text]
    assert [note.point for note in weak] == [at_shelf]


def test_it_is_what_check_finds(plan: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", plan]) == 20
    checked = set(re.findall(r"(error|warning|advice) \((\w+)\)", capsys.readouterr().out))
    noted = {tuple(note.text.partition(":")[0].split(", ")) for note in notes_of(source_of(plan, None))}
    assert noted == checked


def test_a_window_that_nothing_announces_has_its_note_there(tmp_path: Path) -> None:
    path = tmp_path / "quiet.toml"
    path.write_text(PLAN.split("[[cue]]")[0].replace('[lead]\nbreak_off = "2s"\n', ""), encoding="utf-8")
    notes = [note for note in notes_of(source_of(str(path), None)) if "window_unannounced" in note.text]
    assert {note.point for note in notes} == {Point("match", 111 * S), Point("match", 118 * S)}


def test_a_window_that_pays_needs_no_call_ahead_where_the_call_home_comes_in_it(tmp_path: Path) -> None:
    """The belfry counts from 111 s on, the call home comes at 114 s; one at 110 s announces it, one at 80 s not."""
    path = tmp_path / "one_call.toml"
    found = {}
    for at in ("no_contact.begin-4s", "driver.end-26s", "driver.end-56s"):
        cue = f'[[cue]]\nid = "home"\nat = "{at}"\ncallable = true\nlight = "home"\n'
        path.write_text(PLAN.split("[lead]")[0] + cue, encoding="utf-8")
        found[at] = [note.text for note in notes_of(source_of(str(path), None)) if "'Belfry counts'" in note.text]
    assert [len(texts) for texts in found.values()] == [0, 0, 1]


def test_what_is_about_the_plan_as_a_whole_has_no_place(tmp_path: Path) -> None:
    path = tmp_path / "shaking.toml"
    cue = '[[cue]]\nid = "long"\nat = "driver.begin"\nevery = "2s"\nuntil = "driver.end"\n'
    path.write_text(PLAN.split("[lead]")[0] + cue + 'rumble = "close"\nlight = "home"\n', encoding="utf-8")
    (note,) = [note for note in notes_of(source_of(str(path), None)) if "much_vibration" in note.text]
    assert note.point is None


def test_the_picture_lists_them_and_the_wall_does_not(plan: str, tmp_path: Path) -> None:
    texts = []
    for more in ([], ["--wall"]):
        out = tmp_path / "plan.pdf"
        assert main(["preview", "--plan", plan, "-o", str(out), *more]) == 0
        texts.append(re.sub(r"\s+", "", pypdf.PdfReader(out).pages[0].extract_text()))
    sheet, wall = texts
    for note in notes_of(source_of(plan, None)):
        code = note.text.partition(":")[0].replace(" ", "")
        assert code in sheet
        assert code not in wall
    assert "notesbelow" in sheet
    assert "notesbelow" not in wall
