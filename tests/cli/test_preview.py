"""``tocsin preview``: the table in a terminal, as JSON, as CSV."""

import csv
import io
import json

import pytest

from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]
# The bundled plan as the design has it: what the official display reads, and which cue comes then.
FULL = [
    ("0:08", "pads"), ("1:58", "alive"), ("0:36", "last_load"), ("0:25", "coach_call"), ("0:24", "home"),
    ("0:20", "keep_off"), ("0:10", "choose"), ("0:05", "last_five"), ("0:04", "last_five"), ("0:03", "last_five"),
    ("0:02", "last_five"), ("0:01", "last_five"), ("0:00", "over"), ("by hand", "home"),
]  # fmt: skip


def test_the_table_shows_every_cue_in_order(capsys: Output) -> None:
    assert main(["preview"]) == 0
    out = capsys.readouterr().out
    lines = [line for line in out.splitlines() if line.strip()]
    head = next(n for n, line in enumerate(lines) if line.split()[:2] == ["left", "cue"])
    assert len(lines) - head - 1 == len(FULL)
    for line, (left, cue) in zip(lines[head + 1 :], FULL, strict=True):
        assert line.strip().startswith(left)
        assert line.split(left, 1)[1].split()[0] == cue
    assert "20.0 to 19.0 s" in out


def test_csv_and_json_hold_the_same(capsys: Output) -> None:
    assert main(["preview", "--plan", "turns", "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert main(["preview", "--plan", "turns", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["game"], facts["plan"]) == ("Tide Lifts", "Turns")
    assert [row["cue"] for row in table] == [call["cue"] for call in facts["calls"]]
    assert [row["left"] for row in table] == [call["shown"] for call in facts["calls"]]


def test_a_variant_has_a_column_of_its_own(capsys: Output) -> None:
    main(["preview", "--plan", "turns"])
    out = capsys.readouterr().out
    assert "only if" in out
    assert "they_first" in out


@pytest.mark.parametrize("arguments", [["--plan", "ful"], ["--csv", "--json"], ["--plan", "full", "--game", "nowhere"]])
def test_what_does_not_fit_is_one_line_and_a_hint(arguments: list[str], capsys: Output) -> None:
    try:
        code = main(["preview", *arguments])
    except SystemExit as left:                                  # argparse leaves by itself
        code = left.code
    captured = capsys.readouterr()
    assert code == 2
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 2
