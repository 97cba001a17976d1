"""Programs that speak: what they are told, what they list, and that a bad one neither hangs nor hurts."""

import base64
import shutil
import threading
import wave
from pathlib import Path

import psutil
import pytest

from tests.support.speech.voices import HANGS, LISTING, SPEAKS, engine, needs_espeak, needs_scripts
from tocsin.speech.choice import voice_for
from tocsin.speech.engine import Engine, HangsError, SpeechError, Voice
from tocsin.speech.engines import EspeakEngine, SayEngine, WindowsEngine, engine_of_system, fix_of_system

VOICE = Voice("German", "gmw/de", ("de",))
# From memory of `say -v ?` on macOS.
SAY_LISTING = """\
Alex                en_US    # Most people recognize me by my voice.
Anna (Premium)      de_DE    # Hallo! Ich heiße Anna.
Bad News            en_US    # The light you see at the end of the tunnel.
Aman                en_IN    # Hello! My name is Aman.
"""
ODD = ["Rück' \"kehr\"", "-w /tmp/x --stdin", "$(touch x) `touch x`; 100 % & | > x", "'; Remove-Item x #", "日本 🏁",
       "a\\nb"]  # fmt: skip


# -- what they list


def test_voices_of_espeak_stand_in_the_order_of_their_preference() -> None:
    voices = EspeakEngine("espeak-ng")._voices_in(LISTING)
    assert [voice.key for voice in voices if "en" in voice.languages] == ["gmw/en", "gmw/en-US", "gmw/en-GB-scotland"]
    assert voices[0] == Voice("English (Great Britain)", "gmw/en", ("en-gb", "en"))
    # Those need the data of another program, which is seldom there: only by their name.
    assert {voice.key for voice in voices if not voice.languages} == {"mb/mb-de1", "!v/Storm"}


def test_voices_of_the_other_systems() -> None:
    voices = SayEngine("say")._voices_in(SAY_LISTING)
    assert [(v.name, v.languages) for v in voices] == [
        ("Alex", ("en-US",)), ("Anna (Premium)", ("de-DE",)), ("Bad News", ("en-US",)), ("Aman", ("en-IN",))
    ]  # fmt: skip
    listed = "\ufeffde-DE\tAnna von nebenan\r\n\r\nen-US\tBert\r\n"
    assert WindowsEngine("powershell")._voices_in(listed) == (
        Voice("Anna von nebenan", "Anna von nebenan", ("de-DE",)), Voice("Bert", "Bert", ("en-US",))
    )  # fmt: skip


VOICES = EspeakEngine("espeak-ng")._voices_in(LISTING)


@pytest.mark.parametrize(
    ("language", "key"),
    [("en", "gmw/en"), ("de", "gmw/de"), ("EN-us", "gmw/en-US"), ("pt-BR", "roa/pt-BR"),
     # RFC 4647, 3.4: what is too narrow is widened from its end, a singleton going with what follows it.
     ("de-CH-1996", "gmw/de"), ("en-us-x-loud", "gmw/en-US"),
     # A voice of a region serves who asks for none.
     ("en-gb-scotland", "gmw/en-GB-scotland"), ("pt", "roa/pt")],
)  # fmt: skip
def test_a_language_finds_its_voice(language: str, key: str) -> None:
    assert voice_for(VOICES, language).key == key


def test_a_voice_of_a_region_serves_a_plan_that_names_none() -> None:
    assert voice_for((Voice("Bert", "b", ("en-AU",)),), "en").name == "Bert"
    with pytest.raises(SpeechError):
        voice_for((Voice("Bert", "b", ("eng",)),), "en")


@pytest.mark.parametrize("name", ["English (America)", "english_(america)", "gmw/en-US"])
def test_a_voice_is_found_by_its_name_whatever_the_language(name: str) -> None:
    assert voice_for(VOICES, "de", name).key == "gmw/en-US"


@pytest.mark.parametrize(
    ("language", "name", "told"),
    [("de", "Anna", ["no voice 'Anna'", "German"]), ("xx", "Anna", ["no voice 'Anna'", "English (Great Britain)"]),
     ("xx", "", ["no voice here speaks 'xx'", "en-gb, en-us"])],
)  # fmt: skip
def test_a_voice_or_language_that_is_not_there_names_those_that_are(language: str, name: str, told: list[str]) -> None:
    with pytest.raises(SpeechError) as error:
        voice_for(VOICES, language, name)
    assert [part for part in told if part not in str(error.value)] == []
    assert len(str(error.value)) < 200


def test_a_system_without_any_voice_says_so() -> None:
    with pytest.raises(SpeechError, match="no voice"):
        voice_for((), "en")


# -- what they are told


