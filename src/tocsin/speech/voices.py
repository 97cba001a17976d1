"""List the system's voices, with the program and languages of each."""

import msgspec

from tocsin.speech.engine import Engine, SpeechError
from tocsin.speech.engines import engine_of_system, fix_of_system
from tocsin.translation import tr

LIMIT_S = 5.0                          # as long as nothing else of the list takes
_MOST_NAMED = 5


class VoiceRow(msgspec.Struct, frozen=True, kw_only=True):
    """A voice by the name that a rig gives (``[sound] voice``), and its languages as tags, the best one first."""

    name: str
    languages: tuple[str, ...]


class Voices(msgspec.Struct, frozen=True, kw_only=True):
    """All voices of the speaking ``program``, best first; ``why`` there are none, with the fix, or empty."""

    program: str = ""
    found: tuple[VoiceRow, ...] = ()
    why: str = ""

    def lines(self) -> list[str]:
        """Return for people the program, its number of voices, and the names of the first; or why there are none."""
        if not self.found:
            return [tr("none, so words are only shown: {why}", why=self.why)]
        names = ", ".join(voice.name for voice in self.found[:_MOST_NAMED])
        more = len(self.found) - _MOST_NAMED
        languages = {tag.partition("-")[0].lower() for voice in self.found for tag in voice.languages[:1]}
        rest = tr(", and {more} more: --json lists them", more=more) if more > 0 else ""
        return [
            tr(
                "{program}: {count} voices, {count_2} languages", program=self.program, count=len(self.found),
                count_2=len(languages),
            ),
            f"{names}{rest}",
        ]


def voices_of_system(limit_s: float = LIMIT_S) -> Voices:
    """Return this system's voices, none if the program does not answer in time."""
    return voices_of(engine_of_system(), fix_of_system(), limit_s)


def voices_of(engine: Engine | None, fix: str, limit_s: float) -> Voices:
    """Return the voices of an engine; None is one that is not installed, and ``fix`` says how to install it."""
    if engine is None:
        return Voices(why=fix)
    try:
        found = engine.voices(limit_s)
    except SpeechError as error:
        return Voices(program=engine.name, why=str(error))
    rows = tuple(VoiceRow(name=voice.name, languages=voice.languages) for voice in found)
    return Voices(program=engine.name, found=rows, why="" if rows else tr("{name} has no voice", name=engine.name))
