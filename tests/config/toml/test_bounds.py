"""Files that would hold a laptop up: what they have too much of is said, with how much is read, before any work."""

import os
import sys
import time
from pathlib import Path

import pytest

from tocsin.config.checking import check
from tocsin.config.toml.bounds import MOST_BYTES
from tocsin.config.toml.diagnostic import FileDiagnostic
from tocsin.config.toml.document import MOST_PROBLEMS

HEAD = 'format = "tocsin-plan/1"\nname = "A"\ngame = "casting_day"\n'
DEEP = 100_000
# Generous: on a quiet core each takes well below a second; what grows with the square takes minutes.
LIMIT_S = 20


def problems(text: str, folder: Path) -> tuple[FileDiagnostic, ...]:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    began_s = time.process_time()
    found = check([str(path)])
    assert time.process_time() - began_s < LIMIT_S
    return found


def filled(unit: str) -> str:
    """Return a plan as large as is read, of one unit again and again; ``@`` in it stands for a number."""
    count = (MOST_BYTES - len(HEAD)) // (len(unit) + 5)
    return HEAD + "".join(unit.replace("@", str(n)) for n in range(count))


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("a = " + "[" * 1000 + "]" * 1000, "syntax_too_deep", "more than 8 deep"),
        ("a = [\n" * 1 + "[\n" * DEEP, "syntax_too_deep", "more than 8 deep"),
        ("a = " + "{a=" * 500 + "1", "syntax_too_deep", "more than 8 deep"),
        ("a." * 1000 + "a = 1", "syntax_too_deep", "more than 8 deep"),
        ("[" + "a." * 1000 + "a]", "syntax_too_deep", "more than 8 deep"),
        ("x = { " + '"a".' * 500 + "a = 1 }", "syntax_too_deep", "more than 8 deep"),
        ("a = '" + "x" * 5000 + "'", "line_long", "5,006 characters"),
        ("a = " + '"' + "\\" * 5000, "line_long", "5,005 characters"),
        ("a = " + "9" * 500, "number_long", "500 digits"),
        ("a = " + "9" * 500 + "s", "number_long", "500 digits"),
    ],
)
def test_what_is_too_much_is_said_with_its_line_and_how_much_is_read(line: str, code: str, says: str, tmp_path: Path):
    (problem,) = problems(HEAD + line + "\n", tmp_path)
    assert (problem.code, says in problem.message, problem.line >= 4) == (code, True, True)


@pytest.mark.parametrize("line", ['"\\UFFFFFFFF" = 1', 'x = "\\UFFFFFFFF"', '"\\uD800" = 1', '["\\UFFFFFFFF"]'])
def test_an_escape_that_is_no_character_is_a_mistake(line: str, tmp_path: Path):
    (problem, *_) = problems(HEAD + line + "\n", tmp_path)
    assert problem.line == 4


@pytest.mark.parametrize(
    "text",
    ["a = 1.5\n" * 3, "a = [\n" * 12, 'say = " a.b.c.d.e.f.g.h.i.j [[[[[[[[[[ {{{{{{{{{{"\n',
     "# " + "[" * 50 + "a." * 50 + "\n"],
)
def test_what_only_looks_deep_is_read_on(text: str, tmp_path: Path):
    assert "syntax_too_deep" not in {problem.code for problem in problems(HEAD + text, tmp_path)}


def test_a_large_file_is_not_read(tmp_path: Path):
    path = tmp_path / "plan.toml"
    path.write_text(HEAD + "#" * 3 + "\n" * MOST_BYTES, encoding="utf-8")
    with path.open("r+b") as file:
        file.truncate(10**12)                          # sparse, 1 TB
    (problem,) = check([str(path)])
    assert (problem.code, problem.line) == ("file_large", 0)
    assert problem.message == "This file has 1,000,000,000 kB, and was not read."
    assert problem.expected == "Expected at most 400 kB."


@pytest.mark.skipif(sys.platform == "win32", reason="has no pipes in folders")
def test_a_pipe_in_a_folder_of_others_is_not_waited_for(tmp_path: Path):
    os.mkfifo(tmp_path / "plan.toml")
    (tmp_path / "game.toml").symlink_to("/dev/zero")
    found = check([str(tmp_path)])
    assert [(problem.code, "or a device" in problem.message) for problem in found] == [("file_unreadable", True)] * 2


@pytest.mark.parametrize(
    ("unit", "code"),
    [
        ('[[cue]]\nid = "c@"\nat = "nowhere.begin"\nrumbel = "short"\n', "table_long"),
        ("[[cue]]\n", "table_long"),
        ('[[cue]]\nid = "c@"\nat = "match.begin"\nlight = "nothere@"\npriority = "high"\nsay = 5\nevery = 7\n', ""),
        ("k@ = 1\n", "unknown_key"),
        ("a@ = b c\n", "syntax_unquoted"),
        ('name = "A"\n', "syntax_key_twice"),
        ("a = [\n", ""),
        ('"""\n', ""),
        ("[lead]\n", "syntax_table_twice"),
        ("\n", ""),
        ('[pattern.sound.p@]\nsteps = [{ hz = 750, lasts = "10s" }]\n', "table_long"),
    ],
)
def test_the_largest_files_are_told_about_soon_whatever_fills_them(unit: str, code: str, tmp_path: Path):
    found = problems(filled(unit), tmp_path)
    assert code in {"", *(problem.code for problem in found)}
    assert len(found) <= MOST_PROBLEMS + 1


def test_of_many_mistakes_the_first_are_told_and_the_others_counted(tmp_path: Path):
    found = problems(HEAD + "".join(f"k{n} = 1\n" for n in range(500)), tmp_path)
    assert len(found) == MOST_PROBLEMS + 1
    assert (found[-1].code, found[-1].message) == ("more_mistakes", "This file has 400 more mistakes.")
