"""What a drill's screens say: where the round begins, how it is counted in, and nothing of a surprise."""

import pytest

from tocsin.config.load import load
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.timeline.timeline import MATCH, Point
from tocsin.units import NS_PER_S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
PRESS_NS = 900 * NS_PER_S
COUNT_NS = 5 * NS_PER_S                # the rigs' own count-in


def standby(at_s):
    return ViewModelMaker(TIMELINE).at(Status(phase="standby", begins=Point(MATCH, round(at_s * NS_PER_S))), 0)


def counting(after_s, *, from_s=0.0, behind_s=0, rate=1.0, phase="waiting"):
    """Return the face so many seconds after the press, of a match that starts at a match second, late or not."""
    begins_ns = PRESS_NS + COUNT_NS + behind_s * NS_PER_S
    origin_ns = begins_ns - round(from_s * NS_PER_S / rate)
    origin = Origin(anchor=MATCH, origin_ns=origin_ns, rate=rate, starts_ns=begins_ns if from_s else 0)
    status = Status(
        phase=phase, origins=(origin,), begins=Point(MATCH, round(from_s * NS_PER_S)), behind_ns=behind_s * NS_PER_S
    )
    return ViewModelMaker(TIMELINE).at(status, PRESS_NS + round(after_s * NS_PER_S))


# 28 s, 11 s, 97 s; the display counts each period down and rounds up (the game's own words).
@pytest.mark.parametrize(
    ("at_s", "digits"), [(0, "0:28"), (29, "0:10"), (39, "1:37"), (101, "0:35"), (97.5, "0:39"), (118, "0:18")]
)
def test_standby_shows_what_the_display_shows_as_the_round_begins(at_s, digits):
    assert standby(at_s).digits == digits


@pytest.mark.parametrize("from_s", [0, 101])
@pytest.mark.parametrize("rate", [1.0, 20.0])
@pytest.mark.parametrize(("after_s", "number"), [(0, "5"), (0.5, "5"), (1, "4"), (4, "1"), (4.99, "1")])
def test_count_in_counts_real_seconds_wherever_the_round_begins(from_s, rate, after_s, number):
    view = counting(after_s, from_s=from_s, rate=rate)
    assert (view.title, view.digits, view.moving, view.ahead) == ("Match begins in", number, True, ())


def test_after_the_count_the_clock_runs_from_its_moment():
    view = counting(5.2, from_s=101, phase="running")
    assert (view.title, view.digits) == ("Hands on", "0:35")
    assert counting(4.9, from_s=101, phase="running").title == "Hands on"        # a nudge is no count-in


SIGN = ("Round 3", "Watch the robot")


def hidden(seconds, *, phase="running", shows=(), **facts):
    """Return the face of a round whose clock may not be seen, at a match second."""
    origin = Origin(anchor=MATCH, origin_ns=PRESS_NS)
    status = Status(phase=phase, origins=(origin,), shows=shows, sign=SIGN, **facts)
    return ViewModelMaker(TIMELINE).at(status, PRESS_NS + round(seconds * NS_PER_S))


@pytest.mark.parametrize("seconds", [0, 12.3, 31, 39, 111, 113.9, 117.9, 118, 128, 135.9, 136, 139])
def test_by_default_nothing_of_what_lies_ahead_is_seen_and_the_sign_stands_there(seconds):
    view = hidden(seconds)
    assert (view.digits, view.moving, view.windows, view.ahead, view.sign) == ("", False, (), (), SIGN)
    assert view.title
    held = hidden(seconds, phase="held", held_ns=PRESS_NS + round(seconds * NS_PER_S))
    assert (held.digits, held.windows, held.ahead, held.sign) == ("", (), (), SIGN)


def test_a_drill_may_show_the_clock_or_what_comes_or_both():
    clock, ahead = hidden(112, shows=("clock",)), hidden(112, shows=("ahead",))
    both = hidden(112, shows=("clock", "ahead"))
    assert (clock.digits, clock.moving, clock.ahead, clock.sign) == ("0:24", True, (), ())
    assert (ahead.digits, ahead.sign) == ("", SIGN)
    assert [one.line for one in ahead.ahead] == ["HOME in 2 s", "NO TOUCH in 6 s"]
    assert (both.digits, both.ahead, both.sign) == (clock.digits, ahead.ahead, ())


def test_where_a_round_begins_is_not_seen_before_it_begins():
    """It is drawn by lot, and who knew it could count from the start."""
    begins = Point(MATCH, round(102.3 * NS_PER_S))
    assert ViewModelMaker(TIMELINE).at(Status(phase="standby", begins=begins, shows=(), sign=SIGN), 0).digits == ""
    late = hidden(-1, phase="waiting", begins=begins, behind_ns=2 * NS_PER_S)
    assert (late.title, late.digits, late.sign) == ("Match begins", "", SIGN)
    assert hidden(-3, phase="waiting", begins=begins).digits == "3"


def test_windows_and_periods_are_drawn_anew_as_they_begin_though_no_clock_shows():
    for begins_s, what in ((28, "Crews step in"), (39, "Hands on"), (136, "Robots coast")):
        before = hidden(begins_s - 0.4)
        assert before.title != what
        assert hidden((before.stale_ns - PRESS_NS) / NS_PER_S).title == what
    before = hidden(117.6, shows=("ahead",))
    assert before.windows == ("Belfry counts",)
    seen = hidden((before.stale_ns - PRESS_NS) / NS_PER_S, shows=("ahead",)).windows
    assert seen == ("Belfry counts", "No-touch time")


def words(view):
    return view.title, view.digits, view.moving, view.windows, view.ahead, view.prompt, view.notice, view.facts


@pytest.mark.parametrize("from_s", [0, 101])
def test_late_start_is_counted_as_any_other_until_the_last_beat(from_s):
    for tenth in range(50):
        late = counting(tenth / 10, from_s=from_s, behind_s=2)
        assert words(late) == words(counting(tenth / 10, from_s=from_s))


@pytest.mark.parametrize(("from_s", "digits"), [(0, "0:28"), (101, "0:35")])
def test_late_start_shows_a_display_that_does_not_move(from_s, digits):
    for after_s in (5.0, 5.7, 6.99):
        view = counting(after_s, from_s=from_s, behind_s=2)
        assert (view.title, view.digits, view.moving) == ("Match begins", digits, False)
        assert view.stale_ns == PRESS_NS + COUNT_NS + 2 * NS_PER_S      # it is drawn anew as the clock starts


def test_count_in_is_drawn_anew_when_its_number_changes():
    for tenth in range(49):
        view = counting(tenth / 10, from_s=101, behind_s=2)
        just_before_ns = view.stale_ns - 1 - PRESS_NS
        assert counting(just_before_ns / NS_PER_S, from_s=101, behind_s=2).digits == view.digits
        assert counting((just_before_ns + 2) / NS_PER_S, from_s=101, behind_s=2).digits != view.digits
