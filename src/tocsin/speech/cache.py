"""Keep spoken words as WAV files in the user's cache folder, named by what they were made from.

A damaged file is ignored, and the word made again.
"""

import contextlib
import hashlib
import json
import os
from pathlib import Path
from typing import NamedTuple

import platformdirs

from tocsin import files
from tocsin.model.samples import sounds_ns
from tocsin.speech.engine import SpeechError
from tocsin.speech.loudness import VERSION
from tocsin.speech.word_file import ENDING, frames_in, name_of, wav_of
from tocsin.translation import tr

MOST_KEPT = 500                        # words, some 60 kB each


class Spoken(NamedTuple):
    """What a word is made from: the engine's name, the voice as the rig names it (or empty), language and phrase."""

    engine: str
    voice: str
    language: str
    phrase: str

    @property
    def key(self) -> str:
        """The key that all words made from the same have in common."""
        facts = json.dumps([VERSION, *self], ensure_ascii=True)
        return hashlib.sha256(facts.encode()).hexdigest()[:32]


def words_folder() -> Path:
    """Return the user's folder for words."""
    return platformdirs.user_cache_path("tocsin", appauthor=False) / "words"


class WordCache:
    """A folder of words."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def find(self, spoken: Spoken) -> Path | None:
        """Return the file of a word if it is there and whole."""
        for path in sorted(self._folder.glob(f"{spoken.key}.*{ENDING}")):
            if frames_in(path) is not None:
                with contextlib.suppress(OSError):
                    os.utime(path)             # used now: others go first
                return path
        return None

    def lasts_ns(self, spoken: Spoken) -> int | None:
        """Return how long a word sounds, in nanoseconds, None if it is not there."""
        path = self.find(spoken)
        frames = frames_in(path) if path is not None else None
        return sounds_ns(frames) if frames is not None else None

    def put(self, spoken: Spoken, frames: bytes) -> Path:
        """Store a word's frames (16-bit little-endian stereo at 48 kHz); return their file. Raises SpeechError if the
        folder cannot be written."""
        path = self._folder / name_of(spoken.key, frames)
        try:
            files.write_whole(path, wav_of(frames), private=True)
            files.close_to_others(self._folder, folder=True)   # what is said may hold names
        except OSError as error:
            if frames_in(path) is not None:
                return path                    # Windows: another run has just put it there, and reads it
            why = (error.strerror or str(error)).lower()
            raise SpeechError(tr("words cannot be kept in {folder}: {why}", folder=self._folder, why=why)) from error
        self._make_room()
        return path

    def clear(self) -> int:
        """Delete all words, since a file does not say which word it is; return their number. Needed ones are made
        again."""
        dropped = 0
        for path in [*self._folder.glob(f"*{ENDING}"), *self._folder.glob("*.part"), *self._folder.glob(".*.part")]:
            with contextlib.suppress(OSError):
                path.unlink()
                dropped += path.suffix == ENDING
        return dropped

    def _make_room(self) -> None:
        """Let go of the words that were not used for the longest time."""
        with contextlib.suppress(OSError):
            kept = sorted(self._folder.glob(f"*{ENDING}"), key=lambda path: path.stat().st_mtime, reverse=True)
            for path in kept[MOST_KEPT:]:
                path.unlink()
