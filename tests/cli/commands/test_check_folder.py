"""``tocsin check`` without arguments says what it looked at."""

from pathlib import Path

import pytest

from tocsin.cli.main import main
from tocsin.config.write.starter import copy_bundled

Output = pytest.CaptureFixture[str]


def test_the_folders_that_were_looked_at_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    found = copy_bundled(tmp_path)
    (tmp_path / "mine.toml").write_text(Path(found.written[0]).read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert main(["check"]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first.startswith(f"Looked at {len(found.written) + 1} files in ")
    named = first.rstrip(".").split(" in ")[1].split(", ")
    assert sorted(named) == ["drills", "games", "patterns", "plans", "rigs", "this folder"]


def test_also_where_there_are_mistakes_but_not_where_files_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.toml").write_text('format = "tocsin-plan/1"\n', encoding="utf-8")
    assert main(["check"]) == 20
    assert capsys.readouterr().out.startswith("Looked at 1 file in this folder.\n")
    assert main(["check", "mine.toml"]) == 20
    assert "Looked at" not in capsys.readouterr().out
