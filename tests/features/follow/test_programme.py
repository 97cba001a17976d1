"""A follower plays what its keeper plays, goes on alone when the line is cut, and leads nothing."""

import msgspec
import pytest

from tests.support.runner.two_laptops import WALL, Laptops
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.features.drills.rounds import Rounds
from tocsin.features.follow.heard import KeeperName
from tocsin.features.records.round_files import Session
from tocsin.journal import records
from tocsin.model.clock.exchange import drift_ns
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

OTHER_RUN = 4711


@pytest.fixture
def laptops(tmp_path):
    return Laptops(tmp_path)


def press(laptops, *actions):
    """Press keys at the keeper."""
    for action in actions:
        laptops.here.press(getattr(laptops.here.stage.rig.keys, action)[0])


def told(text, *seconds):
    return [text.format(s) for s in seconds]


def begun(laptops):
    laptops.go_on(1)
    press(laptops, "start")
    return laptops.go_on(20)


def test_it_stands_by_and_starts_with_its_keeper(laptops):
    laptops.go_on(1)
    assert laptops.phases == ("standby", "standby")
    assert laptops.there.status.ask == "The keeper starts the match"
    press(laptops, "start")
    laptops.go_on(1)
    assert laptops.phases == ("waiting", "waiting")
    laptops.go_on(5)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
    assert laptops.there.status.follows == "follows 10.0.0.5:8737: the clocks are at most 3 ms apart"


@pytest.mark.parametrize("ways_ms", [(2, 2), (5, 25), (25, 5), (1, 80)])
@pytest.mark.parametrize("ppm", [-60, 0, 40])
def test_its_match_lies_within_what_it_states(tmp_path, ways_ms, ppm):
    laptops = Laptops(tmp_path, ppm=ppm)
    laptops.line.ways_ns = tuple(ms * MS for ms in ways_ms)
    begun(laptops)
    for _ in range(6):
        laptops.go_on(7)
        kept = laptops.there.stage.match.record.kept
        said = next(r for r in reversed(kept) if isinstance(r, records.OriginRecord) and r.follows)
        assert abs(laptops.apart_ns) <= said.follows.error_ns + drift_ns(laptops.there.now_ns - said.at_ns)


def another_takes_the_field(laptops):
    """Let another keeper's match stand where the one that is followed was heard, 500 s off by its clock."""
    laptops.line.put(KeeperName(b"second"))
    run, state, keepers_ns = laptops.run_so_far(), laptops.state(), laptops.keepers_ns
    laptops.run_so_far = lambda: msgspec.structs.replace(run, run=OTHER_RUN, records=run.records[:1])
    laptops.keepers_ns = lambda at_ns: keepers_ns(at_ns) + 500 * S
    laptops.line.put(msgspec.structs.replace(state, run=OTHER_RUN))
    laptops.line.fetch_run()
    laptops.line.read_clock_anew()


def test_another_keeper_that_takes_the_field_does_not_take_the_match(laptops):
    laptops.line.put(KeeperName(b"first"))
    begun(laptops)
    another_takes_the_field(laptops)
    laptops.go_on(20)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
    assert laptops.there.status.notice == (
        "Another keeper has taken this field: this laptop plays on alone. To leave: q twice"
    )
    laptops.go_on(200)
    assert laptops.there.phase == "over"
    assert laptops.there.stage.wants_next, "what the field plays now is followed once the match is over"
    assert laptops.keeper.run.number == OTHER_RUN


def test_a_keeper_that_comes_back_under_another_name_is_followed_on(laptops):
    laptops.line.put(KeeperName(b"first"))
    begun(laptops)
    laptops.line.put(KeeperName(b"first, resumed"))
    laptops.go_on(3)
    press(laptops, "hold")
    laptops.go_on(0.2)
    assert laptops.phases == ("held", "held")
    assert "Another" not in laptops.there.status.notice


def test_hold_nudge_call_and_resume_reach_it(laptops):
    begun(laptops)
    press(laptops, "hold")
    laptops.go_on(0.2)
    assert laptops.phases == ("held", "held")
    assert laptops.there.stage.match.origins() == ()
    laptops.go_on(9)
    press(laptops, "hold")
    laptops.go_on(0.2)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
    press(laptops, "earlier")
    laptops.go_on(0.2)
    assert abs(laptops.apart_ns) <= 3 * MS


