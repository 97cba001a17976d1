"""``tocsin preview``: the table in a terminal, as JSON, as CSV; the picture."""

import contextlib
import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pypdf
import pytest

from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]
# The bundled plan as the design has it: what the official display reads, and which cue comes then.
FULL = [
    ("0:11", "pads"), ("1:35", "alive"), ("0:34", "last_load"), ("0:23", "coach_call"), ("0:22", "home"),
    ("0:18", "no_touch"), ("0:10", "choose"), ("0:05", "last_five"), ("0:04", "last_five"), ("0:03", "last_five"),
    ("0:02", "last_five"), ("0:01", "last_five"), ("0:00", "over"), ("by hand", "home"),
]  # fmt: skip


def test_the_table_shows_every_cue_in_order(capsys: Output) -> None:
    assert main(["preview"]) == 0
    out = capsys.readouterr().out
    lines = [line for line in out.splitlines() if line.strip()]
    assert lines.pop().startswith("by hand: "), "below the table it says what that is"
    head = next(n for n, line in enumerate(lines) if line.split()[:2] == ["left", "cue"])
    assert len(lines) - head - 1 == len(FULL)
    for line, (left, cue) in zip(lines[head + 1 :], FULL, strict=True):
        assert line.strip().startswith(left)
        assert line.split(left, 1)[1].split()[0] == cue
    assert "The official display counts each period down; it shows 0:20 while more than 19.0 and at most 20.0 s" in out


