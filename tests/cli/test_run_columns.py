"""The table of runs for spreadsheets: RFC 4180, and nothing that a spreadsheet would carry out."""

import csv
import io

import pytest

from tocsin.cli.run_columns import COLUMNS, as_csv, condition_text, short_condition_text, told_columns
from tocsin.features.records.rows import RunRow


def row(**fields) -> RunRow:
    given = {"folder": "/runs/one", "wall": "2031-03-01T10:00:00Z", "game": "G", "plan": "P", "source": ""}
    return RunRow(**{**given, "outcome": "over", **fields})


def table(*rows: RunRow) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(as_csv(rows).decode(), newline=""), strict=True))


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1", "-1 s", "@SUM(A1)", "=a,b\nc"])
def test_no_text_of_people_is_a_formula(text: str) -> None:
    (found,) = table(row(label=text, setup=text, drill=text, taken_out=text, break_off_margin_s=-1.25))
    for name in ("label", "setup", "drill", "not_counted_because"):
        assert found[name].startswith(f"'{text[0]}")
    assert found["break_off_margin_s"] == "-1.250", "a number stays one"


def test_commas_quotes_line_ends_and_what_steers_a_terminal_stay_in_their_cell() -> None:
    data = as_csv([row(label='say "now", then\r\nwait\x1b[2J', crew="A")])
    assert data.count(b"\r\n") == data.count(b"\n") == 2
    assert b"\x1b" not in data
    (found,) = table(row(label='say "now", then'))
    assert found["label"] == 'say "now", then'


def test_columns_are_named_once_and_all_are_told() -> None:
    names = [column.name for column in COLUMNS]
    assert len(set(names)) == len(names)
    assert all(name in "\n".join(told_columns()) for name in names)
    known = {*RunRow.__struct_fields__}
    assert {name for name in known if name.endswith(("_s", "_points"))} <= set(names)


def test_unknown_is_empty_and_so_is_the_verdict_on_what_is_not_judged() -> None:
    (block,) = table(row(kind="reaction"))
    (broken_off,) = table(row(outcome="scrapped"))
    names = ("clean", "counted", "half_speed", "turn_s", "contacts", "round", "drill")
    assert {one[name] for one in (block, broken_off) for name in names} == {""}
    (match,) = table(row(watched=False, call="planned", turn_s=2.0))
    assert (match["clean"], match["counted"], match["watched"], match["call"]) == ("unknown", "no", "no", "planned")
    (found,) = table(row(drill="D", round=2, clean=None, counted=False, taken_out="wrong set-up", uncounted=("x", "y")))
    assert (found["clean"], found["counted"], found["not_counted_because"]) == ("unknown", "no", "wrong set-up; x; y")


def test_a_narrow_list_tells_only_what_was_dealt_to_the_call() -> None:
    later = row(drill="D", setup="wall", coach="silent", draw_out="none", shift_s=-1.0)
    assert short_condition_text(later) == "1 s later"
    assert short_condition_text(row(drill="D", draw_out="light", shift_s=1.0)) == "1 s earlier, without light"
    assert short_condition_text(row(drill="D", draw_out="none", shift_s=0.0)) == ""


def test_what_was_dealt_is_told_in_words() -> None:
    dealt = {"setup": "wall", "coach": "silent", "draw_out": "none", "shift_s": -1.0, "late_start_s": 2.0}
    told = condition_text(row(drill="D", plan_dealt="full", **dealt))
    assert told == "wall, coach silent, all channels, 1 s later, began 2 s late, plan full"