@pytest.mark.parametrize("phrase", ODD)
@pytest.mark.parametrize("back_end", [EspeakEngine, SayEngine, WindowsEngine])
def test_a_phrase_stands_in_no_command_line_and_no_script(back_end: type[Engine], phrase: str) -> None:
    call, plain = (back_end("x")._speaking(text, VOICE, Path("w.wav")) for text in (phrase, "Home"))
    assert call.arguments == plain.arguments
    assert call.environment == plain.environment
    assert phrase.encode() in (call.said, base64.b64decode(call.said + b"==="))


def test_each_system_has_its_program(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "/nothing")
    for system in ("linux", "win32", "darwin"):
        assert engine_of_system(system) is None
        assert fix_of_system(system)
    assert "espeak-ng" in fix_of_system("linux")


# -- real programs


@needs_scripts
@pytest.mark.parametrize("phrase", ODD)
def test_a_program_reads_the_very_phrase(tmp_path: Path, phrase: str) -> None:
    wav = tmp_path / "w.wav"
    engine(tmp_path, "open(wav, 'wb').write(said)").speak(phrase, VOICE, wav, 20)
    assert wav.read_bytes().decode() == phrase


@needs_scripts
def test_a_program_that_hangs_is_ended_with_all_that_it_has_started(tmp_path: Path) -> None:
    lines = "import subprocess; subprocess.run([sys.executable, '-c', 'import time; time.sleep(600)'])"
    with pytest.raises(HangsError, match=r"no answer within 1.5 s"):
        engine(tmp_path, lines).speak("Home", VOICE, tmp_path / "w.wav", 1.5)
    mine = psutil.Process().children(recursive=True)
    assert [process.cmdline() for process in mine if "espeak-ng" in " ".join(process.cmdline())] == []


@needs_scripts
def test_a_program_that_is_stopped_ends_at_once_and_is_not_called_again(tmp_path: Path) -> None:
    hanging = engine(tmp_path, "open(wav, 'w').close(); " + HANGS)
    wav = tmp_path / "w.wav"
    raised: list[Exception] = []

    def speak() -> None:
        try:
            hanging.speak("Home", VOICE, wav, 60)
        except SpeechError as error:
            raised.append(error)

    thread = threading.Thread(target=speak)
    thread.start()
    while not wav.exists():
        assert thread.is_alive()
        thread.join(0.02)
    hanging.stop()
    thread.join(20)
    assert not thread.is_alive()
    assert len(raised) == 1
    with pytest.raises(SpeechError, match="stopped"):
        hanging.voices(1)


@needs_scripts
@pytest.mark.parametrize(
    ("speaking", "told"),
    [("sys.exit('Error: no such voice.')", "Error: no such voice."), ("sys.exit(3)", "exit code 3"),
     ("sys.stderr.write('x' * 100000); sys.exit(1)", "xxx")],
)  # fmt: skip
def test_a_program_that_fails_is_told_in_its_own_words(tmp_path: Path, speaking: str, told: str) -> None:
    with pytest.raises(SpeechError) as error:
        engine(tmp_path, speaking).speak("Home", VOICE, tmp_path / "w.wav", 20)
    assert told in str(error.value)
    assert len(str(error.value)) < 200


@pytest.mark.devices
def test_a_program_that_is_gone_is_told(tmp_path: Path) -> None:
    with pytest.raises(SpeechError, match="cannot be started"):
        EspeakEngine(str(tmp_path / "nothing")).voices(1)


@needs_espeak
@pytest.mark.parametrize("phrase", [*ODD[:4], "Home", "Rückkehr"])
def test_espeak_speaks(tmp_path: Path, phrase: str) -> None:
    spoken = engine_of_system("linux")
    assert spoken is not None
    voice = voice_for(spoken.voices(20), "de")
    spoken.speak(phrase, voice, tmp_path / "w.wav", 20)
    with wave.open(str(tmp_path / "w.wav")) as file:
        assert file.getnframes() > file.getframerate() // 10
    assert [path.name for path in tmp_path.iterdir()] == ["w.wav"]


@needs_espeak
def test_espeak_has_a_voice_for_many_languages_and_says_when_one_fails(tmp_path: Path) -> None:
    spoken = EspeakEngine(str(shutil.which("espeak-ng")))
    voices = spoken.voices(20)
    assert [voice_for(voices, tag).languages[0].split("-")[0] for tag in ("en", "de", "fr", "tr", "pt-BR", "es")] == [
        "en", "de", "fr", "tr", "pt", "es"
    ]
    with pytest.raises(SpeechError, match="espeak-ng failed"):
        spoken.speak("Home", Voice("x", "no/such", ()), tmp_path / "w.wav", 20)


@needs_scripts
def test_a_script_of_these_tests_speaks_too(tmp_path: Path) -> None:
    spoken = engine(tmp_path, SPEAKS)
    spoken.speak("Home", voice_for(spoken.voices(20), "en"), tmp_path / "w.wav", 20)
    with wave.open(str(tmp_path / "w.wav")) as file:
        assert file.getframerate() == 22_050
