"""What a face says at a moment, in words."""

import msgspec
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.support.model.compiled_games import STANDARD, cue, match_of, period, plan_of, window
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Shot
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.display.status import DeviceFact, KeyHelp, Status
from tocsin.model.display.view_model import ViewModelMaker, foremost
from tocsin.model.game import Variant
from tocsin.model.rig import Start
from tocsin.units import NS_PER_MS, NS_PER_S

BEGIN_NS = 500 * NS_PER_S
KEYS = (
    KeyHelp(key="page down", does="start", action="start"),
    KeyHelp(key="b", does="begin period", action="begin"),
    KeyHelp(key="p", does="hold", action="hold"),
)
PLAN = plan_of(cue("home", "no_contact.begin-4s", say="Home"), cue("no_touch", "no_contact.begin", say="No touch"))


def maker_of(game=STANDARD, plan=PLAN):
    timeline, mistakes = compile_plan(game, plan)
    assert not mistakes
    return ViewModelMaker(timeline)


def origins(**begins):
    """Return origins by anchor, in seconds after BEGIN_NS."""
    begins = begins or {"match": 0}
    return tuple(Origin(anchor=a, origin_ns=BEGIN_NS + round(s * NS_PER_S)) for a, s in begins.items())


def at(seconds, *, maker=None, phase="running", begun=None, **facts):
    status = Status(phase=phase, origins=origins(**(begun or {})), keys=KEYS, **facts)
    return (maker or maker_of()).at(status, BEGIN_NS + round(seconds * NS_PER_S))


# 28 s, 11 s, 97 s; HOME at 114 s, NO TOUCH at 118 s; the digits round up, as the game says.
@pytest.mark.parametrize(
    ("seconds", "title", "digits", "windows", "ahead"),
    [
        (0.0, "auto", "0:28", (), ("pause in 28 s", "driver in 39 s")),
        (0.999, "auto", "0:28", (), ("pause in 28 s", "driver in 39 s")),
        (1.0, "auto", "0:27", (), ("pause in 27 s", "driver in 38 s")),
        (27.999, "auto", "0:01", (), ("pause in 1 s", "driver in 12 s")),
        (28.0, "pause", "0:11", (), ("driver in 11 s", "HOME in 1:26")),
        (39.0, "driver", "1:37", (), ("HOME in 1:15", "NO TOUCH in 1:19")),
        (54.0, "driver", "1:22", (), ("HOME in 1:00", "NO TOUCH in 1:04")),
        (54.001, "driver", "1:22", (), ("HOME in 1:00", "NO TOUCH in 1:04")),
        (55.0, "driver", "1:21", (), ("HOME in 59 s", "NO TOUCH in 1:03")),
        (113.999, "driver", "0:23", (), ("HOME in 1 s", "NO TOUCH in 5 s")),
        (114.0, "driver", "0:22", (), ("NO TOUCH in 4 s", "End of the match in 22 s")),
        (117.999, "driver", "0:19", (), ("NO TOUCH in 1 s", "End of the match in 19 s")),
        (118.0, "driver", "0:18", ("endgame", "no_contact"), ("End of the match in 18 s",)),
        (135.0, "driver", "0:01", ("endgame", "no_contact"), ("End of the match in 1 s",)),
        (136.0, "settle", "0:00", ("no_contact",), ()),
        (139.999, "settle", "0:00", ("no_contact",), ()),
        (140.0, "Match over", "0:00", (), ()),
    ],
)
def test_words_change_on_the_second(seconds, title, digits, windows, ahead):
    view = at(seconds)
    said = (view.title, view.digits, view.windows, tuple(a.line for a in view.ahead))
    assert said == (title, digits, windows, ahead)


@pytest.mark.parametrize(
    ("seconds", "digits", "first"),
    [(39.0, "1:37", "HOME in 1:15"), (39.001, "1:36", "HOME in 1:14"), (114.0, "0:22", "NO TOUCH in 4 s")],
)
def test_display_that_rounds_down_is_followed_in_every_number(seconds, digits, first):
    maker = maker_of(msgspec.structs.replace(STANDARD, digits="floor"))
    view = at(seconds, maker=maker)
    assert (view.digits, view.ahead[0].line) == (digits, first)


