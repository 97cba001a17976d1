"""Where two scribes differ: whether our robot came home, and pushes that one of them alone noted."""

import pytest

from tests.support.analysis.rehearsal_games import push, touch, undo
from tocsin.analysis.rounds.scribes import Differences, difference_lines, differences

KEY, ONE, TWO = "key 7", "board 1", "board 2"


def home(at_s, source, label="home", **rest):
    return touch(at_s, label, source=source, **rest)


@pytest.mark.parametrize(
    ("marks", "said"),
    [
        ([home(130, KEY), home(130.4, ONE)], ()),
        ([home(130, KEY), home(130.4, ONE, "home_half")], (("board 1", "home_half"), ("keys", "home"))),
        # Each one's last word: who says half and then home has seen the robot come in.
        ([home(125, KEY, "home_half"), home(130, KEY), home(130.4, ONE)], ()),
        ([home(130, KEY), home(130, ONE), home(134, ONE, "home_none")], (("board 1", "home_none"), ("keys", "home"))),
        ([home(130, KEY), home(130.4, ONE, "home_half", by="partner")], ()),
        ([home(130, KEY), home(130.4, ONE, "home_half"), undo(1)], ()),
        # One scribe has nobody to differ from, and what a video tells is no scribe's word.
        ([home(130, KEY), home(133, "key 9", "home_half")], ()),
        ([home(130, KEY), home(130.4, ONE, "home_half"), home(130, "video")], ()),
    ],
)
def test_what_they_say_of_home(marks, said):
    assert differences(marks).home == said


@pytest.mark.parametrize(
    ("marks", "alone", "pushes"),
    [
        ([push(110, 112, source=KEY), push(110.2, 112, source=ONE)], 0, 1),
        ([push(110, 112, source=KEY), push(110.2, 112, source=ONE), push(120, 121, source=ONE)], 1, 2),
        ([push(110, 112, source=KEY), push(120, 121, source=ONE), push(130, 131, source=TWO)], 3, 3),
        # One notes ours and one the partner's: neither lacks anything.
        ([push(110, 112, source=KEY), push(111, 112, source=ONE, by="partner")], 0, 0),
        ([push(110, 112, source=KEY), push(120, 121, source=KEY)], 0, 0),
        ([push(110, 112, source=KEY), push(120, 121, source=ONE), push(110, 111, source="video")], 0, 0),
    ],
)
def test_how_many_pushes_one_alone_noted(marks, alone, pushes):
    assert differences(marks) == Differences(pushes=pushes, alone=alone)


def test_only_what_counts_is_compared():
    marks = [push(110, 112, source=KEY), push(120, 121, source=ONE), home(130, KEY), home(130, ONE, "home_none")]
    assert differences(marks, ["turned"]) == Differences()
    assert differences(marks, ["contact"]).home == ()
    assert differences(marks, ["home"]).pushes == 0
    assert differences(marks, ["home"]).home


def test_they_are_told_in_plain_sentences():
    marks = [
        push(110, 112, source=KEY), push(120, 121, source=ONE), push(110, 112, source=ONE), home(130, KEY),
        home(130.4, ONE, "home_half"),
    ]  # fmt: skip
    assert difference_lines(differences(marks), "home_half") == (
        "Scribes differ: half home by board 1, home by the keys. Counted: half home.",
        "1 of 2 pushes noted by one scribe only.",
    )
    assert difference_lines(differences(marks[3:]), "home_half")[1:] == ()
    assert difference_lines(Differences(), "home") == ()
