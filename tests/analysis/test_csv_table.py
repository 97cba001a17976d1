"""Tables that are none, or that are larger than anybody writes them: said in words, and soon."""

import pytest

from tocsin.analysis.csv_table import LONGEST_CELL, MOST_PROBLEMS, MOST_ROWS, TableError, rows_of
from tocsin.analysis.delays.film import read_film
from tocsin.analysis.rounds.video_marks import read_table

HEAD = "time,label,until,by\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (HEAD + "1," + "a" * 100_000, "line 2: a cell has 100,000 letters, and at most 200 are read"),
        (HEAD + "1," + "a" * 200_000, "line 2: .*larger than field limit .*is a quote not closed?"),
        (HEAD + '1,"contact\n' + "2,home\n" * 100, "is a quote not closed?"),
        (HEAD + "1,contact\n" * (MOST_ROWS + 1), "more than 2,000 rows"),
        (HEAD + '1,"' + "a" * 200_000 + '"', "a cell has|larger than field limit"),
        ("", "line 1: no column time and label"),
        ("\0", "line 1: no column time and label"),
    ],
)
def test_what_is_no_table_of_marks_is_said(text, says):
    with pytest.raises(TableError, match=says):
        read_table(text)


def test_of_many_mistakes_the_first_are_told_and_the_others_counted():
    with pytest.raises(TableError) as caught:
        read_table(HEAD + "soon,contact\n" * MOST_ROWS)
    assert len(caught.value.problems) == MOST_PROBLEMS + 1
    assert caught.value.problems[-1] == f"and {MOST_ROWS - MOST_PROBLEMS:,} more: fix these first"


def test_a_message_repeats_the_begin_of_a_cell_only():
    with pytest.raises(TableError) as caught:
        read_table(HEAD + "x" * LONGEST_CELL + ",contact\n")
    assert len(caught.value.problems[0]) < 120


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_end_as_any_system_ends_them(end):
    text = (HEAD + '1,contact\n\n2,"home, half",,us\n').replace("\n", end)
    assert [(line, cells["label"]) for line, cells in rows_of(text, ("time", "label"), ("time",))] == [
        (2, "contact"), (4, "home, half"),
    ]  # fmt: skip


def test_a_film_of_as_many_rows_as_are_read_takes_no_square_of_them():
    rows = "".join(f"{n},light,{n * 10},\n" for n in range(1, MOST_ROWS + 1))
    with pytest.raises(TableError, match="no frame is filled in"):
        read_film("cue,device,called_ms,frame\n" + rows, ["light"])
