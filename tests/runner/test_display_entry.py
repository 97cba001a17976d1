"""The display's time, typed: by keys on a stage without processes. Digits mean nothing else meanwhile."""

import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.config.load import load
from tocsin.journal import records
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.runner.status import status_of
from tocsin.units import NS_PER_S as S


class Blind(Programme):
    """Nothing of what comes is shown, as in a drill's round."""

    shows = ()


class Match(Desk):
    """A person beside a match that began, by this clock, ``late_s`` too late; ``real_s`` is how long it has been on."""

    def __init__(self, tmp_path, late_s=0.0, rig="nothing", programme=Programme):
        options = RunOptions(plans=("full",), rig=str(rig))
        plays = programme(load(None, options.plans, options.rig), options)
        super().__init__(plays, stage_for(plays, options, tmp_path))
        self.press("page_down")
        self.at(10)
        self.zero_ns = self.origin_ns - round(late_s * S)

    @property
    def origin_ns(self):
        return self.stage.match.lifecycle.latest.origin_ns

    def until(self, real_s):
        """Let turns pass until the real match has been on for so long."""
        while self.now_ns < self.zero_ns + round(real_s * S):
            self.now_ns = min(self.now_ns + S // 20, self.zero_ns + round(real_s * S))
            self.stage.match.follow(self.now_ns)
            self.programme.turn(self.stage, self.now_ns)
            self._begin_record()
        return self

    def status(self):
        return status_of(self.stage, self.programme, (), self.now_ns)

    def view(self):
        return ViewModelMaker(self.stage.match.timeline).at(self.status(), self.now_ns)

    @property
    def off_s(self):
        """How far the clock goes from the real match."""
        return (self.origin_ns - self.zero_ns) / S


@pytest.fixture
def late(tmp_path):
    """A match whose start was missed by three seconds, at 1:33 of the driver period."""
    return Match(tmp_path, late_s=3.0).until(43.0)


def test_a_start_missed_by_three_seconds_takes_one_action(late):
    """It took fifteen presses of 0.2 s."""
    assert late.off_s == pytest.approx(3.0)
    late.press("c", "c", "1", "3", "0")
    late.until(39 + 97 - 90 + 0.25)                             # pressed as it changed to 1:30, a quarter second late
    told = late.press("page_down")
    assert abs(late.off_s) < 0.02
    assert told.startswith("1:30 of Hands on: clock 3.00 s forward, now ± 0.2")
    assert told.endswith("(a: undo)")
    assert late.status().typed == ""


def test_digits_fill_their_places_and_mean_nothing_else_meanwhile(late):
    marks = len(late.stage.match.record.kept)
    late.press("c", "c")
    for key, text in (("1", "1:__"), ("7", "1:__"), ("3", "1:3_"), ("0", "1:30"), ("9", "1:30")):
        late.press(key)
        assert late.status().typed == text
    late.press("left", "backspace", "left", "left")
    assert late.status().typed == "_:__"
    assert late.status().scribe == ()
    assert [r for r in late.stage.match.record.kept[marks:] if isinstance(r, records.MarkRecord)] == []
    assert late.stage.plan_no == 0


@pytest.fixture
def scribe(tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text(
        'format = "tocsin-rig/1"\nname = "Ours"\n[keys]\nmarks = { contact = ["7"], turned = ["8"], home = ["9"] }\n'
        'call = { home = ["h"] }\n[screen]\n', "utf-8",
    )  # fmt: skip
    return Match(tmp_path, late_s=3.0, rig=rig).until(43.0)


def labels(desk):
    return [r.label for r in desk.stage.match.record.kept if isinstance(r, records.MarkRecord)]


def test_a_scribes_keys_mark_before_and_behind_it_and_a_key_that_was_down_ends_its_mark(scribe):
    scribe.press("7")
    scribe.actions.key("8", scribe.now_ns, scribe.now_ns, down=True)
    scribe.press("c", "c", "7", "9")
    assert labels(scribe) == ["contact"]
    scribe.actions.key("8", scribe.now_ns, scribe.now_ns, down=False)
    assert labels(scribe) == ["contact", "turned"]
    scribe.press("escape", "9")
    assert labels(scribe) == ["contact", "turned", "home"]


def test_a_terminal_tells_of_no_key_that_goes_up_and_types_as_well(scribe):
    for key in ("c", "c", "1", "3", "0"):
        scribe.actions.tap(key, scribe.now_ns, scribe.now_ns)
    assert (scribe.status().typed, labels(scribe)) == ("1:30", [])


def test_letters_keep_what_they_do_and_a_call_comes_while_somebody_types(scribe):
    scribe.press("c", "c", "1", "h")
    assert [r.anchor for r in scribe.stage.match.record.kept if isinstance(r, records.OriginRecord)][-1] == "call.home"
    assert scribe.status().typed == "1:__"


def test_one_press_is_no_way_in_and_two_that_are_apart_are_none(late):
    assert late.press("c") == "press c again within 2 s to type what the display shows"
    assert late.status().typed == ""
    late.after(2.1)
    late.press("c")
    assert late.status().typed == ""


@pytest.mark.parametrize("key", ["escape", "a"])
def test_escape_and_undo_leave_and_the_clock_is_as_it_was(late, key):
    late.press("c", "c", "1", "3", "0")
    assert late.press(key) == "left: the clock is as it was"
    assert late.status().typed == ""
    assert late.press("page_down") == "cannot start: the match is running"
    assert late.off_s == pytest.approx(3.0)


def test_half_a_minute_without_a_key_leaves_too_and_so_does_a_hold(late):
    late.press("c", "c", "1")
    late.after(29)
    assert late.status().typed == "1:__"
    late.after(2)
    assert late.status().typed == ""
    late.press("c", "c", "1", "p")
    assert late.status().typed == ""


def test_page_down_waits_for_all_places(late):
    late.press("c", "c", "1", "3")
    assert late.press("page_down") == "type all of 1:3_ first"
    assert late.status().typed == "1:3_"
    assert late.off_s == pytest.approx(3.0)


def test_it_is_taken_back_by_one_key(late):
    before_ms = late.stage.match.error_ms
    late.press("c", "c", "1", "3", "0")
    late.until(47.25)                                            # on the next change, by mistake
    late.press("s")
    assert late.off_s == pytest.approx(1.0, abs=0.05)
    assert late.press("a").startswith("the display's time is undone, clock ± ")
    assert late.off_s == pytest.approx(3.0, abs=0.02)
    assert late.stage.match.error_ms == pytest.approx(before_ms, abs=1)
    assert late.press("a") == "there is no mark to take back"
    notes = [r for r in late.stage.match.record.kept if isinstance(r, records.Note)]
    assert [(r.what, r.text, r.values.get("shown_s")) for r in notes] == [
        ("display", "1:30 of Hands on: clock 2.00 s forward", 90), ("display", "undone", None),
    ]  # fmt: skip
    assert {r.cause for r in late.stage.match.record.kept if isinstance(r, records.OriginRecord)} == {"start", "sync"}


def test_the_key_that_takes_back_takes_the_newest_thing_back(scribe):
    scribe.press("c", "c", "1", "3", "0")
    scribe.until(46.25).press("page_down")
    scribe.after(1).press("7")
    assert "undone: contact" in scribe.press("a")
    assert abs(scribe.off_s) < 0.02
    assert "undone" in scribe.press("a")
    assert scribe.off_s == pytest.approx(3.0, abs=0.02)


def test_a_reading_of_long_ago_is_taken_back_by_no_key_that_is_for_marks(late):
    late.press("c", "c", "1", "3", "0")
    late.until(46.25).press("page_down")
    late.after(31)
    assert late.press("a") == "there is no mark to take back"
    assert abs(late.off_s) < 0.05


def test_what_this_part_of_the_match_does_not_show_is_refused_and_is_typed_anew(late):
    late.press("c", "c", "2", "3", "0")
    assert late.press("page_down") == "the display shows no 2:30 in this part of the match"
    assert late.status().typed == "_:__"


def test_a_wrong_minute_moves_nothing_until_another_reading_agrees(late):
    late.press("c", "c", "0", "3", "3")
    late.until(43.25)
    told = late.press("page_down")
    assert told == (
        "0:33 of Hands on is 63 s off this clock (limit 10 s): type another one; two that agree are used"
    )
    assert late.off_s == pytest.approx(3.0)
    late.press("0", "2", "9")
    late.until(47.25).press("page_down")
    late.after(10)                                               # each cue on the way is given
    assert late.off_s == pytest.approx(-60, abs=0.1)


def test_where_the_clock_is_hidden_no_display_is_followed(tmp_path):
    match = Match(tmp_path, programme=Blind)
    assert match.press("c") == "no official display is followed here"
    assert "display" not in {entry.action for entry in match.status().keys}
    assert match.press("g") == "cannot use the tap: no official moment within 3 s"


def test_the_way_in_stands_beside_what_is_known_of_the_clock(late):
    assert "clock ± 0.15 s, c twice: set it by the display" in late.view().facts


def test_while_it_is_typed_the_screen_says_what_to_do(late):
    late.press("c", "c")
    assert (late.view().typed, late.view().prompt) == ("_:__", "Type what the display will show next")
    late.press("1", "3", "0")
    assert late.view().prompt == "Press page down or s as the display changes to 1:30"
    assert [entry.key for entry in late.view().keys] == ["0 to 9", "page down or s", "left", "a", "x"]


def test_a_tap_that_agrees_confirms_it_and_one_that_does_not_moves_the_clock_by_its_error_at_most(late):
    late.press("c", "c", "1", "3", "0")
    late.until(46.25).press("page_down")
    wide_ms = late.stage.match.error_ms
    late.until(111.1)
    late.press("g")
    assert late.stage.match.error_ms < 0.7 * wide_ms
    assert abs(late.off_s) < 0.15


def test_the_sync_key_names_the_moments_that_would_do_and_when_they_come(late):
    late.until(51)                                               # 48 s by this clock
    assert late.press("g") == (
        "cannot use the tap: no official moment within 3 s; next: Belfry counts in 1:03, "
        "No-touch time in 1:10"
    )