def test_csv_and_json_hold_the_same(capsys: Output) -> None:
    assert main(["preview", "--plan", "doors", "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert main(["preview", "--plan", "doors", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["game"], facts["plan"]) == ("Two Doors", "Doors")
    assert [row["cue"] for row in table] == [call["cue"] for call in facts["calls"]]
    assert [row["left"] for row in table] == [call["shown"] for call in facts["calls"]]


def test_a_variant_has_a_column_of_its_own(capsys: Output) -> None:
    main(["preview", "--plan", "doors"])
    out = capsys.readouterr().out
    assert "only if" in out
    assert "south_first" in out


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(("columns", "is_cut"), [("80", True), ("119", True), ("120", False)])
def test_what_a_narrow_terminal_leaves_out_is_said_last(columns: str, *, is_cut: bool) -> None:
    lines = on_a_terminal(columns, "preview").splitlines()
    head = next(line for line in lines if line.split()[:2] == ["left", "cue"])
    assert [name in head.split() for name in ("word", "match", "until", "why")] == [not is_cut] * 4
    assert (lines[-1].strip() == "Too wide, left out: word, match, until. --csv has all.") == is_cut
    assert ("home: break off now" in " ".join(lines)) == is_cut, "why a cue comes is left out nowhere"
    assert "which the rig names under [keys] call" in " ".join(" ".join(lines).split())
    assert max(map(len, lines)) <= int(columns)


def test_piped_nothing_is_left_out(capsys: Output) -> None:
    main(["preview"])
    assert "Left out" not in capsys.readouterr().out


def on_a_terminal(columns: str, *arguments: str) -> str:
    """Return what Tocsin prints on a terminal of so many columns."""
    ours, theirs = os.openpty()
    command = [sys.executable, "-m", "tocsin", *arguments]
    with subprocess.Popen(command, stdin=theirs, stdout=theirs, env=os.environ | {"COLUMNS": columns}) as process:
        os.close(theirs)
        said = b""
        with contextlib.suppress(OSError):                      # Linux: the other side is closed
            while part := os.read(ours, 4096):
                said += part
        os.close(ours)
        assert process.wait(timeout=60) == 0
    return re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", said.decode())


@pytest.mark.parametrize("arguments", [["--plan", "ful"], ["--csv", "--json"], ["--plan", "full", "--game", "nowhere"]])
def test_what_does_not_fit_is_one_line_and_a_hint(arguments: list[str], capsys: Output) -> None:
    try:
        code = main(["preview", *arguments])
    except SystemExit as left:                                  # argparse leaves by itself
        code = left.code
    captured = capsys.readouterr()
    assert code == 2
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 2


# -- pictures -----------------------------------------------------------------------------------------------------

BEGINS = {"plan.svg": b"<?xml", "plan.png": b"\x89PNG", "PLAN.PDF": b"%PDF"}


@pytest.mark.parametrize(("name", "begin"), BEGINS.items())
def test_a_picture_has_the_form_that_its_name_says(
    name: str, begin: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["preview", "--plan", "quiet", "-o", name]) == 0
    assert capsys.readouterr().out == f"wrote {name}\n"
    assert (tmp_path / name).read_bytes().startswith(begin)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_picture_of_ours_is_replaced(tmp_path: Path, capsys: Output) -> None:
    out = tmp_path / "plan.png"
    main(["preview", "--plan", "dash", "-o", str(out)])
    earlier = out.read_bytes()
    assert main(["preview", "--plan", "quiet", "-o", str(out)]) == 0
    assert out.read_bytes() != earlier


def test_a_plan_that_is_too_large_for_a_page_is_told_so_before_it_is_drawn(tmp_path: Path, capsys: Output) -> None:
    plan, out = tmp_path / "plan.toml", tmp_path / "plan.svg"
    cues = "".join(f'[[cue]]\nid = "c{n}"\nat = "driver.begin+{n * 380}ms"\nlight = "home"\n' for n in range(251))
    plan.write_text('format = "tocsin-plan/1"\nname = "A"\ngame = "casting_day"\n' + cues)
    assert main(["preview", "--plan", str(plan), "-o", str(out)]) == 2
    assert "room for 250 moments at which cues come; this plan has 251" in capsys.readouterr().err
    assert not out.exists()
    assert main(["preview", "--plan", str(plan)]) == 0


def test_a_page_for_the_wall_is_a4_unless_told(tmp_path: Path, capsys: Output) -> None:
    sizes = []
    for more in ([], ["a3"]):
        out = tmp_path / "wall.pdf"
        assert main(["preview", "--plan", "quiet", "-o", str(out), "--wall", *more]) == 0
        box = pypdf.PdfReader(out).pages[0].mediabox
        sizes.append((round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)))
    assert sizes == [(297, 210), (420, 297)]                     # ISO 216, lying (from memory)
    assert "event rules asked" in pypdf.PdfReader(tmp_path / "wall.pdf").pages[0].extract_text()


def test_a_poster_is_a3_unless_told_and_says_the_number_of_the_plan(tmp_path: Path, capsys: Output) -> None:
    out = tmp_path / "poster.pdf"
    for more, sides in (([], (297, 420)), (["a4"], (210, 297))):                     # ISO 216, upright (from memory)
        assert main(["preview", "--plan", "quiet", "-o", str(out), "--poster", *more]) == 0
        page = pypdf.PdfReader(out).pages[0]
        assert (round(float(page.mediabox.width) / 72 * 25.4), round(float(page.mediabox.height) / 72 * 25.4)) == sides
    number = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("plan: Quiet (sha256 "))
    assert number in " ".join(page.extract_text().split())