def test_a_cut_line_is_told_after_three_seconds_and_asked_about_after_ten(laptops):
    begun(laptops)
    laptops.line.cut = True
    laptops.go_on(2)
    assert laptops.there.notice == ""
    laptops.go_on(2)
    assert laptops.there.notice in told("Keeper not heard for {} s: this laptop plays on alone", 3, 4)
    laptops.go_on(8)
    assert laptops.there.notice in told(
        "Keeper not heard for {} s. Go on alone (press nothing), or leave (q twice)? If Tocsin ended there: "
        "`tocsin run --resume --board lan`",
        11, 12,
    )  # fmt: skip
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
    laptops.line.cut = False
    laptops.go_on(1)
    assert laptops.there.notice == "the keeper is heard again"


def test_a_clock_that_stands_held_is_never_said_to_go_on_alone(laptops):
    begun(laptops)
    press(laptops, "hold")
    laptops.go_on(1)
    laptops.line.cut = True
    laptops.go_on(4)
    held = "Keeper not heard for {} s: the clock stands held until it is back"
    assert laptops.there.notice in told(held, 3, 4)
    laptops.go_on(8)
    helps = ". If Tocsin ended there: `tocsin run --resume --board lan`. To leave: q twice"
    assert laptops.there.notice in told(held + helps, 11, 12)
    assert laptops.phases == ("held", "held")


def test_in_standby_it_says_what_helps_a_keeper_that_is_gone(laptops):
    laptops.go_on(1)
    laptops.line.cut = True
    laptops.go_on(5)
    assert laptops.there.status.ask in told("Keeper not heard for {} s", 4, 5)
    laptops.go_on(7)
    assert laptops.there.status.ask in told(
        "Keeper not heard for {} s. If Tocsin ended there, start it again as before: this laptop waits", 11, 12
    )


def test_a_hold_while_the_line_is_cut_is_heard_when_it_is_back(laptops):
    begun(laptops)
    laptops.line.cut = True
    laptops.go_on(5)
    press(laptops, "hold")
    laptops.go_on(5)
    assert laptops.phases == ("held", "running")
    laptops.line.cut = False
    laptops.go_on(1.2)
    assert laptops.phases == ("held", "held")
    press(laptops, "hold")
    laptops.go_on(1)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS


def test_a_scrap_while_the_line_is_cut_ends_its_match_when_it_is_back(laptops):
    begun(laptops)
    laptops.line.cut = True
    laptops.go_on(4)
    press(laptops, "scrap", "scrap")
    laptops.go_on(1)
    assert laptops.phases == ("scrapped", "running")
    laptops.line.cut = False
    laptops.go_on(1.2)
    assert laptops.phases == ("scrapped", "scrapped")


def test_people_here_lead_nothing(laptops):
    begun(laptops)
    there = laptops.there
    for action in ("start", "hold", "scrap", "begin", "earlier", "later", "sync", "variant", "undo", "display"):
        for _ in range(2):
            there.press(*getattr(there.stage.rig.keys, action))
        assert laptops.phases == ("running", "running"), action
    there.press(*[key for keys in there.stage.rig.keys.marks.values() for key in keys])
    there.press(*[key for keys in there.stage.rig.keys.call.values() for key in keys])
    assert not [r for r in there.stage.match.record.kept if isinstance(r, records.MarkRecord)]
    assert abs(laptops.apart_ns) <= 3 * MS
    assert {key.action for key in there.status.keys} <= {"leave", "mute", "louder", "softer"}
    assert there.status.scribe == ()


def test_who_has_no_screen_is_told_once_whom_it_follows_and_at_the_end_what_it_played(laptops):
    laptops.go_on(1)
    assert laptops.follower.followed == "Followed 10.0.0.5:8737: 0 matches"
    press(laptops, "start")
    laptops.go_on(2)
    assert laptops.said == ["follows 10.0.0.5:8737: the clocks are at most 3 ms apart"]
    assert laptops.follower.followed == "Followed 10.0.0.5:8737: 1 match"


