"""What boards wish and mark: by the way of a key, but of this run, in time, once, and never for what needs eyes."""

import msgspec
import pytest

from tests.support.runner.board_made import MadeBoard
from tests.support.runner.stage_stand import NOW_NS, Desk, plain_stage
from tocsin.journal import records
from tocsin.runner.boards.offers import NEVER
from tocsin.runner.keymap import Keymap
from tocsin.units import NS_PER_MS
from tocsin.units import NS_PER_S as S


@pytest.fixture
def board(tmp_path):
    """A board beside a person at the keys of a match in standby."""
    made = MadeBoard(Desk(*plain_stage(tmp_path, "full", "quiet", board="here")))
    yield made
    made.desk.stage.match.record.close()


@pytest.fixture
def running(board):
    """The same once the clock goes."""
    board.wish("start")
    board.desk.after(8)
    assert board.desk.phase == "running"
    return board


def kept(board, kind=records.Record):
    return [one for one in board.desk.stage.match.record.kept if isinstance(one, kind)]


def states(board):
    return [(one.event, one.source) for one in kept(board, records.State) if one.source]


def error_ms(board):
    return board.desk.stage.match.error_ms


# -- what is offered


def test_a_board_in_standby_may_start_and_choose_a_plan_but_nothing_that_is_the_laptops(board):
    assert {"start", "plan.0", "plan.1"} <= set(board.can)
    assert not NEVER & set(board.can)
    assert not [action for action in board.can if action.startswith("mark.")]


def test_a_running_match_offers_the_scribes_three_first_then_contacts_of_others(running):
    actions = list(running.can)
    assert actions[:5] == [
        "mark.contact", "mark.turned", "mark.home", "mark.contact_by_partner", "mark.contact_by_opponent",
    ]  # fmt: skip
    assert {"hold", "scrap", "sync", "earlier", "later"} <= set(actions)
    assert running.can["mark.contact_by_partner"].does == "contact by partner"
    assert running.can["scrap"].sure
    assert not running.can["hold"].sure


def test_an_action_without_a_key_is_offered_too(running):
    rig = running.desk.stage.rig
    keyless = msgspec.structs.replace(rig, keys=msgspec.structs.replace(rig.keys, hold=(), marks={}))
    running.desk.stage.keymap = Keymap(keyless)
    assert not {"hold", "mark.contact"} & {entry.action for entry in running.desk.status.keys}
    assert {"hold", "mark.contact"} <= set(running.can)


def test_held_is_resumed_by_a_name_of_its_own(running):
    assert running.wish("hold").taken
    assert "resume" in running.can
    assert "hold" not in running.can


# -- the way of a key


def test_a_wish_starts_the_clock_where_the_finger_was_and_says_who_wished(board):
    assert board.wish("start", ago_s=0.8).taken
    origin = board.desk.stage.match.lifecycle.latest
    keys = Desk(*plain_stage(board.desk.stage._runs.parent / "keys", "full", "quiet"))
    keys.now_ns -= round(0.8 * S)
    keys.press("s")
    assert origin.origin_ns == keys.stage.match.lifecycle.latest.origin_ns
    assert states(board) == [("start", "board 1")]


def test_the_records_of_keys_name_nobody(board):
    board.desk.press("s")
    assert states(board) == []


def test_how_unsure_a_board_is_widens_the_clock(board, tmp_path):
    board.wish("start", error_ms=300)
    wide = error_ms(board)
    keys = Desk(*plain_stage(tmp_path / "keys", "full", "quiet"))
    keys.press("s")
    sharp = keys.stage.match.error_ms
    assert wide > sharp + 100
    keys.stage.match.record.close()


def test_a_board_that_knows_the_clock_to_milliseconds_widens_nothing(board, tmp_path):
    board.wish("start", error_ms=4)
    keys = Desk(*plain_stage(tmp_path / "keys", "full", "quiet"))
    keys.press("s")
    assert abs(error_ms(board) - keys.stage.match.error_ms) <= 1
    keys.stage.match.record.close()


def test_what_people_at_the_laptop_read_is_what_came_of_it_and_no_refusal_of_a_phone(running):
    answer = running.wish("earlier")
    assert answer.taken
    assert answer.text == running.desk.notice == "clock 0.2 s forward, +0.2 s in all"
    assert not running.wish("begin").taken
    assert running.desk.notice == "clock 0.2 s forward, +0.2 s in all"


@pytest.mark.parametrize("action", ["mute", "louder", "softer"])
def test_the_sound_is_steered(running, action):
    assert running.wish(action).taken


# -- what is refused


def test_a_wish_for_another_run_takes_nothing_of_this_one(running):
    answer = running.wish("scrap", sure=True, run=running.desk.stage.wire_run - 1)
    assert not answer.taken
    assert "another match" in answer.text
    assert running.desk.phase == "running"


def test_two_who_hold_at_once_do_not_cancel_each_other(running):
    assert running.wish("hold").taken
    assert not running.other(2).wish("hold").taken
    assert running.desk.phase == "held"
    assert running.wish("resume").taken
    assert not running.other(2).wish("resume").taken
    assert running.desk.phase == "running"