def test_a_poster_as_pictures_is_a_file_a_sheet_and_no_file_of_somebody_else_is_replaced(
    tmp_path: Path, capsys: Output
) -> None:
    out, second = tmp_path / "poster.svg", tmp_path / "poster-2.svg"
    second.write_text("<svg>our robot</svg>\n", encoding="utf-8")
    assert main(["preview", "--poster", "a4", "-o", str(out)]) == 2
    assert not out.exists()
    assert second.read_text(encoding="utf-8") == "<svg>our robot</svg>\n"
    second.unlink()
    assert main(["preview", "--poster", "a4", "-o", str(out)]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["poster-2.svg", "poster-3.svg", "poster.svg"]
    assert f"wrote {second}" in capsys.readouterr().out.replace("\n  ", " ")


def test_a_card_a_picture_and_a_poster_never_take_the_place_of_each_other(tmp_path: Path, capsys: Output) -> None:
    commands = {
        "tocsin export --to card": ["export", "--to", "card"], "tocsin preview": ["preview"],
        "tocsin preview --poster": ["preview", "--poster"],
    }  # fmt: skip
    for number, (made, first) in enumerate(commands.items()):
        out = tmp_path / f"{number}.pdf"
        assert main([*first, "--plan", "quiet", "-o", str(out)]) == 0
        page = out.read_bytes()
        capsys.readouterr()
        for other in (other for other in commands.values() if other != first):
            assert main([*other, "--plan", "quiet", "-o", str(out)]) == 2
            assert f"{out.name} is there, and `{made}` made it" in capsys.readouterr().err
        assert out.read_bytes() == page


def test_what_somebody_else_drew_is_kept(tmp_path: Path, capsys: Output) -> None:
    (tmp_path / "plan.svg").write_text("<svg>our robot</svg>\n", encoding="utf-8")
    assert main(["preview", "-o", str(tmp_path / "plan.svg")]) == 2
    assert (tmp_path / "plan.svg").read_text(encoding="utf-8") == "<svg>our robot</svg>\n"
    assert "Tocsin did not make it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (["-o", "plan.jpg"], "plan.svg"),
        (["-o", "plan"], "plan.svg"),
        (["-o", "."], "name a file in it"),
        (["--wall"], "--wall a4 -o wall.pdf"),
        (["--wall", "a3", "-o", "wall.svg"], "wall.pdf"),
        (["--wall", "a5", "-o", "wall.pdf"], "a4"),
        (["--poster"], "--poster a3 -o poster.pdf"),
        (["--poster", "a5", "-o", "poster.pdf"], "a4"),
        (["--poster", "--wall", "-o", "poster.pdf"], "give one of them"),
        (["--poster", "-o", "poster.jpg"], "poster.svg"),
        (["--json", "-o", "plan.svg"], "--help"),
        (["--plan", "ful", "-o", "plan.svg"], "full"),
        (["-o", "file/plan.svg"], "a file is in the way: move it"),
    ],
)
def test_a_picture_that_does_not_fit_is_refused_with_a_hint(
    arguments: list[str], hint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    try:
        code = main(["preview", *arguments])
    except SystemExit as left:                                  # argparse leaves by itself
        code = left.code
    err = capsys.readouterr().err
    assert code == 2
    assert hint in err
    assert len(err.strip().splitlines()) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


# -- by hand ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "what", "hint"),
    [
        (["--play", "hom"], "no cue 'hom'", "did you mean home? its cues: pads, alive, last_load, coach_call, home"),
        (["--play", "home,xyz"], "no cue 'xyz'", "its cues: pads"),
        (["--play", " , "], "at least one cue", "e.g. home"),
        (["--play", "home", "--step"], "not allowed with", "--help"),
        (["--step", "-o", "plan.svg"], "write no file", "-o"),
        (["--step", "--only", "lamp"], "not a channel", "light"),
        (["--rig", "nothing"], "--rig is for --play and --step", "add --step"),
        (["--only", "light", "--csv"], "--only is for --play and --step", "--play CUE"),
        (["--screen", "none"], "--screen is for --play and --step", "add --step"),
    ],
)
def test_what_is_no_preview_by_hand_is_refused_before_any_device_is_opened(
    arguments: list[str], what: str, hint: str, capsys: Output
) -> None:
    try:
        code = main(["preview", *arguments])
    except SystemExit as left:                                  # argparse leaves by itself
        code = left.code
    captured = capsys.readouterr()
    assert code == 2
    assert captured.out == ""
    assert what in captured.err
    assert hint in captured.err
    assert len(captured.err.strip().splitlines()) == 2
