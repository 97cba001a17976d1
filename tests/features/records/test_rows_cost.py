"""What rows cost, counted and not timed: a machine may be busy."""

import cProfile
import pstats
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support.journal.recorded_rounds import record_rounds
from tocsin.features.records.run_list import rows
from tocsin.features.records.season_rows import season_rows
from tocsin.journal.place import run_folders

FEW, MANY = 12, 48


class Calls(dict[tuple[str, str], int]):
    """How often functions were called, by their module's last two parts and their name."""

    def of(self, module: str, name: str) -> int:
        return self.get((module, name), 0)


def calls(act: Callable[[], object]) -> Calls:
    profile = cProfile.Profile()
    profile.runcall(act)
    found = Calls()
    for (file, _, name), (_, count, *_) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        key = ("/".join(Path(file).with_suffix("").parts[-2:]), name)
        found[key] = found.get(key, 0) + count
    return found


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    found = {}
    for count in (FEW, MANY):
        found[count] = tmp_path_factory.mktemp("runs")
        record_rounds(found[count], "break_off", count)
    return found


def season(runs: Path) -> Calls:
    return calls(lambda: season_rows([runs], pytest.fail))


def test_equal_files_are_parsed_once_journals_read_once_and_kept_rows_open_none(folders: dict[int, Path]) -> None:
    cold, warm = season(folders[FEW]), season(folders[FEW])
    assert cold.of("config/recorded", "rules_of") == 1
    assert cold.of("journal/reader", "read") == FEW
    assert cold.of("rounds/stakes", "missing") == 0, "what was missing to a threshold is worked out where it is shown"
    assert cold.of("rounds/result", "round_result") == FEW
    read = ("journal/reader", "read"), ("journal/reader", "journal_of"), ("config/recorded", "rules_of")
    assert [warm.of(*one) for one in read] == [0, 0, 0]
    assert warm.of("records/row_cache", "keep_rows") == 0


def test_a_run_that_changed_is_the_only_one_that_is_read_anew(folders: dict[int, Path]) -> None:
    season(folders[FEW])
    with (run_folders(folders[FEW])[3] / "journal.jsonl").open("ab") as file:
        file.write(b"\n")
    found = season(folders[FEW])
    assert found.of("journal/reader", "read") == 1
    assert found.of("records/row_cache", "keep_rows") == 1


def test_four_times_the_runs_take_four_times_the_work_at_most(folders: dict[int, Path]) -> None:
    """Without what is done once (files parsed). Sorting takes a little more, and calls no function for it."""
    for runs in folders.values():
        (runs / "rows.msgpack").unlink(missing_ok=True)
    cold = [sum(season(folders[count]).values()) for count in (FEW, MANY)]
    warm = [sum(season(folders[count]).values()) for count in (FEW, MANY)]
    assert cold[1] < cold[0] * MANY / FEW
    assert warm[1] < warm[0] * MANY / FEW
    assert warm[1] < cold[1] / 10


def test_a_list_of_runs_parses_equal_files_once_too(folders: dict[int, Path]) -> None:
    found = calls(lambda: list(rows(folders[FEW], pytest.fail)))
    assert (found.of("config/recorded", "rules_of"), found.of("rounds/stakes", "missing")) == (1, 0)
