"""Texts of users inside source code: no quote, backslash, comment end, trigraph or foreign letter breaks it, and the
words come out as they went in. Rules of the languages (trigraphs, Java's Unicode escapes): from memory.
"""

import random
import re
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.export.robot.test_same import needs_gcc, needs_java
from tests.support.export.exported_plans import source
from tests.support.export.robot_drivers import (
    C_FLAGS,
    GCC,
    JAVAC,
    PythonRobot,
    asked,
    build_c,
    build_java,
    checked,
    python_module,
)
from tests.support.export.robot_games import NASTY
from tests.support.model.compiled_games import PATTERNS, cue, period
from tocsin.export.robot import c as robot_c
from tocsin.export.robot import java as robot_java
from tocsin.export.robot.c import c_source
from tocsin.export.robot.java import java_source
from tocsin.export.robot.python import python_source
from tocsin.export.robot.text import ascii_comment, comment, constants, fill
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


# Any text, and texts of nothing but what is dangerous in comments, also when it is spelled in ASCII.
COMMENTS = ANYTHING | st.text(st.sampled_from("\\u0a*/?\u00e9\U0001f3e0\uff3c\uff0a\uff0f\uff1f\u202e"), max_size=12)


@given(COMMENTS)
def test_a_comment_holds_nothing_that_a_compiler_would_see(text):
    made = comment(text)
    assert made.isprintable()                          # neither line ends nor marks that turn the direction of writing
    assert not re.search(r"\*/|/\*|\?\?", made)
    # Nothing but what would be seen is changed; no-break and wider blanks become blanks.
    if text.isprintable() and not re.search(r"\*/|/\*|\?\?", text):
        assert made == text


@given(COMMENTS)
def test_a_comment_of_java_holds_nothing_that_its_compiler_would_see(text):
    made = ascii_comment(text)
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


# -- comments in other languages than English -------------------------------------------------------------------------

GERMAN = "Übergabe: schließ den Greifer, fahr zurück"


def german_source():
    """Return a plan in German whose name looks like what PEP 263 takes for a declaration of an encoding."""
    game = Game(name="Gießerei", periods=(replaced(period("drive", 60), "Fahren von Hand"),))
    home = cue("home", "drive.begin+1s", say="Zurück", why=GERMAN, patterns={"rumble": "triple"})
    return source(game, Plan(name="coding: koi8-r", game="x", cues=(home,), patterns=PATTERNS))


@pytest.mark.parametrize("make", [c_source, python_source])
def test_c_and_python_keep_umlauts(make):
    assert GERMAN in make(german_source())
    assert '"Zurück"' in make(german_source()).split("WHAT COMES WHEN")[1]


def test_java_spells_umlauts_in_ascii():
    made = java_source(german_source(), "Plan")
    assert "Uebergabe: schliess den Greifer, fahr zurueck" in made
    assert '"Zur\\u00fcck"' in made                                    # the word itself, to be shown


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("u\u0308ber", "ueber"), ("Ångström à Łódź", "Angstroem a Lodz"), ("“Los” – jetzt…", '"Los" - jetzt...'),
        ("a\u00a0b\u3000c", "a b c"), ("Heim\u200dwärts", r"Heim\u200dwaerts"), ("家", r"\u5bb6"),
        ("\uff3cu0041 \uff0a\uff0f", r"\\u0041 * /"),
    ],
)  # fmt: skip
def test_other_letters_are_spelled_in_ascii_where_that_can_be_read(text, told):
    assert ascii_comment(text) == told


@pytest.mark.devices
def test_python_reads_its_source_as_what_it_is_whatever_a_plan_is_called(tmp_path):
    """From a file, since a declaration in text that is compiled from memory is not looked at (PEP 263)."""
    (tmp_path / "tocsin_plan.py").write_text(python_source(german_source()), encoding="utf-8")
    says = "import tocsin_plan; print(ascii(tocsin_plan.word(0)))"
    assert checked([sys.executable, "-c", f"import sys; sys.path.insert(0, {str(tmp_path)!r}); {says}"]) == (
        "'Zur\\xfcck'\n"
    )  # fmt: skip


@needs_java
@pytest.mark.parametrize("encoding", ["US-ASCII", "windows-1252", "Shift_JIS", "UTF-8"])
def test_java_compiles_whatever_the_system_s_own_encoding_is(encoding, tmp_path):
    (tmp_path / "Plan.java").write_text(java_source(german_source(), "Plan"), encoding="utf-8")
    flags = ("-J-XX:TieredStopAtLevel=1", "-encoding", encoding, "-d", str(tmp_path))
    checked([JAVAC, *flags, str(tmp_path / "Plan.java")])


@needs_gcc
@pytest.mark.parametrize("encoding", ["UTF-8", "ISO-8859-1", "CP1252"])
def test_c_compiles_in_silence_where_comments_are_read_in_another_code(encoding, tmp_path):
    (tmp_path / "plan.c").write_text(c_source(german_source()), encoding="utf-8")
    flags = (*C_FLAGS, f"-finput-charset={encoding}")
    checked([GCC, *flags, "-c", str(tmp_path / "plan.c"), "-o", str(tmp_path / "plan.o")])