def test_display_that_counts_the_match():
    maker = maker_of(msgspec.structs.replace(STANDARD, counts="match"))
    assert [at(s, maker=maker).digits for s in (0, 28, 114)] == ["2:16", "1:48", "0:22"]


@pytest.mark.parametrize(("seconds", "number"), [(-5.0, "5"), (-4.999, "5"), (-4.0, "4"), (-1.0, "1"), (-0.001, "1")])
def test_count_in_counts_to_the_begin(seconds, number):
    view = at(seconds, phase="waiting")
    assert (view.title, view.digits, view.moving) == ("Match begins in", number, True)


@pytest.mark.parametrize(
    ("by", "prompt"),
    [
        ("count_in", "Press page down: 5 s count-in"),
        ("countdown", "Press page down as the countdown ends"),
        ("horn", "Press page down at the start signal"),
        ("press", "Press page down as the match starts"),
    ],
)
def test_standby_says_what_to_do_and_shows_the_first_period(by, prompt):
    view = maker_of().at(Status(phase="standby", keys=KEYS, start=Start(by=by)), 0)
    assert (view.title, view.digits, view.moving, view.prompt) == ("Standby", "0:28", False, prompt)
    assert view.stale_ns is None


def test_scrapped_match_says_how_the_next_one_comes():
    view = maker_of().at(Status(phase="scrapped", keys=KEYS), 0)
    assert (view.title, view.digits, view.prompt) == ("Cancelled", "0:28", "Press page down: next match")


def test_standby_says_which_plan_battery_and_label():
    status = Status(phase="standby", plans=("Full", "Quiet"), plan_no=1, battery="battery 40 %", label="round 3")
    assert maker_of().at(status, 0).facts == ("plan, by key: 1 Full [2 Quiet]", "round 3", "battery 40 %")


def test_clock_error_rate_and_label_stand_beside_a_running_match():
    view = at(1, error_ms=60, rate=2.0, label="round 3", battery="battery 40 %")
    assert view.facts == ("round 3", "clock ± 0.06 s", "rate × 2")


def test_held_clock_stands_and_says_how_it_goes_on():
    status = Status(phase="held", origins=origins(), held_ns=BEGIN_NS + 100 * NS_PER_S, keys=KEYS)
    views = [maker_of().at(status, BEGIN_NS + s * NS_PER_S) for s in (100, 107)]
    assert views[0] == views[1]
    assert (views[0].title, views[0].digits, views[0].moving) == ("HELD – driver", "0:36", False)
    assert views[0].prompt == "Press p: the clock goes on"


def test_count_in_can_be_held():
    status = Status(phase="held", origins=origins(), held_ns=BEGIN_NS - 2 * NS_PER_S, keys=KEYS)
    view = maker_of().at(status, BEGIN_NS + 9 * NS_PER_S)
    assert (view.title, view.digits, view.prompt) == ("HELD", "2", "Press p: the clock goes on")


BY_HAND = match_of(period("auto", 28, "autonomous"), period("driver", 97, by_hand=True))
OPEN = match_of(period("auto", 28, "autonomous"), period("pause", None, "pause"), period("driver", 97))


def test_period_begun_by_hand_is_waited_for():
    maker = maker_of(BY_HAND, plan_of())
    view = at(31, maker=maker)
    assert (view.title, view.digits, view.moving, view.prompt) == ("driver", "1:37", False, "Press b: driver begins")
    view = at(41.5, maker=maker, begun={"match": 0, "driver": 40})
    assert (view.title, view.digits, view.moving, view.prompt) == ("driver", "1:36", True, "")


def test_open_period_shows_no_digits_but_what_ends_it():
    view = at(35, maker=maker_of(OPEN, plan_of()))
    assert (view.title, view.digits, view.prompt) == ("pause", "", "Press b: driver begins")


def test_windows_that_end_before_the_match_are_announced():
    game = match_of(period("driver", 50), windows=[window("early", "driver.begin+10s", "driver.begin+20s")])
    view = at(11, maker=maker_of(game, plan_of()))
    assert (view.windows, view.ahead[0].line) == (("early",), "early ends in 9 s")


