"""Define the systems' speech programs: espeak-ng (Linux), say (macOS), System.Speech by PowerShell (Windows).

Their arguments and output were tried with espeak-ng 1.51; those of the other two are from memory.
"""

import base64
import re
import shutil
import sys
from pathlib import Path
from typing import ClassVar

from tocsin.speech.engine import Engine, Invocation, Voice

# " 2  en-us           --/M      English_(America)  gmw/en-US            (en 3)": priority, language, age and gender,
# name, file, other languages with a priority each. Only names are longer than their column.
_ESPEAK_LINE = re.compile(r"\s*(?P<priority>\d+)\s+(?P<language>\S+)\s+\S+\s+(?P<name>\S+)\s+(?P<file>\S+)(?P<more>.*)")
_ESPEAK_MORE = re.compile(r"\((?P<language>\S+) (?P<priority>\d+)\)")
_WORST = 99                            # behind every priority that espeak-ng gives
# "Anna                de_DE    # Hallo, ich heiße Anna."
_SAY_LINE = re.compile(r"(?P<name>\S.*?)\s+(?P<language>[a-z]{2,3}[_-]\w+)\s+#")

_POWERSHELL = ("-NoLogo", "-NoProfile", "-NonInteractive", "-Command")
# What differs from phrase to phrase comes by the environment and, in base64, by standard input: none of it is script.
_LIST_VOICES = """\
$ErrorActionPreference = 'Stop'
[Console]::OutputEncoding = [Text.Encoding]::UTF8
Add-Type -AssemblyName System.Speech
$speaker = New-Object System.Speech.Synthesis.SpeechSynthesizer
$speaker.GetInstalledVoices() | Where-Object { $_.Enabled } | ForEach-Object {
    $_.VoiceInfo.Culture.Name + "`t" + $_.VoiceInfo.Name
}
"""
_SPEAK = """\
$ErrorActionPreference = 'Stop'
Add-Type -AssemblyName System.Speech
$phrase = [Text.Encoding]::UTF8.GetString([Convert]::FromBase64String([Console]::In.ReadToEnd().Trim()))
$speaker = New-Object System.Speech.Synthesis.SpeechSynthesizer
$speaker.SelectVoice($env:TOCSIN_VOICE)
$speaker.SetOutputToWaveFile($env:TOCSIN_WAV)
$speaker.Speak($phrase)
$speaker.Dispose()
"""


class EspeakEngine(Engine):
    """espeak-ng. Voices that need the data of another program (mbrola) are used only if named."""

    name: ClassVar[str] = "espeak-ng"

    def _listing(self) -> Invocation:
        return Invocation(("--voices",))

    def _voices_in(self, text: str) -> tuple[Voice, ...]:
        found: list[tuple[int, Voice]] = []
        for line in text.splitlines():
            match = _ESPEAK_LINE.fullmatch(line)
            if match is None:
                continue
            others = [(int(m["priority"]), m["language"]) for m in _ESPEAK_MORE.finditer(match["more"])]
            spoken = [language for _, language in sorted(others)]
            own = () if match["file"].startswith(("mb/", "!v/")) else (match["language"], *spoken)
            rank = min([int(match["priority"]), *(priority for priority, _ in others)]) if own else _WORST
            found.append((rank, Voice(match["name"].replace("_", " ").strip(), match["file"], own)))
        return tuple(voice for _, voice in sorted(found, key=lambda entry: entry[0]))

    def _speaking(self, phrase: str, voice: Voice, wav: Path) -> Invocation:
        # -b 1: the phrase is UTF-8; -z: no pause behind it.
        return Invocation(("-v", voice.key, "-b", "1", "-z", "-w", str(wav), "--stdin"), phrase.encode())


class SayEngine(Engine):
    """macOS's own program."""

    name: ClassVar[str] = "say"

    def _listing(self) -> Invocation:
        return Invocation(("-v", "?"))

    def _voices_in(self, text: str) -> tuple[Voice, ...]:
        lines = (match for line in text.splitlines() if (match := _SAY_LINE.match(line)))
        return tuple(Voice(m["name"], m["name"], (m["language"].replace("_", "-"),)) for m in lines)

    def _speaking(self, phrase: str, voice: Voice, wav: Path) -> Invocation:
        form = ("--file-format=WAVE", "--data-format=LEI16@22050")
        return Invocation(("-v", voice.key, "-o", str(wav), *form, "-f", "-"), phrase.encode())


class WindowsEngine(Engine):
    """The speech of .NET, which comes with Windows."""

    name: ClassVar[str] = "System.Speech"

    def _listing(self) -> Invocation:
        return Invocation((*_POWERSHELL, _LIST_VOICES))

    def _voices_in(self, text: str) -> tuple[Voice, ...]:
        lines = (line.strip("\ufeff\r ").split("\t") for line in text.splitlines() if "\t" in line)
        return tuple(Voice(name, name, (language,)) for language, name in lines)

    def _speaking(self, phrase: str, voice: Voice, wav: Path) -> Invocation:
        environment = {"TOCSIN_VOICE": voice.key, "TOCSIN_WAV": str(wav)}
        return Invocation((*_POWERSHELL, _SPEAK), base64.b64encode(phrase.encode()), environment)


_OF_SYSTEM: dict[str, tuple[str, type[Engine], str]] = {
    "win32": ("powershell", WindowsEngine, "PowerShell is missing"),
    "darwin": ("say", SayEngine, "the program say is missing"),
}
_ELSEWHERE: tuple[str, type[Engine], str] = ("espeak-ng", EspeakEngine, "install espeak-ng")


def engine_of_system(system: str = sys.platform) -> Engine | None:
    """Return this system's speech engine, None if it is not installed."""
    program, engine, _ = _OF_SYSTEM.get(system, _ELSEWHERE)
    found = shutil.which(program)
    return engine(found) if found else None


def fix_of_system(system: str = sys.platform) -> str:
    """Return how to install this system's speech program."""
    return _OF_SYSTEM.get(system, _ELSEWHERE)[2]
