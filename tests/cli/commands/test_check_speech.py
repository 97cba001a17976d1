"""``tocsin check`` goes by how long words are that this laptop has made, and by an estimate for the others."""

import json
import sys
from pathlib import Path

import pytest

from tests.support.speech.voices import SPEAKS, script
from tocsin.cli.commands.check import main
from tocsin.model.samples import FRAME_BYTES, RATE_HZ
from tocsin.speech.cache import Spoken, WordCache, words_folder

GAME = """\
format = "tocsin-game/1"
name = "Bell Push"                        # invented
[[period]]
id = "driver"
kind = "driver"
lasts = "60s"
"""
# `steady` sounds for 250 ms, the word begins 100 ms later; by the estimate of 200 ms a syllable it ends after 550 ms.
PLAN = """\
format = "tocsin-plan/1"
name = "Bells"
game = "game.toml"
language = "de"
[[cue]]
id = "home"
at = "driver.begin+10s"
sound = "steady"
rumble = "short"
say = "Heim"
[[cue]]
id = "other"
at = "driver.begin+10600ms"
sound = "steady"
rumble = "short"
"""


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="the words of these systems are others")
@pytest.mark.parametrize(
    ("language", "ms", "codes"),
    [("de", 251, ["speech_over_tone"]), ("de", 250, []), ("en", 900, []), ("de", None, [])],
    ids=["as long as it is", "just short enough", "of another language", "not made yet"],
)
def test_words_are_as_long_as_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    language: str, ms: int | None, codes: list[str],
) -> None:  # fmt: skip
    script(tmp_path, SPEAKS)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "game.toml").write_text(GAME, "utf-8")
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    if ms is not None:
        frames = bytes(FRAME_BYTES * RATE_HZ * ms // 1000)
        WordCache(words_folder()).put(Spoken("espeak-ng", "", language, "Heim"), frames)
    assert main([str(tmp_path / "plan.toml"), "--json", "--runs", str(tmp_path / "runs")]) == 0
    assert [found["code"] for found in json.loads(capsys.readouterr().out)["findings"]] == codes