@pytest.mark.parametrize(
    ("ago_s", "error_ms", "taken"),
    [(2.9, 5, True), (3.1, 5, False), (-0.004, 5, True), (-0.006, 5, False), (-0.5, 600, True), (0, 1100, False)],
)
def test_a_start_is_of_now_give_or_take_its_own_error(board, ago_s, error_ms, taken):
    assert board.wish("start", ago_s=ago_s, error_ms=error_ms).taken is taken
    assert (board.desk.phase == "waiting") is taken
    if taken:
        assert board.desk.stage.match.lifecycle.latest.origin_ns <= board.desk.now_ns + 5 * S


def test_a_match_is_cancelled_by_who_was_asked_twice_alone(running):
    assert not running.wish("scrap").taken
    assert running.desk.phase == "running"
    assert running.wish("scrap", sure=True).taken
    assert running.desk.phase == "scrapped"


@pytest.mark.parametrize("action", sorted(NEVER))
def test_what_needs_eyes_at_the_laptop_is_done_there_alone(board, action):
    answer = board.wish(action, sure=True)
    assert not answer.taken
    assert "laptop alone" in answer.text
    assert board.desk.stage.ending is None
    assert kept(board) == []


@pytest.mark.parametrize("action", ["", "plan.x", "plan.", "call.", "mark.contact", "marks", "call", "start.x", "A"])
def test_what_is_no_action_is_refused(board, action):
    assert not board.wish(action).taken
    assert board.desk.phase == "standby"


def test_what_was_asked_with_the_same_id_is_done_once_and_answered_alike(running):
    first = running.wish("earlier", id="a" * 32)
    assert running.wish("earlier", id="a" * 32) == first
    assert running.wish("earlier", id="b" * 32).text == "clock 0.2 s forward, +0.4 s in all"
    for number in range(500):
        running.mark("turned", id=f"{number:032x}")
    assert running.wish("earlier", id="a" * 32).text == "clock 0.2 s forward, +0.6 s in all"      # forgotten by now


# -- marks


def test_a_mark_is_a_span_from_finger_down_to_finger_up(running):
    assert running.mark("contact", held_s=1.5, ago_s=0.2).taken
    (mark,) = kept(running, records.MarkRecord)
    assert (mark.label, mark.by, mark.source) == ("contact", "", "board 1")
    assert mark.begin_ns == running.desk.now_ns - 1700 * NS_PER_MS
    assert mark.end_ns == running.desk.now_ns - 200 * NS_PER_MS


def test_a_mark_without_an_up_is_pointlike_and_one_of_a_partner_says_so(running):
    running.mark("contact_by_partner", held_s=None)
    (mark,) = kept(running, records.MarkRecord)
    assert (mark.label, mark.by, mark.end_ns, mark.pointlike) == ("contact", "partner", None, True)


@pytest.mark.parametrize(("error_ms", "off_ms"), [(5, None), (50, None), (300, 1100)])
def test_a_phone_that_does_not_know_the_clock_well_says_so_in_its_marks(running, error_ms, off_ms):
    running.mark("contact", error_ms=error_ms)
    (mark,) = kept(running, records.MarkRecord)
    assert mark.error_ns == (None if off_ms is None else off_ms * NS_PER_MS)


def test_each_board_takes_its_own_newest_mark_back(running):
    other = running.other(2)
    running.mark("contact", ago_s=1)
    running.desk.after(0.25)
    other.mark("turned")
    assert running.wish("undo").taken
    marks = kept(running, records.MarkRecord)
    assert [(mark.label, mark.takes_back, mark.source) for mark in marks] == [
        ("contact", None, "board 1"), ("turned", None, "board 2"), ("contact", 0, "board 1"),
    ]  # fmt: skip
    assert not running.wish("undo").taken


@pytest.mark.parametrize(
    ("label", "ago_s", "held_s", "why"),
    [("nothing", 0, 0.1, "no mark of this match"), ("home", -0.5, 0.1, "ahead"), ("home", 0, -0.5, "before it begins")],
)
def test_marks_that_cannot_be(running, label, ago_s, held_s, why):
    answer = running.mark(label, ago_s=ago_s, held_s=held_s)
    assert not answer.taken
    assert why in answer.text
    assert kept(running, records.MarkRecord) == []


def test_a_mark_that_is_sent_again_to_a_program_that_was_started_anew_stands_once(running):
    running.mark("contact", held_s=1.0)
    anew = MadeBoard(running.desk)                     # with no memory of ids
    assert anew.mark("contact", held_s=1.0).taken
    assert len(kept(running, records.MarkRecord)) == 1


def test_a_mark_before_the_clock_goes_is_refused(board):
    assert not board.mark("contact").taken


def test_numbers_of_runs_differ_between_programs(tmp_path):
    first = plain_stage(tmp_path)[1]
    assert first.wire_run == NOW_NS // S * 10 + 1
    first.reload(first.piece, NOW_NS)
    assert first.wire_run == NOW_NS // S * 10 + 2


def test_what_boards_wish_reads_no_names(board):
    assert msgspec.json.encode(list(board.can.values())).isascii()
