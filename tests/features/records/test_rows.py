"""Rows of recorded rounds, against a reckoning from their journals' raw lines and against results one by one."""

import csv
import io
import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.run_rows import one_by_one, together
from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import record_push
from tests.support.people.reckoned_round import Clock, Noted, Reckoned, Rule, reckon
from tocsin.cli.main import main
from tocsin.features.records.round_files import DROPPED, append_note
from tocsin.features.records.rows import RowMaker
from tocsin.journal import records
from tocsin.journal.reader import all_runs
from tocsin.units import NS_PER_S

ROUNDS = 24                            # two sessions
NO_RULE = Rule(turned_ns=10**12, home_ns=-(10**12))
OUT = 5                                # a round that people took out


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("runs")
    record_rounds(folder, "break_off", ROUNDS)
    append_note(sorted(folder.iterdir())[OUT], records.Note(at_ns=6_000 * NS_PER_S, what=DROPPED, text="=wrong set-up"))
    return folder


def raw(runs: Path) -> list[list[dict[str, Any]]]:
    folders = sorted(runs.iterdir())
    return [[json.loads(line) for line in (one / "journal.jsonl").read_text("utf-8").splitlines()] for one in folders]


def reckoned(lines: list[dict[str, Any]]) -> Reckoned:
    def of(kind: str) -> list[dict[str, Any]]:
        return [line for line in lines if line["kind"] == kind]

    clock = Clock(of("origin")[0]["origin_ns"], 1)
    marks = [Noted(one["label"], one["begin_ns"], one.get("end_ns") or one["begin_ns"]) for one in of("mark")]
    return reckon(marks, clock, of("firing")[0]["at_ns"], of("end")[0]["at_ns"], NO_RULE)


def in_s(ns: int | None) -> str:
    return "" if ns is None else f"{ns / NS_PER_S:.3f}"


def printed(capsys: pytest.CaptureFixture[str], runs: Path, *arguments: str) -> str:
    capsys.readouterr()
    assert main(["runs", "--runs", str(runs), *arguments]) == 0
    return capsys.readouterr().out


def test_the_table_is_that_of_the_raw_records(runs: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["runs", "--runs", str(runs), "--csv"]) == 0
    table = list(csv.DictReader(io.StringIO(capfdbinary.readouterr().out.decode(), newline="")))
    assert len(table) == ROUNDS
    for place, (row, lines) in enumerate(zip(reversed(table), raw(runs), strict=True)):
        found, said = reckoned(lines), lines[0]["options"]["drill"]
        assert {
            "break_off_margin_s": in_s(found.break_off_margin_ns), "turn_s": in_s(found.turn_ns),
            "way_s": in_s(found.travel_ns), "home_margin_s": in_s(found.home_margin_ns),
            "contacts": str(found.contacts), "contact_s": in_s(found.overlap_ns), "cost_points": str(found.cost),
            "gain_points": str(found.gain), "gain_at_most_points": str(found.gain_at_most),
            "shift_s": in_s(said["condition"]["shift_ns"]), "setup": said["condition"]["setup"],
            "counted": "no" if place == OUT or said["half_speed"] else "yes",
        }.items() <= row.items()  # fmt: skip
    assert {bool(row["contacts"] != "0") for row in table} == {True, False}
    assert [row["not_counted_because"] for row in table].count("'=wrong set-up") == 1


def test_a_session_counts_what_the_raw_records_hold(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shown = json.loads(printed(capsys, runs, "--show", "00000000", "--json"))
    lines = raw(runs)[: ROUNDS // 2]
    setups = Counter(one[0]["options"]["drill"]["condition"]["setup"] for one in lines)
    counted = Counter(
        one[0]["options"]["drill"]["condition"]["setup"]
        for place, one in enumerate(lines)
        if place != OUT and not one[0]["options"]["drill"]["half_speed"]
    )
    found = [one for one in shown["dealt"] if one["factor"] == "setup"]
    told = {one["value"]: (one["dealt"], one["played"], one["counted"]) for one in found}
    assert told == {setup: (count, count, counted[setup]) for setup, count in setups.items()}
    clean = Counter(row["setup"] for row in shown["rows"] if row["counted"] and row["clean"])
    assert {one["value"]: one["clean"] for one in found} == {setup: clean[setup] for setup in setups}
    text = printed(capsys, runs, "--show", "00000000")
    assert all(setup in text for setup in setups)
    first = printed(capsys, runs, "--show", sorted(runs.iterdir())[0].name)
    assert "half speed, rounds on this battery before: 0" in first


def test_rows_say_the_same_as_results_that_are_worked_out_one_by_one(runs: Path) -> None:
    journals = list(all_runs(runs, pytest.fail))
    assert together(journals) == one_by_one(journals)


def test_a_round_whose_files_this_version_refuses_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without its files a round has no result: that is not the doubt of a mark near an edge."""
    record_rounds(tmp_path, "break_off", 1)
    (folder,) = tmp_path.iterdir()
    journal = folder / "journal.jsonl"
    journal.write_text(journal.read_text("utf-8").replace("tocsin-drill/1", "tocsin-drill/9"), "utf-8")
    (row,) = json.loads(printed(capsys, tmp_path, "--json"))
    assert (row["clean"], row["uncounted"]) == (None, ["its files cannot be read by this version"])


def test_a_run_that_follows_another_laptop_is_judged_there_alone(tmp_path: Path) -> None:
    record_push(tmp_path, 1, 2.0, drill=False)
    record_push(tmp_path, 2, 2.0, drill=False, follows={"place": "10.0.0.5:8737", "run": 1})
    own, follows = sorted(all_runs(tmp_path, pytest.fail), key=lambda journal: journal.header.wall)
    maker = RowMaker()
    assert maker.report(own) is not None
    assert maker.report(follows) is None
    assert maker.row(follows).counted is False
