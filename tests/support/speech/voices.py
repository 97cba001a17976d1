"""Programs that speak, for tests: espeak-ng where it is installed, and small scripts that behave badly in its place.

On a user's machine tests that need espeak-ng are skipped where it is missing. CI installs it, so there they must run.
"""

import os
import shutil
import stat
import sys
from pathlib import Path
from typing import Any

import pytest

from tocsin.speech.engines import EspeakEngine

MISSING = shutil.which("espeak-ng") is None


def needs_espeak(test: Any) -> Any:
    """Mark a test that starts espeak-ng."""
    missing = MISSING and not os.environ.get("CI")
    return pytest.mark.devices(pytest.mark.skipif(missing, reason="espeak-ng is missing: apt install espeak-ng")(test))


def needs_scripts(test: Any) -> Any:
    """Mark a test that starts a script of these tests."""
    no_scripts = sys.platform == "win32"
    return pytest.mark.devices(pytest.mark.skipif(no_scripts, reason="a script is no program on Windows")(test))


# As espeak-ng 1.51 prints it (read from its output, shortened).
LISTING = """\
Pty Language       Age/Gender VoiceName          File                 Other Languages
 5  de              --/M      German             gmw/de
 6  de              --/F      german-mbrola-1    mb/mb-de1
 2  en-gb           --/M      English_(Great_Britain) gmw/en               (en 2)
 2  en-us           --/M      English_(America)  gmw/en-US            (en 3)
 5  en-gb-scotland  --/M      English_(Scotland) gmw/en-GB-scotland   (en 4)
 5  pt              --/M      Portuguese_(Portugal) roa/pt               (pt-pt 5)
 5  pt-br           --/M      Portuguese_(Brazil) roa/pt-BR            (pt 6)
 5  variant         --/M      Storm              !v/Storm             (en-us 5)
"""


def script(folder: Path, speaking: str, *, listing: str = LISTING, name: str = "espeak-ng") -> Path:
    """Write a program that lists voices as espeak-ng does; with ``-v`` it runs ``speaking``, lines of Python that know
    ``said`` (bytes), ``wav`` (its file) and ``arguments``. Return its path."""
    body = f"""#!{sys.executable}
import sys, time, pathlib
arguments = sys.argv[1:]
calls = pathlib.Path(__file__).with_suffix(".calls")
with calls.open("a") as file: file.write(repr(arguments) + chr(10))
if arguments == ["--voices"]:
    print({listing!r})
    sys.exit(0)
said = sys.stdin.buffer.read()
wav = arguments[arguments.index("-w") + 1]
{speaking}
"""
    path = folder / name
    path.write_text(body, encoding="utf-8")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


def calls(program: Path) -> int:
    """Return how often a script was called."""
    path = program.with_suffix(".calls")
    return len(path.read_text("utf-8").splitlines()) if path.exists() else 0


def engine(folder: Path, speaking: str, *, listing: str = LISTING) -> EspeakEngine:
    """Return an engine that calls a script."""
    return EspeakEngine(str(script(folder, speaking, listing=listing)))


# Lines for a script that speaks: half a second of a tone between silences, in the form that espeak-ng writes.
SPEAKS = """
import array, math, wave
samples = [0] * 2000 + [int(9000 * math.sin(i / 7)) for i in range(11025)] + [0] * 3000
with wave.open(wav, "wb") as file:
    file.setnchannels(1); file.setsampwidth(2); file.setframerate(22050)
    file.writeframes(array.array("h", samples).tobytes())
"""
HANGS = "time.sleep(600)"
