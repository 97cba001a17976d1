"""Make the missing words one after another, and say why one could not be made."""

import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from tocsin.speech.cache import Spoken, WordCache
from tocsin.speech.choice import voice_for
from tocsin.speech.engine import Engine, HangsError, SpeechError, Voice
from tocsin.speech.loudness import levelled
from tocsin.translation import tr

LIMIT_S = 10.0                         # for one call: PowerShell takes its time on a slow laptop

Progress = Callable[[int, int], None]


def make_words(
    engine: Engine,
    shelf: WordCache,
    wanted: Iterable[Spoken],
    limit_s: float = LIMIT_S,
    progress: Progress | None = None,
) -> str:
    """Make words and store them; return why some could not be made, or an empty text.

    All have one voice and language. ``progress`` gets the numbers of finished and of all words, before each. An engine
    that hangs is not called again, so this ends after at most ``limit_s`` for each finished word and one more.
    """
    words = list(dict.fromkeys(wanted))
    why = ""
    try:
        voice = voice_for(engine.voices(limit_s), words[0].language, words[0].voice)
        for done, spoken in enumerate(words):
            if progress is not None:
                progress(done, len(words))
            try:
                shelf.put(spoken, _frames(engine, spoken.phrase, voice, limit_s))
            except HangsError:
                raise
            except SpeechError as error:
                why = why or f"'{spoken.phrase}': {error}"
    except SpeechError as error:
        return str(error)
    return why


def _frames(engine: Engine, phrase: str, voice: Voice, limit_s: float) -> bytes:
    with tempfile.TemporaryDirectory(prefix="tocsin-") as folder:
        wav = Path(folder) / "word.wav"
        engine.speak(phrase, voice, wav, limit_s)
        try:
            spoken = wav.read_bytes()
        except OSError as error:
            raise SpeechError(tr("{name} wrote nothing", name=engine.name)) from error
        return levelled(spoken)
