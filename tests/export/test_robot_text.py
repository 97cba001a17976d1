"""Texts of users inside source code: no quote, backslash, comment end, trigraph or foreign letter breaks it, and the
words come out as they went in. Rules of the languages (trigraphs, Java's Unicode escapes): from memory.
"""

import random
import re

from compiled_games import PATTERNS, cue, period
from exported_plans import source
from hypothesis import given
from hypothesis import strategies as st
from robot_drivers import PythonRobot, asked, build_c, build_java, checked, python_module
from robot_games import NASTY
from test_robot_same import needs_gcc, needs_java

from tocsin.export import robot_c, robot_java
from tocsin.export.robot_text import comment, constants, fill
from tocsin.model.game import Game, Variant
from tocsin.model.plan import Plan

ANYTHING = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)


def drawn(count):
    """Return texts of letters that mean something somewhere, seeded."""
    rng = random.Random(7)
    letters = "\"'\\*/?=(<!>-)%#@{}\u00e9\u2028\u202e\U0001f3e0un0x\n\r\t \x00\x7f"
    return ["".join(rng.choice(letters) for _ in range(rng.randint(1, 12))) for _ in range(count)]


WORDS = [*NASTY, *drawn(60), "\\u005c", "\\\\u0022", "*\\/", "??", "???/", "\\"]


def nasty_source():
    """Return a plan in which every text that a user writes is nasty."""
    cues = tuple(
        cue(f"c{n}", f"drive.begin+{n + 1}s", say=word, why=word, patterns={"rumble": "triple"})
        for n, word in enumerate(WORDS)
    )
    quiet = cue("quiet", "drive.begin", say="*/", why="*/")
    periods = tuple(
        replaced(period(name, 300, kind), title) for name, kind, title in
        (("auto", "autonomous", "a */ \\u000a"), ("drive", "driver", '"""??/'), ("settle", "settle", "é\\"))
    )  # fmt: skip
    variants = (Variant(id="v", title='*/ "'),)
    game = Game(name="*/ \\u0022 ??/ \\", periods=periods, variants=variants)
    return source(game, Plan(name="\"\"\" ''' */ \n # ", game="x", cues=(*cues, quiet), patterns=PATTERNS))


def replaced(made, title):
    return type(made)(id=made.id, kind=made.kind, title=title, lasts_ns=made.lasts_ns)


ALL = ("d", 0, len(WORDS) * 2 - 1, 0)


def test_python_says_the_words_as_they_were_written():
    module = python_module(nasty_source())
    assert [module.word(i) for i in range(0, len(WORDS) * 2, 2)] == WORDS


@needs_gcc
def test_c_says_the_words_as_they_were_written(tmp_path):
    robot = PythonRobot(nasty_source())
    said = checked([str(build_c(tmp_path, [nasty_source()]))], asked([(0, ALL)]))
    # C's texts end at a NUL: that is C's, and a word with one in it is cut there.
    robot.module._WORDS = tuple(word.partition("\0")[0] for word in robot.module._WORDS)
    assert said == f"{robot.answer(ALL)}\n"


@needs_java
def test_java_says_the_words_as_they_were_written(tmp_path):
    said = checked(build_java(tmp_path, [nasty_source()]), asked([(0, ALL)]))
    assert said == f"{PythonRobot(nasty_source()).answer(ALL)}\n"


# Any text, and texts of nothing but what is dangerous in comments.
@given(ANYTHING | st.text(st.sampled_from("\\u0a*/?\u00e9\U0001f3e0"), max_size=12))
def test_a_comment_holds_nothing_that_a_compiler_would_see(text):
    made = comment(text)
    assert all(" " <= char <= "~" for char in made)
    assert not re.search(r"\*/|/\*|\?\?", made)
    # Java takes a backslash for the begin of an escape only after an even number of them; each that is left is whole.
    for found in re.finditer(r"(\\+)(u*)([0-9a-f]{0,4})", made):
        escape = len(found[1]) % 2 == 1
        assert not escape or (found[2] == "u" and len(found[3]) == 4 and int(found[3], 16) >= 0x80)


@given(ANYTHING)
def test_c_literals_are_ascii_and_mean_the_text(text):
    literal = robot_c.text(text)
    assert literal.isascii()
    assert "??" not in literal
    assert literal.isprintable()
    body = literal[1:-1]
    read = re.sub(rb"\\([0-7]{3}|.)", lambda m: bytes([int(m[1], 8)]) if len(m[1]) == 3 else m[1], body.encode())
    assert read.decode() == text


@given(ANYTHING)
def test_java_literals_are_ascii_and_mean_the_text(text):
    literal = robot_java.text(text)
    assert literal.isascii()
    assert literal.isprintable()
    read = re.sub(
        r"\\u([0-9a-f]{4})|\\([0-7]{3})|\\(.)",
        lambda m: chr(int(m[1], 16)) if m[1] else chr(int(m[2], 8)) if m[2] else m[3],
        literal[1:-1],
    )
    assert read.encode("utf-16", "surrogatepass").decode("utf-16") == text


@given(st.lists(ANYTHING, max_size=8))
def test_names_are_different_and_made_of_plain_letters(ids):
    names = constants("CUE", ids)
    assert len(set(names)) == len(ids)
    assert all(re.fullmatch(r"CUE_[A-Z0-9_]*", name) for name in names)


def test_values_are_never_looked_into_for_placeholders():
    assert fill("@A@ @B@", {"A": "@B@", "B": "b"}) == "@B@ b"
