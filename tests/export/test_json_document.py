"""The JSON export: complete, and as its published JSON Schema explains it (``test_schema.py``)."""

import json
from pathlib import Path

import pytest

import tocsin.export
from tests.support.export.exported_plans import BUNDLED, bundled
from tocsin.export.json_document import json_text

SCHEMA = Path(tocsin.export.__file__).with_name("schema.json")


def test_the_sums_that_are_worth_reaching_are_there():
    thresholds = json.loads(json_text(bundled("full")))["game"]["thresholds"]
    assert [(t["id"], t["points"]) for t in thresholds] == [("tenor", 30), ("great_bell", 45)]


@pytest.mark.parametrize("name", BUNDLED)
def test_the_schema_says_how_a_point_becomes_match_time(name):
    """By the text of ``Document`` alone, as another program would."""
    read = json.loads(json_text(bundled(name)))
    begins_ns = {segment["anchor"]: segment["match_ns"] for segment in read["game"]["segments"]}
    due = [f for f in read["firings"] if f["match_ns"] is not None]
    assert due
    for firing in due:
        assert begins_ns[firing["begin"]["anchor"]] + firing["begin"]["offset_ns"] == firing["match_ns"]


@pytest.mark.parametrize("name", BUNDLED)
def test_nothing_is_left_out(name):
    made = bundled(name)
    read = json.loads(json_text(made))
    assert [(f["cue"], f["n"], f["channel"], f["role"], f["begin"]) for f in read["firings"]] == [
        (f.cue, f.n, f.channel, f.role, {"anchor": f.begin.anchor, "offset_ns": f.begin.offset_ns})
        for f in made.timeline.firings
    ]
    for firing in read["firings"]:
        assert firing["pattern"] in read["plan"]["patterns"][firing["channel"]]
    assert {call["cue"] for call in read["calls"]} == {cue.id for cue in made.plan.cues}
    assert read["plan"]["sha256"] == made.plan_sha256


def test_equal_plans_give_equal_bytes():
    assert json_text(bundled("full")) == json_text(bundled("full"))


def test_all_that_is_counted_is_counted_from_0_and_the_schema_says_so():
    """By the text alone: the windows of a game with a window that recurs, named as its plan names them."""
    read = json.loads(json_text(bundled("doors")))
    windows = read["game"]["windows"]
    begins_ns = {f"{window['id']}.{window['n'] + 1}": window["begin"]["offset_ns"] for window in windows}
    swaps_ns = [call["match_ns"] for call in read["calls"] if call["cue"] == "swap"]
    assert [begins_ns["door.2"], begins_ns["door.3"]] == swaps_ns      # at = ["door.2.begin", "door.3.begin"]
    for kind in (windows, read["calls"], read["firings"]):
        assert min(one["n"] for one in kind) == 0
    defs = json.loads(SCHEMA.read_text("utf-8"))["$defs"]
    assert "``n`` counts from 0 everywhere" in defs["Document"]["description"]
    assert "``door.2`` is the span of ``door`` whose ``n`` is 1" in defs["WindowFacts"]["description"]
