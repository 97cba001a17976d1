"""The bundled games and plans, loaded from their files, against the tables that they were drawn up from."""

import pytest

from tocsin.config.bundle import names, root
from tocsin.config.load import load
from tocsin.model.display.digits import official
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

DRIVERS = ("driver", "operator")
COACHED = ("operator", "coach")
ALL = ("driver", "operator", "coach")
BARE_RIG = "nothing"


def timeline_of(plan):
    return load(None, [plan], BARE_RIG).plans[0].timeline


def lines(timeline):
    """Gather each occurrence's firings: (match s, cue) -> its channels' patterns, its roles, its word and end."""
    found = {}
    for f in timeline.firings:
        if f.match_ns is not None:
            line = found.setdefault((f.match_ns / S, f.cue), {"roles": (), "until": None})
            line[f.channel] = f.pattern
            line["word"] = f.word
            if f.role:
                line["roles"] += (f.role,)
            if f.sustained:
                line["until"] = f.until.offset_ns / S
    return found


# What was decided: match s, left, cue, rumble, word, sound, for.
FULL = [
    (28, "0:11", "pads", None, "Pads", "soft", ()),
    (41, "1:35", "alive", "hello", None, None, DRIVERS),
    (102, "0:34", "last_load", "short", "Last one", "steady", COACHED),
    (113, "0:23", "coach_call", "short", "Call home", None, ("coach",)),
    (114, "0:22", "home", "triple", "Home", "rising", DRIVERS),
    (118, "0:18", "no_touch", "long", "No touch", "drop", DRIVERS),
    (126, "0:10", "choose", "short", "Choose", "steady", COACHED),
    (131, "0:05", "last_five", None, None, "tick", ()),
    (132, "0:04", "last_five", None, None, "tick", ()),
    (133, "0:03", "last_five", None, None, "tick", ()),
    (134, "0:02", "last_five", None, None, "tick", ()),
    (135, "0:01", "last_five", None, None, "tick", ()),
    (136, "0:00", "over", "close", "Over", None, ALL),
]


def test_the_full_plan_is_the_table_of_the_design():
    timeline = timeline_of("full")
    found = lines(timeline)
    assert [(at_s, cue) for at_s, cue in found] == [(row[0], row[2]) for row in FULL]
    for at_s, left, cue, rumble, word, sound, roles in FULL:
        line = found[at_s, cue]
        assert (line.get("rumble"), line.get("sound"), line["roles"]) == (rumble, sound, roles), cue
        if word is not None:
            assert line["word"] == word
        assert official(timeline.at({"match": round(at_s * S)}).left_ns, timeline.digits) == left


def test_the_full_plan_fires_as_it_did_when_its_prompt_had_a_moment_of_its_own(tmp_path):
    text = (root() / "plans" / "full.toml").read_text("utf-8")
    announced = 'announces = "home"                        # in place of `at`\nahead = "1s" '
    assert text.count(announced) == 1
    own = text.replace(announced, 'at = "no_contact.begin-5s" ')
    path = tmp_path / "own.toml"
    path.write_text(own, "utf-8")
    timeline = timeline_of("full")
    assert load(None, [str(path)], BARE_RIG).plans[0].timeline == timeline
    assert {f.match_ns for f in timeline.firings if f.cue == "coach_call"} == {113 * S}


def test_what_the_full_plan_holds_and_for_how_long():
    held = {cue: line["until"] for (_, cue), line in lines(timeline_of("full")).items() if line["until"]}
    assert held == {"pads": 39, "home": 118, "no_touch": 136}


def test_only_the_call_home_is_a_triple_and_it_outranks_the_rest():
    timeline = timeline_of("full")
    assert {f.cue for f in timeline.firings if f.pattern == "triple"} == {"home"}
    assert {f.late_limit_ns for f in timeline.firings if f.cue == "home"} == {1500 * MS}
    assert max(f.priority for f in timeline.firings) == timeline.firings[-1].priority
    assert {f.begin.anchor for f in timeline.firings} == {"match", "call.home"}


def test_the_quiet_plan_has_three_calls_on_rumble_and_light():
    timeline = timeline_of("quiet")
    assert list(lines(timeline)) == [(114, "home"), (118, "no_touch"), (136, "over")]
    assert {f.channel for f in timeline.firings} == {"rumble", "light"}


def test_the_plan_of_doors_that_open_in_turn():
    # As was decided.
    timeline = timeline_of("doors")
    rumbling = [(at_s, cue, line["roles"]) for (at_s, cue), line in lines(timeline).items() if "rumble" in line]
    assert rumbling == [
        (21, "alive", DRIVERS),
        (48, "swap_soon", COACHED),
        (53, "swap", DRIVERS),
        (68, "swap_soon", COACHED),
        (73, "swap", DRIVERS),
        (94, "last_load", COACHED),
        (101, "swap_soon", COACHED),
        (112, "home", DRIVERS),
        (122, "choose", COACHED),
        (134, "over", ALL),
    ]
    assert [w.begin.offset_ns / S for w in timeline.windows if w.id == "door"] == [19, 53, 73]


@pytest.mark.parametrize(
    ("variant", "words"),
    [
        ("north_first", [(53, "South door"), (73, "North door")]),
        ("south_first", [(53, "North door"), (73, "South door")]),
    ],
)
def test_which_door_opens_depends_on_the_variant(variant, words):
    timeline = timeline_of("doors")
    assert variant in timeline.variants
    assert [(f.match_ns / S, f.word) for f in timeline.firings if f.when == variant] == words


def test_one_period_of_fifty_seconds():
    timeline = timeline_of("dash")
    assert [at_s for at_s, _ in lines(timeline)] == [2, 22, 34, 42, 45, 46, 47, 48, 49, 50]


@pytest.mark.parametrize("plan", names("plans"))
def test_no_plan_ticks_on_drivers_pads_in_the_last_five_seconds(plan):
    timeline = timeline_of(plan)
    end_ns = timeline.match_end().offset_ns
    assert not [
        f for f in timeline.firings
        if f.channel == "rumble" and f.match_ns is not None and end_ns - 5 * S <= f.match_ns < end_ns
    ]  # fmt: skip


@pytest.mark.parametrize("plan", names("plans"))
def test_no_plan_says_what_only_the_field_may_say(plan):
    words = {word.lower() for f in timeline_of(plan).firings for word in f.word.split()}
    assert not words & {"stop", "clear", "go", "ready", "set", "safe"}


@pytest.mark.parametrize("plan", names("plans"))
def test_hands_are_not_given_two_patterns_at_once(plan):
    for role in ("driver", "operator", "coach"):
        ended_ns = 0
        for f in timeline_of(plan).firings:
            if f.role == role and f.match_ns is not None:
                assert f.match_ns >= ended_ns, f.cue
                ended_ns = f.match_ns + f.lasts_ns


@pytest.mark.parametrize("game", names("games"))
def test_every_game_has_a_plan(game):
    assert game in {loaded.plan.game for name in names("plans") for loaded in load(None, [name], BARE_RIG).plans}
