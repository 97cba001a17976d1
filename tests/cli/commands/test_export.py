"""``tocsin export``: where it writes, what it refuses, and that nothing of somebody else's is lost."""

import json
import re
from pathlib import Path

import pytest

from tocsin.cli.main import main
from tocsin.export.box.image import flash_of

Output = pytest.CaptureFixture[str]
OUT = {
    "card": "card.pdf", "java": "Cues.java", "python": "cues.py", "c": "cues.h", "json": "cues.json",
    "page": "cues.html", "box": "box.hex",
}  # fmt: skip


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("target", "name"), OUT.items())
def test_every_target_is_written_alike_twice_and_says_what_it_is(
    target: str, name: str, folder: Path, capsys: Output
) -> None:
    assert main(["export", "--to", target, "-o", name]) == 0
    assert capsys.readouterr().out == f"wrote {name}\n"
    first = (folder / name).read_bytes()
    assert b"Made by Tocsin" in (flash_of(first) or first)
    assert main(["export", "--to", target, "-o", name]) == 0, "an export of ours is replaced"
    assert (folder / name).read_bytes() == first
    assert [path.name for path in folder.iterdir()] == [name]


def test_without_a_file_it_is_printed(capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["export", "--to", "json", "--plan", "quiet"]) == 0
    assert json.loads(capsysbinary.readouterr().out)["plan"]["name"] == "Quiet"
    assert main(["export", "--to", "card", "--size", "a6"]) == 0
    assert b"<svg" in capsysbinary.readouterr().out


def test_a_card_that_lacks_rows_says_so_at_once(folder: Path, capsys: Output) -> None:
    """Two dozen cues on a card for a wrist; the bundled plan has room."""
    cues = "".join(
        f'[[cue]]\nid = "c{n}"\nat = "driver.end-{119 - 4 * n}s"\nscreen = "prepare"\nsay = "Word {n}"\n'
        for n in range(24)
    )
    head = 'format = "tocsin-plan/1"\nname = "Many"\ngame = "casting_day"\n'
    (folder / "many.toml").write_text(head + cues, encoding="utf-8")
    assert main(["export", "--to", "card", "--size", "a6", "--plan", "many.toml", "-o", "many.svg"]) == 0
    told = capsys.readouterr()
    assert told.out == "wrote many.svg\n"
    assert "no room on this card for " in told.err
    assert "its bottom names what it can. --size a4 has more." in told.err
    assert main(["export", "--to", "card", "--plan", "many.toml", "-o", "wall.svg"]) == 0
    assert capsys.readouterr().err == ""


def test_the_card_of_an_event_is_of_the_plan_for_events(folder: Path, capsys: Output) -> None:
    """Without the option somebody would print the other plan's card, and nothing would say so."""
    project = 'format = "tocsin-project/1"\nname = "Ours"\nplan = ["full"]\n[event]\nplan = "quiet"\n'
    (folder / "tocsin.toml").write_text(project, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("TOCSIN_PROJECT", raising=False)
        assert main(["export", "--to", "card", "-o", "usual.svg"]) == 0
        told = capsys.readouterr()
        assert "for an event: --at event makes the card of your plan for events, quiet" in told.err
        assert main(["export", "--to", "box", "-o", "box.hex"]) == 0
        told = capsys.readouterr()
        assert "for an event: --at event makes the box of your plan for events, quiet" in told.err
        assert main(["export", "--to", "card", "--at", "event", "-o", "card.svg"]) == 0
        told = capsys.readouterr()
        assert "plan of events quiet" in told.err
        assert "for an event" not in told.err
        assert main(["export", "--to", "card", "--plan", "quiet", "-o", "quiet.svg"]) == 0
        assert "for an event" not in capsys.readouterr().err
    assert (folder / "card.svg").read_bytes() == (folder / "quiet.svg").read_bytes()
    assert (folder / "card.svg").read_bytes() != (folder / "usual.svg").read_bytes()


def test_the_page_of_an_event_begins_without_sound(folder: Path) -> None:
    for at, checked in (("practice", True), ("event", False)):
        assert main(["export", "--to", "page", "--plan", "full", "--at", at, "-o", f"{at}.html"]) == 0
        (box,) = re.findall(r"<input[^>]*sound-on[^>]*>", (folder / f"{at}.html").read_text(encoding="utf-8"))
        assert ("checked" in box) == checked


def test_what_a_page_recorded_is_no_earlier_export(folder: Path, capsys: Output) -> None:
    """It says that Tocsin made it, too, and nobody can make a match again."""
    record = '{"kind": "source", "format": "tocsin-page/1", "made_by": "Made by Tocsin 0.1.0."}\n'
    (folder / "match.json").write_text(record, encoding="utf-8")
    assert main(["export", "--to", "json", "-o", "match.json"]) == 2
    assert "match.json is there, and another kind of file" in capsys.readouterr().err
    assert (folder / "match.json").read_text(encoding="utf-8") == record


def test_what_somebody_else_wrote_is_kept(folder: Path, capsys: Output) -> None:
    (folder / "robot.py").write_text("print('our robot')\n", encoding="utf-8")
    assert main(["export", "--to", "python", "-o", "robot.py"]) == 2
    assert (folder / "robot.py").read_text(encoding="utf-8") == "print('our robot')\n"
    assert "Tocsin did not make it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (["--to", "json", "-o", "cues.txt"], "cues.json"),
        (["--to", "card", "-o", "."], "name a file in it"),
        (["--to", "java", "-o", "my-cues.java"], "TocsinCues.java"),
        (["--to", "json", "--size", "a6"], "--to card"),
        (["--to", "json", "--plan", "ful"], "full"),
        (["--to", "json", "-o", "file/cues.json"], "a file is in the way: move it"),
    ],
)
def test_what_does_not_fit_is_refused_with_a_hint(
    arguments: list[str], hint: str, folder: Path, capsys: Output
) -> None:
    (folder / "file").write_text("no folder", encoding="utf-8")
    assert main(["export", *arguments]) == 2
    err = capsys.readouterr().err
    assert hint in err
    assert "Traceback" not in err
    assert sorted(path.name for path in folder.iterdir()) == ["file"]


