"""Words that are kept: found again, made anew where damaged, and none too many."""

import os
import shutil
import stat
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.io import wavfile

from tests.support.speech.voices import HANGS, SPEAKS, calls, engine, needs_scripts
from tocsin.model.samples import sounds_ns
from tocsin.speech import cache as shelf_module
from tocsin.speech.cache import MOST_KEPT, Spoken, WordCache
from tocsin.speech.engine import SpeechError
from tocsin.speech.synthesis import make_words
from tocsin.speech.word_file import frames_in, name_of
from tocsin.units import NS_PER_MS

HOME = Spoken("espeak-ng", "", "en", "Home")
FRAMES = (1000 * np.sin(np.arange(4800))).astype("<i2").repeat(2).tobytes()     # a tenth of a second


def test_a_word_is_found_again_as_it_was(tmp_path: Path) -> None:
    shelf = WordCache(tmp_path / "words")
    assert shelf.find(HOME) is None
    path = shelf.put(HOME, FRAMES)
    assert shelf.find(HOME) == path
    assert frames_in(path) == FRAMES
    assert sounds_ns(FRAMES) == 100 * NS_PER_MS
    assert [found.name for found in path.parent.iterdir()] == [path.name]


@pytest.mark.skipif(os.name != "posix", reason="modes as POSIX has them")
def test_words_are_for_their_user_alone_and_folders_of_earlier_versions_too(tmp_path: Path) -> None:
    folder = tmp_path / "words"
    folder.mkdir(mode=0o755)
    path = WordCache(folder).put(HOME, FRAMES)
    assert [oct(stat.S_IMODE(one.stat().st_mode)) for one in (folder, path)] == ["0o700", "0o600"]


def test_another_program_reads_the_file(tmp_path: Path) -> None:
    """scipy.io.wavfile, a general library."""
    rate_hz, samples = wavfile.read(WordCache(tmp_path).put(HOME, FRAMES))
    assert (rate_hz, samples.shape, samples.dtype) == (48_000, (4800, 2), np.int16)
    assert samples.tobytes() == FRAMES


texts = st.text(max_size=12)


@given(st.builds(Spoken, texts, texts, texts, texts), st.builds(Spoken, texts, texts, texts, texts))
def test_only_the_same_has_the_same_key(one: Spoken, other: Spoken) -> None:
    assert (one.key == other.key) == (one == other)
    assert one.key.isalnum()


def test_each_part_of_what_a_word_is_made_from_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = WordCache(tmp_path)
    shelf.put(HOME, FRAMES)
    for part in HOME._fields:
        assert shelf.find(HOME._replace(**{part: "other"})) is None, part
    monkeypatch.setattr(shelf_module, "VERSION", -1)           # a later one of our own levelling
    assert shelf.find(HOME) is None


def damaged(path: Path) -> dict[str, bytes]:
    whole = path.read_bytes()
    return {"cut": whole[: len(whole) // 2], "empty": b"", "other": whole[:-9] + b"x" + whole[-8:], "text": b"RIFF"}


@pytest.mark.parametrize("how", ["cut", "empty", "other", "text"])
def test_a_damaged_word_is_none(tmp_path: Path, how: str) -> None:
    shelf = WordCache(tmp_path)
    path = shelf.put(HOME, FRAMES)
    path.write_bytes(damaged(path)[how])
    assert frames_in(path) is None
    assert shelf.find(HOME) is None
    assert frames_in(shelf.put(HOME, FRAMES)) == FRAMES


def test_the_longest_unused_go_first(tmp_path: Path) -> None:
    shelf = WordCache(tmp_path)
    paths = [shelf.put(HOME, FRAMES[:400])]
    for n in range(1, MOST_KEPT):          # as it would put them, without syncing hundreds of files to the disk
        word = HOME._replace(phrase=str(n))
        paths.append(paths[0].with_name(name_of(word.key, FRAMES[:400])))
        shutil.copy(paths[0], paths[-1])
    for age_s, path in enumerate(reversed(paths)):
        os.utime(path, (1e9 - age_s, 1e9 - age_s))
    assert shelf.find(HOME) == paths[0]   # used now
    shelf.put(HOME._replace(phrase="new"), FRAMES[:400])
    assert not paths[1].exists()
    assert [path for path in (paths[0], *paths[2:]) if not path.exists()] == []


@pytest.mark.skipif(sys.platform == "win32", reason="a folder of Windows is no file")
def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    with pytest.raises(SpeechError, match="words cannot be kept in"):
        WordCache(tmp_path / "file" / "words").put(HOME, FRAMES)
    assert WordCache(tmp_path / "file" / "words").find(HOME) is None


# -- making them


@needs_scripts
def test_words_are_made_once_and_then_found(tmp_path: Path) -> None:
    shelf, spoken = WordCache(tmp_path / "words"), engine(tmp_path, SPEAKS)
    told: list[tuple[int, int]] = []
    choose = HOME._replace(phrase="Choose")
    why = make_words(spoken, shelf, [HOME, choose, HOME], progress=lambda *done: told.append(done))
    assert (why, told) == ("", [(0, 2), (1, 2)])
    frames = frames_in(shelf.find(HOME) or Path())
    assert frames is not None
    assert sounds_ns(frames) == pytest.approx(500 * NS_PER_MS, abs=12 * NS_PER_MS)
    assert calls(tmp_path / "espeak-ng") == 3                  # the voices, and each word once


@needs_scripts
def test_a_program_that_hangs_is_asked_once(tmp_path: Path) -> None:
    shelf, spoken = WordCache(tmp_path / "words"), engine(tmp_path, HANGS)
    why = make_words(spoken, shelf, [HOME, HOME._replace(phrase="Over"), HOME._replace(phrase="Pads")], limit_s=1)
    assert "no answer within 1 s" in why
    assert calls(tmp_path / "espeak-ng") == 2


@needs_scripts
def test_a_word_that_fails_keeps_no_other_back(tmp_path: Path) -> None:
    lines = f"if said == b'???': sys.exit('cannot say that')\n{SPEAKS}"
    shelf, spoken = WordCache(tmp_path / "words"), engine(tmp_path, lines)
    why = make_words(spoken, shelf, [HOME._replace(phrase="???"), HOME])
    assert "'???'" in why
    assert "cannot say that" in why
    assert shelf.find(HOME) is not None


@needs_scripts
@pytest.mark.parametrize(
    ("wanted", "told"),
    [(HOME._replace(voice="Anna"), "no voice 'Anna'"), (HOME._replace(language="xx"), "no voice here speaks 'xx'")],
)
def test_a_voice_or_language_that_is_not_there_is_told(tmp_path: Path, wanted: Spoken, told: str) -> None:
    assert told in make_words(engine(tmp_path, SPEAKS), WordCache(tmp_path / "words"), [wanted])
    assert not (tmp_path / "words").exists()


@needs_scripts
@pytest.mark.parametrize(
    ("speaking", "told"), [("pass", "wrote nothing"), ("open(wav, 'w').write('x')", "not a WAV file")]
)
def test_a_program_that_writes_no_sound_is_told(tmp_path: Path, speaking: str, told: str) -> None:
    assert told in make_words(engine(tmp_path, speaking), WordCache(tmp_path / "words"), [HOME])
