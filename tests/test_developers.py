"""DEVELOPERS.md tells of the source as it is: its picture is made from it, and each file that it names is there."""

import re

import pytest

from tests.support import PROJECT
from tests.support.house import PAGE, SOURCE, written

TEXT = PAGE.read_text("utf-8")
# Where a bare name may stand: the scripts are told of by theirs.
FOLDERS = (PROJECT, SOURCE, PROJECT / "tests" / "attacks", PROJECT / "tests" / "benchmarks")
NAMED = sorted({name for name in re.findall(r"`([\w/.-]+\.(?:py|js|toml|md|txt))`", TEXT) if name != "file.py"})


def test_the_picture_is_that_of_the_source_today():
    assert written(TEXT) == TEXT, "run: python -m tests.support.house"


def test_it_names_enough_to_find_the_way():
    assert len(NAMED) > 50


@pytest.mark.parametrize("name", NAMED)
def test_each_file_that_it_names_is_there(name):
    assert any((folder / name).exists() for folder in FOLDERS)
