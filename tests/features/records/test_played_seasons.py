"""Seasons of real journals: their rows say what was noted, run by run, from journals and from kept rows."""

from collections import Counter
from pathlib import Path

import msgspec
import pytest
from hypothesis import settings

from tests.support.journal.played_seasons import NAMES, WORDS, PlayedSeason
from tocsin.analysis.seasons.row import Row
from tocsin.features.records.season_rows import season_rows

# Forty, two with the suite: TOCSIN_EXAMPLES=500.
SEASONS = max(1, settings.default.max_examples * 2 // 25)


def said_wrong(rows: tuple[Row, ...], runs: list[tuple[Path, dict[str, object]]]) -> list[str]:
    assert [row.folder for row in rows] == [str(folder) for folder, _ in runs]
    return [
        f"{folder.name} {name}: {getattr(row, name)!r}, not {wanted!r}"
        for row, (folder, fields) in zip(rows, runs, strict=True)
        for name, wanted in fields.items()
        if getattr(row, name) != wanted
    ]


@pytest.mark.parametrize("seed", range(SEASONS))
def test_rows_are_what_was_noted(tmp_path: Path, seed: int) -> None:
    season = PlayedSeason(tmp_path, seed)
    reads: list[int] = []

    def rows() -> tuple[Row, ...]:
        reads.append(0)
        return season_rows(season.folders, pytest.fail, lambda done, of: reads.append(reads.pop() + 1))

    before = [(told.folder, told.now) for told in season.runs]
    cold = rows()
    assert said_wrong(cold, before) == []
    assert rows() == cold
    season.add_later()
    after = rows()
    assert said_wrong(after, [(told.folder, told.later) for told in season.runs]) == []
    assert rows() == after
    assert reads == [len(season.runs), 0, sum(bool(told.added) for told in season.runs), 0]
    words = msgspec.msgpack.encode([msgspec.structs.replace(row, folder="") for row in after])
    assert not [name for names in NAMES.values() for name in (*names, WORDS) if name.encode() in words]


def test_a_season_holds_what_it_is_to_show(tmp_path: Path) -> None:
    """Else the comparison above might say little."""
    runs = [told.later for seed in range(2) for told in PlayedSeason(tmp_path / str(seed), seed).runs]
    assert len({run["evening"] for run in runs}) == 5
    midnight = {str(run["local"])[:10] for run in runs if run["evening"] == "2031-01-09"}
    assert midnight == {"2031-01-09", "2031-01-10"}
    for name, least in (("contacts", 3), ("break_off_by", 4), ("home", 4), ("at", 2), ("crew", 3), ("outcome", 2),
                        ("taken_out", 2), ("watched", 2), ("push_at_call", 3), ("turn_by", 2)):  # fmt: skip
        assert len(Counter(run[name] for run in runs if name in run)) >= least, name
    assert {bool(run["people"]) for run in runs} == {run["people_unknown"] for run in runs} == {True, False}
    assert any(run.get("scribe_lags_s") for run in runs)