def test_who_has_no_screen_is_told_once_of_a_cut_and_of_its_end(laptops):
    begun(laptops)
    laptops.said.clear()
    laptops.line.cut = True
    laptops.go_on(6)
    assert laptops.said == ["the keeper is not heard: this laptop plays on alone"]
    laptops.line.cut = False
    laptops.go_on(2)
    assert laptops.said[1:] == ["the keeper is heard again"]


def test_who_leaves_a_match_knows_where_its_record_lies(laptops):
    begun(laptops)
    assert laptops.follower.left is None
    laptops.there.press("q", "q")
    assert laptops.follower.left == laptops.there.stage.match.record.path is not None


def test_a_match_is_left_by_the_second_press(laptops):
    begun(laptops)
    assert laptops.there.press("q") == "press q again within 2 s to leave; the match goes on at the keeper"
    laptops.go_on(3)
    laptops.there.press("q")
    assert laptops.there.stage.ending is None
    laptops.there.press("q")
    assert laptops.there.stage.ending is not None


def test_its_journal_says_whom_it_follows_and_each_origin_its_offset(laptops):
    begun(laptops)
    record = laptops.there.stage.match.record
    header = record.header(0, "2031-03-01T10:00:00.000Z", laptops.there.stage.match.timeline)
    assert header.options["follows"] == {"place": "10.0.0.5:8737", "run": 1}
    origins = [one for one in record.kept if isinstance(one, records.OriginRecord)]
    assert origins
    for one in origins:
        assert abs(one.follows.offset_ns - 123 * S) <= one.follows.error_ns


def test_the_next_match_is_played_too_and_has_a_journal_of_its_own(laptops):
    begun(laptops)
    press(laptops, "scrap", "scrap")
    laptops.go_on(0.5)
    assert laptops.phases == ("scrapped", "scrapped")
    first = laptops.there.stage.match
    press(laptops, "start")
    laptops.here.go_on()
    laptops.go_on(1)
    laptops.there.go_on()
    laptops.go_on(1)
    assert laptops.phases == ("standby", "standby")
    press(laptops, "start")
    laptops.go_on(8)
    assert laptops.phases == ("running", "running")
    assert laptops.there.stage.match is not first
    assert abs(laptops.apart_ns) <= 3 * MS


def test_a_follower_that_comes_late_is_in_step_at_once_and_gives_nothing_that_is_past(tmp_path):
    laptops = Laptops(tmp_path)
    laptops.line.cut = True
    press(laptops, "start")
    laptops.go_on(60)
    assert laptops.phases == ("running", "standby")
    laptops.line.cut = False
    laptops.go_on(0.5)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS


def test_no_more_is_seen_of_a_surprise_than_the_keeper_shows(tmp_path):
    class Surprise(Programme):
        of_match = False
        names_plan = False

        @property
        def shows(self):
            return ()

        def sign(self):
            return ("Wait for it",)

    options = RunOptions()
    laptops = Laptops(tmp_path, programme=Surprise(load(None, ["full"], "nothing"), options))
    laptops.go_on(1)
    status = laptops.there.status
    assert (status.shows, status.sign, status.of_match, status.names_plan) == ((), ("Wait for it",), False, False)


def test_a_drills_round_is_followed_by_its_own_timeline_and_its_surprise_stays_one(tmp_path):
    found = load_drill("break_off", "nothing")
    options = RunOptions(plans=found.drill.plans, roster={"A": {}})
    rounds = Rounds(found, options, Session(name="break_off", key="k", seed=7, places={"A": 4}))
    laptops = Laptops(tmp_path, programme=rounds)
    while rounds.ask(laptops.here.stage, "standby").startswith("Nobody on") is False:
        press(laptops, "yes")
    press(laptops, "clear", "start")
    laptops.go_on(12)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
    there = laptops.there.stage
    assert there.match.timeline == laptops.here.stage.match.timeline
    assert laptops.there.status.shows == laptops.here.status.shows == found.drill.shows
    assert "drill" not in there.match.record.header(0, WALL, there.match.timeline).options


def test_after_sleep_the_keepers_clock_is_read_anew_before_anything_moves(laptops):
    begun(laptops)
    laptops.here.after(30)
    laptops.offset_ns += 30 * S            # this laptop's clock stood while it slept
    laptops.follower.slept()
    laptops.go_on(1.5)
    assert laptops.phases == ("running", "running")
    assert abs(laptops.apart_ns) <= 3 * MS
