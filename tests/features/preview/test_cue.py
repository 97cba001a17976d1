"""What a preview by hand plays of a plan's cues: order, moments, what is cut, and that nothing else is changed."""

import pytest

from tocsin.config.files import file_text
from tocsin.config.load import load, load_texts
from tocsin.features.preview.cue import AHEAD_NS, LONGEST_NS, previews_of
from tocsin.features.preview.result import exit_of, outcome_lines, shown_of
from tocsin.journal.records import FiringRecord
from tocsin.units import NS_PER_S

# An invented game: an open pause, a second half that a person begins, a window that a mark begins.
GAME = """
format = "tocsin-game/1"
name = "Two Peals"
[[period]]
id = "first"
kind = "driver"
lasts = "60s"
[[period]]
id = "rest"
kind = "pause"
lasts = "open"
[[period]]
id = "second"
kind = "driver"
lasts = "60s"
[[variant]]
id = "north_first"
default = true
[[variant]]
id = "south_first"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Peals"
game = "game.toml"
"""
RIG = 'format = "tocsin-rig/1"\nname = "None"\n'


def previews(cues):
    texts = [("game", "game.toml", GAME), ("plan", "plan.toml", PLAN + cues), ("rig", "rig.toml", RIG)]
    patterns = [file for file in load(None, ["full"], "nothing").files if file.kind == "patterns"]
    found = load_texts([*patterns, *(file_text(*text) for text in texts)]).plans[0]
    return previews_of(found.plan, found.timeline)


def only(cues):
    (found,) = previews(cues)
    return found


def test_the_bundled_plan_comes_in_the_order_and_with_the_readings_of_the_design():
    found = load(None, ["full"], "nothing").plans[0]
    assert [(one.moment, one.cue, one.times) for one in previews_of(found.plan, found.timeline)] == [
        ("0:11", "pads", 1), ("1:35", "alive", 1), ("0:34", "last_load", 1), ("0:23", "coach_call", 1),
        ("0:22", "home", 1), ("0:18", "no_touch", 1), ("0:10", "choose", 1), ("0:05", "last_five", 5),
        ("0:00", "over", 1),
    ]  # fmt: skip


@pytest.mark.parametrize("plan", ["full", "quiet", "dash", "doors"])
def test_what_is_played_is_what_the_match_plays(plan):
    """Same channels, roles, patterns, words, ranks; begun a second ahead; nothing beside it."""
    found = load(None, [plan], "nothing").plans[0]
    for one in previews_of(found.plan, found.timeline):
        assert one.begin.offset_ns - one.at.offset_ns + one.wait_ns == AHEAD_NS
        assert {f.cue for f in one.timeline.firings} == {one.cue}
        assert [f.no for f in one.timeline.firings] == list(range(len(one.timeline.firings)))
        whole = [f for f in found.timeline.firings if f.cue == one.cue and f.begin.anchor == one.begin.anchor]
        for firing in one.timeline.firings:
            same = next(f for f in whole if (f.n, f.channel, f.role) == (firing.n, firing.channel, firing.role))
            assert (firing.begin, firing.pattern, firing.word) == (same.begin, same.pattern, same.word)
            assert (firing.priority, firing.sustained) == (same.priority, same.sustained)
        assert one.timeline.periods == found.timeline.periods


def test_a_hold_keeps_its_length_as_long_as_anybody_looks():
    found = {one.cue: one for one in bundled("full")}
    assert (found["home"].lasts_ns, found["home"].cut) == (4 * NS_PER_S, "")
    assert (found["pads"].lasts_ns, found["pads"].cut) == (LONGEST_NS, "shown for 8s, in a match for 11s")
    no_touch = found["no_touch"]
    assert (no_touch.lasts_ns, no_touch.cut) == (LONGEST_NS, "shown for 8s, in a match for 18s")
    assert {f.until.offset_ns - f.begin.offset_ns for f in no_touch.timeline.firings if f.sustained} == {LONGEST_NS}


