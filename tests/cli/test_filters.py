"""What is said while many runs are read: how far it is, not more often than somebody would wonder."""

from pathlib import Path

import pytest

from tests.support.journal.recorded_runs import record_push
from tocsin.cli.filters import reading_runs
from tocsin.features.records.season_rows import season_rows


def test_a_long_reading_says_how_far_it_is_and_kept_rows_say_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(3):
        record_push(tmp_path, number, 3.0)
    season_rows([tmp_path], pytest.fail, reading_runs(patience_ns=0))
    assert capsys.readouterr() == ("", "".join(f"tocsin: {n} of 3 new runs read\n" for n in range(3)))
    season_rows([tmp_path], pytest.fail, reading_runs(patience_ns=0))
    assert capsys.readouterr() == ("", "")


def test_a_short_one_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    progress = reading_runs(patience_ns=10**15)
    for n in range(1000):
        progress(n, 1000)
    assert capsys.readouterr() == ("", "")