def test_cue_of_another_variant_is_not_announced():
    variants = (Variant(id="north_first", title="North", default=True), Variant(id="south_first", title="South"))
    game = match_of(period("driver", 50), variants=variants)
    plan = plan_of(
        cue("north", "driver.begin+10s", when="north_first"), cue("south", "driver.begin+20s", when="south_first")
    )
    maker = maker_of(game, plan)
    assert at(0, maker=maker).ahead[0].what == "NORTH"
    assert at(0, maker=maker, variant="south_first").ahead[0].what == "SOUTH"
    assert at(0, maker=maker, variant="south_first").facts == ("variant south first",)


def test_equal_words_close_together_are_announced_once():
    calls = (
        cue("coach_call", "no_contact.begin-5s", say="Home"),
        cue("home", "no_contact.begin-4s", say="Home", priority=9),
    )
    steps = cue("steps", "driver.end-5s", every_ns=NS_PER_S, until="driver.end")
    maker = maker_of(plan=plan_of(*calls, steps))
    assert [a.line for a in at(110, maker=maker).ahead] == ["HOME in 4 s", "endgame in 8 s"]
    assert [a.line for a in at(128, maker=maker).ahead] == ["STEPS in 3 s", "End of the match in 8 s"]


def test_what_only_the_coach_feels_is_no_word_that_the_drivers_await():
    both = {"screen": "word", "rumble": "short"}
    calls = (
        cue("coach_call", "no_contact.begin-5s", say="Call home", patterns=both, roles=("coach",)),
        cue("home", "no_contact.begin-4s", say="Home", patterns=both, roles=("driver", "coach")),
    )
    maker = maker_of(plan=plan_of(*calls))
    assert [a.line for a in at(110, maker=maker).ahead] == ["HOME in 4 s", "endgame in 8 s"]


def test_what_was_given_by_hand_is_announced_no_more():
    """The window that begins with a cue that was given is still announced."""
    timeline, _ = compile_plan(STANDARD, PLAN)
    numbers = {f.cue: f.no for f in timeline.firings if f.match_ns is not None}
    assert [a.line for a in at(110, given=(numbers["home"],)).ahead] == ["NO TOUCH in 8 s", "End of the match in 26 s"]
    both = tuple(numbers.values())
    assert [a.line for a in at(110, given=both).ahead] == ["endgame in 8 s", "End of the match in 26 s"]


def test_lost_and_failed_devices_are_alarms_absent_ones_are_not():
    devices = (
        DeviceFact(what="light", state="lost", text="plug it in again"),
        DeviceFact(what="sound", state="failed"),
        DeviceFact(what="driver", state="absent"),
    )
    alarms = [(alarm.what, alarm.fix) for alarm in at(50, devices=devices).alarms]
    assert alarms == [("LIGHT LOST", "plug it in again"), ("SOUND FAILED", "")]


@pytest.mark.parametrize(
    ("role", "state", "words"),
    [("driver", "lost", "DRIVER'S PAD OUT"), ("operator", "lost", "OPERATOR'S PAD OUT"),
     ("coach", "lost", "COACH'S PAD OUT"), ("driver", "failed", "DRIVER'S PAD FAILED")],
)  # fmt: skip
def test_it_is_the_pad_that_is_out_and_nobody_who_is_lost(role, state, words):
    fact = DeviceFact(what=role, state=state)
    assert [alarm.what for alarm in at(50, devices=(fact,)).alarms] == [words]
    assert f"{fact.subject} {fact.condition}".upper() == words
    absent = DeviceFact(what=role, state="absent")
    assert f"{absent.subject} {absent.condition}" == f"{role}'s pad not plugged in"
    well = DeviceFact(what=role, state="ready")
    assert (well.subject, well.condition) == (role, "ready")


def test_result_stands_after_the_end():
    view = at(150, phase="over", result=("12 played",))
    assert (view.title, view.result, view.prompt) == ("Match over", ("12 played",), "Press page down: next match")


SETTLED_MS = 140_000                   # 136 s, and 4 s in which robots coast