def bundled(plan):
    found = load(None, [plan], "nothing").plans[0]
    return previews_of(found.plan, found.timeline)


def test_a_cue_at_the_very_begin_waits_for_its_second():
    found = only('[[cue]]\nid = "begin"\nat = "match.begin"\nrumble = "short"\n')
    assert (found.at.offset_ns, found.wait_ns, found.moment) == (0, AHEAD_NS, "1:00")


def test_a_hold_until_what_a_person_does_ends_with_the_preview():
    found = only('[[cue]]\nid = "rest"\nat = "first.end-1s"\nuntil = "second.begin"\nlight = "home"\n')
    assert found.lasts_ns == LONGEST_NS
    assert found.cut == "shown for 8s at most, in a match until a person acts"
    (firing,) = found.timeline.firings
    assert firing.until.anchor == firing.begin.anchor == "match"


def test_a_cue_behind_a_period_that_a_person_begins_is_shown_there():
    found = only('[[cue]]\nid = "late"\nat = "second.end-20s"\nlight = "home"\n')
    assert (found.begin.anchor, found.at.offset_ns, found.moment) == ("second", 39 * NS_PER_S, "0:20")


def test_what_hangs_on_a_mark_or_is_only_called_gets_a_place_and_says_so():
    mark, call = previews(
        '[[cue]]\nid = "after"\nat = "mark.pit+2s"\nlight = "home"\n'
        '[[cue]]\nid = "help"\ncallable = true\nrumble = "long"\n'
    )
    assert (mark.moment, call.moment) == ("mark.pit+2s", "by hand")
    assert mark.begin == call.begin
    assert (mark.begin.anchor, mark.begin.offset_ns) == ("second", NS_PER_S)
    assert {f.begin for f in (*mark.timeline.firings, *call.timeline.firings)} == {mark.begin}


def test_a_cue_of_another_variant_is_played_in_that():
    found = only('[[cue]]\nid = "swap"\nat = "first.end-5s"\nlight = "home"\nwhen = "south_first"\n')
    assert found.timeline.default_variant == "south_first"
    assert [f.when for f in found.timeline.firings] == [""]


def test_many_repeats_are_cut_and_the_rest_said():
    cue = '[[cue]]\nid = "tick"\nat = "first.begin"\nevery = "500ms"\nuntil = "first.begin+30s"\nsound = "tick"\n'
    found = only(cue)
    assert (found.times, found.cut) == (16, "the first 16 of its 60 times")
    assert found.lasts_ns <= LONGEST_NS


def test_two_moments_of_one_cue_are_two_previews():
    found = previews('[[cue]]\nid = "swap"\nat = ["first.begin+10s", "first.begin+20s"]\nrumble = "short"\n')
    assert [(one.cue, one.moment) for one in found] == [("swap", "0:50"), ("swap", "0:40")]


def record(channel, outcome, role=None, why=""):
    return FiringRecord(
        at_ns=0, cue="home", n=0, channel=channel, role=role, anchor="match", due_ns=0, outcome=outcome, why=why
    )


def test_the_outcome_tells_channels_apart_by_what_became_of_them():
    home = next(one for one in bundled("full") if one.cue == "home")
    kept = [
        record("sound", "failed", why="loudspeaker lost"), record("screen", "played"),
        record("rumble", "skipped", "operator", "absent"), record("rumble", "played", "driver"),
        record("light", "skipped", why="absent"),
    ]  # fmt: skip
    shown = shown_of(home, kept)
    assert outcome_lines(shown) == [
        "played: rumble (driver), screen", "absent: rumble (operator), light", "failed (loudspeaker lost): sound",
    ]  # fmt: skip
    assert outcome_lines(shown_of(home, [])) == ["nothing came: none of its channels is used here"]
    assert exit_of([shown]) == 1
    assert exit_of([shown_of(home, kept[1:])]) == 0
