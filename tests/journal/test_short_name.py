"""Short names of runs: few letters, no two alike, the same when labels go, found again by what was shown."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from tocsin.journal.place import folder_name
from tocsin.journal.short_name import LEAST, called, short_name, short_names

TYPED = set("bcdfghjkmnpqrstvwxz23456789")


def folders(count: int, label: str = "") -> list[Path]:
    begin = datetime(2031, 3, 1, tzinfo=UTC)
    walls = [(begin + timedelta(seconds=97 * n)).isoformat(timespec="milliseconds") for n in range(count)]
    return [Path("runs") / folder_name(wall.replace("+00:00", "Z"), label) for wall in walls]


def test_a_season_has_short_names_that_nobody_mistakes() -> None:
    known = folders(3000)
    names = short_names(known)
    assert len(set(names.values())) == len(known)
    assert all(set(name) <= TYPED and name[0].isalpha() and len(name) >= LEAST for name in names.values())
    assert sum(len(name) > LEAST for name in names.values()) < 60, "3000²/2 pairs over 374,000 names: some 12 are alike"
    for folder in known[::50]:
        assert called(known, names[folder]) == [folder]
        assert called(known, names[folder].upper()) == [folder]


def test_a_name_stays_when_a_label_changes_and_namesakes_differ() -> None:
    (labelled,), (bare,) = folders(1, "Ann's push"), folders(1)
    assert short_names([labelled])[labelled] == short_names([bare])[bare]
    again = bare.with_name(f"{bare.name}.2")
    assert len(set(short_names([bare, again]).values())) == 2


def test_less_than_a_whole_name_names_nothing() -> None:
    (one,) = folders(1)
    name = short_names([one])[one]
    assert called([one], name[:3]) == called([one], "") == called([one], "....") == []


def test_where_there_is_no_folder_its_own_name_stands(tmp_path: Path) -> None:
    assert short_name(tmp_path / "gone" / "2031-03-01_00-00-00.000Z") == "2031-03-01_00-00-00.000Z"


@given(st.text(min_size=1).filter(lambda text: "/" not in text and "\0" not in text))
def test_any_folder_has_a_name(text: str) -> None:
    folder = Path("runs") / text
    assert len(short_names([folder])[folder]) == LEAST
