"""Which voices ``tocsin devices`` lists: all that the program knows, or why there are none."""

from pathlib import Path

from tests.support.speech.voices import SPEAKS, engine, needs_espeak, needs_scripts
from tocsin.speech.voices import Voices, voices_of, voices_of_system


@needs_scripts
def test_all_voices_are_listed_and_the_first_are_named(tmp_path: Path) -> None:
    told = voices_of(engine(tmp_path, SPEAKS), "install it", 30)
    assert (told.program, told.why, len(told.found)) == ("espeak-ng", "", 8)
    assert told.found[0].name == "English (Great Britain)"
    assert told.found[0].languages[0] == "en-gb"
    first, names = told.lines()
    # Of the listing's eight, one needs another program's data and one is a variant: both are taken by name only.
    assert first == "espeak-ng: 8 voices, 3 languages"
    assert names.startswith("English (Great Britain), English (America), ")
    assert names.endswith(", and 3 more: --json lists them")


@needs_scripts
def test_a_program_that_fails_says_why(tmp_path: Path) -> None:
    program = engine(tmp_path, SPEAKS)
    (tmp_path / "espeak-ng").write_text("#!/bin/sh\necho broken data >&2\nexit 3\n", "utf-8")
    told = voices_of(program, "install it", 30)
    assert (told.found, told.why) == ((), "espeak-ng failed: broken data")
    assert told.lines() == ["none, so words are only shown: espeak-ng failed: broken data"]


def test_without_a_program_its_fix_is_said() -> None:
    told = voices_of(None, "install espeak-ng", 30)
    assert told == Voices(why="install espeak-ng")
    assert told.lines() == ["none, so words are only shown: install espeak-ng"]


@needs_espeak
def test_the_system_has_the_voice_that_its_own_program_has() -> None:
    # espeak-ng(1): --voices lists all voices; it ships one for English.
    told = voices_of_system(30)
    assert any(tag.startswith("en") for voice in told.found for tag in voice.languages)
