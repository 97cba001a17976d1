"""The table as CSV: read back by a library, equal to the rows; nothing in it is a formula."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tests.support.model.compiled_games import PATTERNS, PERIODS, cue
from tocsin.export.occurrences import calls
from tocsin.export.table import COLUMNS, csv_text, rows, seconds
from tocsin.model.game import Game
from tocsin.model.plan import Plan


@pytest.mark.parametrize("name", BUNDLED)
def test_csv_reads_back_as_the_rows(name):
    found = calls(bundled(name))
    reader = csv.DictReader(io.StringIO(csv_text(found), newline=""))
    assert tuple(reader.fieldnames or ()) == COLUMNS
    assert list(reader) == rows(found)


@pytest.mark.parametrize("words", ["=1+1", "+49", "-1", "@home", "\tx", 'a "quote", and a comma', "two\nlines"])
def test_words_of_a_plan_are_no_formula(words):
    made = source(Game(name="G", periods=PERIODS), Plan(
        name="P", game="g", cues=(cue("home", "driver.begin", say=words, why=words),), patterns=PATTERNS,
    ))  # fmt: skip
    (row,) = csv.DictReader(io.StringIO(csv_text(calls(made)), newline=""))
    assert row["word"].removeprefix("'") == words.replace("\t", "\\t"), "what nobody sees is escaped"
    assert row["word"][0] not in "=+-@\t"


@given(st.integers(-(10**15), 10**15))
def test_seconds_lose_nothing(ns):
    whole, _, digits = seconds(abs(ns)).partition(".")
    assert int(whole) * 10**9 + int(digits.ljust(9, "0") or 0) == abs(ns)
    assert seconds(ns).startswith("-") == (ns < 0)
    assert not seconds(ns).endswith(("." , ".0"))
