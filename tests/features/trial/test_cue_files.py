"""Cues that belong to no match, written as files and read back: nothing of them is lost or changed."""

from hypothesis import given
from hypothesis import strategies as st

from tocsin.config.files import file_text
from tocsin.features.trial.cue_files import CueSheet, WrittenCue, numbered
from tocsin.units import NS_PER_MS, NS_PER_S

RIG = file_text("rig", "rig.toml", 'format = "tocsin-rig/1"\nname = "Stand"\n')
LIGHT = '[pattern.light.one]\nform = "plain"\ncolours = ["white"]\nlevel = 0.1\nlasts = "100ms"\n'
WORDS = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=20)


@given(
    word=WORDS,
    at_ns=st.integers(0, 50_000).map(lambda ms: ms * NS_PER_MS),
    roles=st.lists(st.sampled_from(["driver", "operator", "coach"]), unique=True, max_size=3),
    late_ms=st.none() | st.integers(10, 5000),
)
def test_a_cue_is_read_as_it_was_written(word, at_ns, roles, late_ms):
    late_ns = None if late_ms is None else late_ms * NS_PER_MS
    cue = WrittenCue(
        id="one_7", at_ns=at_ns, patterns={"light": "one"}, word=word, roles=roles, late_limit_ns=late_ns
    )
    sheet = CueSheet(
        by="tocsin try", what="tried", game=word, plan=word, period=word, lasts_ns=60 * NS_PER_S, cues=[cue],
        patterns=[LIGHT],
    )  # fmt: skip
    loaded = sheet.loaded(RIG)
    (found,) = loaded.plans
    (firing,) = found.timeline.firings
    assert (found.game.name, found.plan.name, found.game.periods[0].title) == (word, word, word)
    assert (firing.word, firing.begin.offset_ns) == (word, at_ns)
    assert list(found.plan.cues[0].roles) == (roles or ["driver", "operator"])
    assert firing.late_limit_ns == (150 * NS_PER_MS if late_ns is None else late_ns)
    assert [file.name for file in loaded.files] == ["tried game", "tried plan", "rig.toml"]
    assert numbered("one_", firing.cue) == 7


def test_other_cues_have_no_number():
    assert [numbered("one_", cue) for cue in ("count_in", "one_", "one_x", "two_3")] == [None] * 4