@example(ms=136_000, rate=3.0, digits="ceil", counts="period")
@example(ms=SETTLED_MS, rate=3.0, digits="ceil", counts="period")
@example(ms=0, rate=0.1, digits="floor", counts="period")
@given(
    ms=st.integers(-6_000, 144_000),
    rate=st.sampled_from([0.1, 0.5, 1.0, 3.0, 100.0]),
    digits=st.sampled_from(["ceil", "floor"]),
    counts=st.sampled_from(["period", "match"]),
)
def test_face_keeps_its_words_until_it_says_that_it_is_stale(ms, rate, digits, counts):
    """Drawing only when ``stale_ns`` has come misses no change of a word."""
    maker = maker_of(msgspec.structs.replace(STANDARD, digits=digits, counts=counts))
    origin = Origin(anchor="match", origin_ns=BEGIN_NS, rate=rate)
    status = Status(phase="running", origins=(origin,), keys=KEYS)
    now_ns = BEGIN_NS + round(ms * NS_PER_MS / rate)
    view = maker.at(status, now_ns)
    if view.stale_ns is None:              # until the conductor says that the match is over, which is a new view
        last_ns = BEGIN_NS + round((SETTLED_MS - 1) * NS_PER_MS / rate)
        later_ns = now_ns + 2 * NS_PER_S
        assert maker.at(status, min(later_ns, last_ns) if now_ns <= last_ns else later_ns).title == view.title
        return
    assert view.stale_ns > now_ns
    rounding_ns = 2 + 1 / rate             # match time is read to the nanosecond, which is 1 / rate of real time
    for part in (0.25, 0.5, 0.75):
        later_ns = now_ns + int(max(0, view.stale_ns - now_ns - rounding_ns) * part)
        assert words(maker.at(status, later_ns)) == words(view)


def words(view):
    return msgspec.structs.replace(view, stale_ns=None)


def test_highest_priority_shows_and_among_equals_the_newest():
    firings = compile_plan(STANDARD, PLAN)[0].firings
    low, high = (msgspec.structs.replace(firings[0], priority=p, no=p) for p in (3, 9))
    shots = [
        Shot(firing=firing, instance=0, begin_ns=begin, end_ns=None)
        for firing, begin in ((low, 5), (high, 1), (high, 2), (low, 9))
    ]
    assert foremost(shots) == shots[2]
    assert foremost([shots[0], shots[3]]) == shots[3]
    assert foremost([]) is None


MANY = tuple(KeyHelp(key=str(n), does=f"thing {n}", action=f"thing_{n}") for n in range(8))
MORE = KeyHelp(key="k", does="all keys", action="all_keys")
SCRIBE = tuple(KeyHelp(key=key, does=does, action=f"mark.{does}") for key, does in (("c", "contact"), ("o", "home")))


@pytest.mark.parametrize("phase", ["standby", "waiting", "running", "held", "over"])
@pytest.mark.parametrize("scribe", [(), SCRIBE])
def test_five_keys_are_listed_at_most_a_scribes_among_them_and_one_shows_the_rest(phase, scribe):
    def shown(keys, *, all_keys=False):
        status = Status(
            phase=phase, origins=origins(), held_ns=BEGIN_NS if phase == "held" else None, keys=keys, scribe=scribe,
            all_keys=all_keys,
        )  # fmt: skip
        return maker_of().at(status, BEGIN_NS + NS_PER_S).keys

    fit = 5 - (len(scribe) if phase in ("waiting", "running", "held") else 0)
    assert shown((*MANY, MORE)) == (*MANY[:fit], MORE)
    assert shown((*MANY, MORE), all_keys=True) == (*MANY, MORE)
    assert shown((*MANY[:fit], MORE)) == MANY[:fit], "there is no rest to be shown"
    assert shown(MANY) == MANY, "no key could show the rest"


def test_a_scribes_keys_stand_in_no_row_a_second_time():
    status = Status(phase="running", origins=origins(), keys=(*SCRIBE, *MANY[:2], MORE), scribe=SCRIBE)
    view = maker_of().at(status, BEGIN_NS + NS_PER_S)
    assert (view.keys, view.scribe) == (MANY[:2], SCRIBE)


def test_what_a_prompt_names_need_not_be_among_the_keys_that_are_listed():
    held = Status(phase="held", origins=origins(), held_ns=BEGIN_NS, keys=(*MANY, *KEYS, MORE))
    assert maker_of().at(held, 0).prompt == "Press p: the clock goes on"


@pytest.mark.parametrize("phase", ["standby", "running", "over"])
def test_a_plan_that_is_a_secret_is_not_named(phase):
    assert at(60, phase=phase).heading.endswith(PLAN.name)
    assert at(60, phase=phase, names_plan=False).heading == STANDARD.name
