"""A real round with two scribes at once: one at the laptop's pad, one at a phone by HTTP; what its journal comes to."""

import time

import pytest

from tests.e2e.test_board import CALLED, HELD_NS, ByBoard, ByKeys, begin, taken
from tests.support.people.evening import Evening, rig_text
from tests.support.people.short_drill import short_drill
from tocsin.journal.reader import read
from tocsin.journal.records import marks_of
from tocsin.model.counted import counted, sources
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices

LATER_NS = 250 * NS_PER_MS


def test_what_both_mark_counts_once_and_what_one_takes_back_is_theirs_alone(tmp_path):
    drill, rig = short_drill(tmp_path, rounds=1), tmp_path / "rig.toml"
    rig.write_text(rig_text('by = "count_in"\ncount_in = "1s"'), "utf-8")
    evening = Evening(tmp_path, str(drill), "--rig", str(rig), "--board")
    try:
        evening.hear("Glasses on?")
        evening.tap("yes")
        evening.hear(CALLED)
        keys, board = ByKeys(evening), ByBoard(evening)
        begin(evening, board, 1)
        begin_ns = time.perf_counter_ns()
        keys.mark("contact", begin_ns, begin_ns + HELD_NS)
        board.mark("contact", begin_ns + LATER_NS, begin_ns + LATER_NS + HELD_NS)
        evening.await_round(1, kind="mark", source="board 1")
        tap_ns = time.perf_counter_ns()
        keys.mark("home", tap_ns, tap_ns + 50 * NS_PER_MS)
        board.mark("home", tap_ns + LATER_NS, tap_ns + LATER_NS + 50 * NS_PER_MS)
        evening.await_round(1, kind="mark", label="home", source="board 1")
        taken(board.phone.mark("turned", time.perf_counter_ns(), None))
        taken(board.phone.wish("undo"))
        evening.await_round(1, kind="end")
        evening.hear("home")                           # the result stands
        board.drop()
        assert evening.finish() == 0
    finally:
        evening.close()
    marks = marks_of(read(evening.folders()[0]).records)
    by_key = {mark.source for mark in marks if not mark.source.startswith("board")}
    assert len({source for source in by_key if source.startswith("key ")}) == 2
    found = {one.mark.label: one for one in counted(marks)}
    assert set(found) == {"contact", "home"}, "two who tap once each have not said half home"
    for one in found.values():
        assert [source.split()[0] for source in sources(one.mark)] == ["board", "key"]
    contact = [marks[place] for place in found["contact"].places]
    assert found["contact"].mark.begin_ns == min(mark.begin_ns for mark in contact)
    assert found["contact"].mark.end_ns == max(mark.end_ns for mark in contact)
    assert [(mark.label, mark.source) for mark in marks if mark.takes_back is not None] == [("turned", "board 1")]