def test_a_plan_with_mistakes_is_not_exported(folder: Path, capsys: Output) -> None:
    (folder / "bad.toml").write_text('format = "tocsin-plan/1"\nname = "Bad"\ngame = "nowhere"\n', encoding="utf-8")
    assert main(["export", "--to", "json", "--plan", "bad.toml", "-o", "cues.json"]) == 20
    assert not (folder / "cues.json").exists()
    assert "bad.toml, line 3" in capsys.readouterr().err


def test_a_box_takes_its_strip_from_the_rig_and_says_what_to_do_next(folder: Path, capsys: Output) -> None:
    rig = (
        'format = "tocsin-rig/1"\nname = "R"\n[light]\nport = "/dev/ttyUSB0"\nleds = 12\nmax_ma = 300\n'
        'order = "BGR"\n'
    )
    (folder / "r.toml").write_text(rig, encoding="utf-8")
    assert main(["export", "--to", "box", "--rig", "r.toml", "-o", "our box.hex"]) == 0
    told = capsys.readouterr()
    assert told.out == "wrote our box.hex\n"
    assert "strip: 12 LEDs, BGR, 300 mA at most" in told.err
    assert 'avrdude -p m328p -c arduino -P PORT -b 115200 -D -U flash:w:"our box.hex":i' in told.err
    assert "No cue stops a robot." in told.err
    assert "Own battery, never the robot's." in told.err
    (folder / "r.toml").write_text(rig.replace('order = "BGR"\n', ""), encoding="utf-8")
    assert main(["export", "--to", "box", "--rig", "r.toml", "-o", "our box.hex"]) == 0
    err = capsys.readouterr().err
    assert "12 LEDs, GRB" in err, "no board behind a port turns the colours round"
    assert "order: the rig's RGB means that a board turns the colours round" in err


def test_what_the_box_cannot_hold_is_refused_with_the_figure(folder: Path, capsys: Output) -> None:
    rig = 'format = "tocsin-rig/1"\nname = "R"\n[light]\nport = "/dev/ttyUSB0"\nleds = 144\n'
    (folder / "r.toml").write_text(rig, encoding="utf-8")
    assert main(["export", "--to", "box", "--rig", "r.toml", "-o", "box.hex"]) == 20
    assert "the box has memory for 50 LEDs, and this rig's strip has 144" in capsys.readouterr().err
    plan = 'format = "tocsin-plan/1"\nname = "Many"\ngame = "casting_day"\n' + "".join(
        f'[[cue]]\nid = "c{n}"\nat = "driver.begin+{n}s"\nrumble = "short"\nsay = "W"\n' for n in range(40)
    )
    (folder / "many.toml").write_text(plan, encoding="utf-8")
    assert main(["export", "--to", "box", "--plan", "many.toml", "-o", "box.hex"]) == 20
    assert "and this plan has 8" in capsys.readouterr().err
    assert not (folder / "box.hex").exists()


def test_a_box_whose_strip_takes_more_than_its_fuse_allows_is_refused(folder: Path, capsys: Output) -> None:
    """A strip of a bench with a supply of 5 A: the battery of the box has a fuse of 1 A."""
    rig = 'format = "tocsin-rig/1"\nname = "R"\n[light]\nport = "/dev/ttyUSB0"\nleds = 50\nmax_ma = 3700\n'
    (folder / "r.toml").write_text(rig, encoding="utf-8")
    assert main(["export", "--to", "box", "--rig", "r.toml", "-o", "box.hex"]) == 20
    err = capsys.readouterr().err
    assert "max_ma = 3700" in err
    assert "with max_ma = 400 or less" in err
    assert not (folder / "box.hex").exists()
    (folder / "r.toml").write_text(rig.replace("3700", "400"), encoding="utf-8")
    assert main(["export", "--to", "box", "--rig", "r.toml", "-o", "box.hex"]) == 0
    assert "50 LEDs, GRB, 400 mA at most" in capsys.readouterr().err


def test_the_file_of_a_box_is_not_printed(folder: Path, capsys: Output) -> None:
    assert main(["export", "--to", "box"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "-o box.hex" in told.err


def test_a_rig_goes_with_a_box_only(capsys: Output) -> None:
    assert main(["export", "--to", "json", "--rig", "nothing"]) == 2
    assert "--rig is for a box" in capsys.readouterr().err


def test_a_program_of_somebody_else_is_not_overwritten(folder: Path, capsys: Output) -> None:
    """Another board's program, as any compiler writes it."""
    (folder / "box.hex").write_text(":0400000001020304F2\n:00000001FF\n", encoding="ascii")
    assert main(["export", "--to", "box", "-o", "box.hex"]) == 2
    assert "Tocsin did not make it" in capsys.readouterr().err
