"""``tocsin run --resume`` takes no round of a drill, no block of a reaction test for a match."""

from pathlib import Path

import pytest

from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.place import boot_text
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter
from tocsin.runner.run import resume_match


@pytest.mark.parametrize(("part", "command"), [("drill", "tocsin drill --resume"), ("reaction", "tocsin react")])
def test_what_is_part_of_something_longer_is_not_a_match(
    part: str, command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    header = records.Header(
        at_ns=1, wall="2026-03-14T10:00:00.000Z", boot=boot_text(), options={part: {"name": "turn"}}
    )
    writer = JournalWriter.create(tmp_path / "runs", header)
    writer.append(records.State(at_ns=2, states=("running",)))
    assert not writer.close()
    before = writer.path.read_bytes()
    with pytest.raises(JournalError) as caught:
        resume_match(tmp_path / "runs", print, json_output=False)
    assert command in caught.value.hint
    assert str(caught.value).startswith(f"{short_name(writer.folder)}: what was cut short")
    assert writer.path.read_bytes() == before
