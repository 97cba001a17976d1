"""Bad drills: each with the code and line of its message, and the fix that it must hold."""

from pathlib import Path

import pytest

from tocsin.config.checking import check
from tocsin.config.drills import load_drill, load_drill_texts
from tocsin.config.toml.diagnostic import render

GOOD = """\
format = "tocsin-drill/1"
name = "Push"
trains = "breaking off"
place = "field"
plan = "full"
from = "driver.end-33s"
rounds = 12
half_speed = 3
marks = ["contact"]
shows = ["clock"]
battery_rounds = 3
questions = ["Who holds the stop?"]

[vary]
setup = ["wall", "middle"]
lead = "break_off"
shift = ["0s", "+1s", "-1s"]
from_spread = "3s"

[clean]
keep_off = ["no_contact"]

[goal]
clean = 8
of = 10
"""
CASES = [
    ('place = "field"', 'place = "pitch"', "choice", "bench, field"),
    ('place = "field"', 'plaec = "field"', "unknown_key", "place"),
    ('plan = "full"', 'plan = "ful"', "drill_names_nothing", 'plan = "full"'),
    ('plan = "full"', 'plan = "full"\ngame = "bells"', "drill_names_nothing", "casting_day"),
    ('from = "driver.end-33s"', 'from = "drive.end-33s"', "moment", "driver"),
    ('from = "driver.end-33s"', "from = 33", "moment_bare", "driver.end-18s"),
    ('from = "driver.end-33s"', 'from = "match.begin+1s"', "drill_spread", "shorter from_spread"),
    ("rounds = 12", "rounds = 0", "out_of_range", "from 1 to 200"),
    ("rounds = 12", 'rounds = "12"', "number_in_quotes", "rounds = 12"),
    ("half_speed = 3", "half_speed = 13", "drill_half_speed", "at most 12"),
    ('questions = ["Who holds the stop?"]\n', "", "drill_no_questions", "questions = ["),
    ('lead = "break_off"', 'lead = "break_of"', "drill_lead", 'lead = "break_off"'),
    ('lead = "break_off"\n', "", "drill_shift_without_lead", 'lead = "break_off"'),
    ('"+1s", "-1s"', '"+1", "-1s"', "clock", "1s"),
    ('"+1s", "-1s"', '"+1s", "-20s"', "clock_range", "10s"),
    ('from_spread = "3s"', 'from_spread = "3s"\nshuffle = true', "drill_false_cues", "shuffle = false"),
    ('from_spread = "3s"', 'from_spread = "3s"\ndraw_out = ["smell"]', "choice", "sound"),
    ('keep_off = ["no_contact"]', 'keep_off = ["no_contacts"]', "unknown_window", "no_contact"),
    ('keep_off = ["no_contact"]', 'keep_off = ["no_contact"]\nturned = "mine"', "clock_or_own", '"own"'),
    ('keep_off = ["no_contact"]', 'keep_off = ["no_contact"]\nturned = 2', "clock_unit", '"2s"'),
    ('keep_off = ["no_contact"]', 'keep_off = ["no_contact"]\nturned = "900s"', "clock_range", "600s"),
    ("clean = 8", "clean = 12", "drill_goal", "at most 10"),
    ('shows = ["clock"]', 'shows = ["clok"]', "choice", "clock"),
    ('shows = ["clock"]', 'shows = ["future"]', "choice", "clock, ahead"),
    ("battery_rounds = 3", "battery_rounds = 0", "out_of_range", "from 1 to 200"),
]


def test_the_good_drill_is_good(tmp_path: Path) -> None:
    path = tmp_path / "push.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert check([str(path)]) == ()
    found = load_drill(str(path), "nothing")
    assert found.drill.vary.shift_ns == (0, 10**9, -(10**9))
    assert (found.drill.shows, found.drill.battery_rounds) == (("clock",), 3)
    assert load_drill_texts(found.files.files) == found, "a drill goes on without its files on disk"


@pytest.mark.parametrize(
    ("written", "ns", "own"),
    [("", None, False), ('turned = "2.5s"', 2_500_000_000, False), ('turned = "own"', None, True)],
)
def test_a_limit_for_the_turn_is_one_for_all_or_the_crews_own(written: str, ns: int, own: bool, tmp_path: Path) -> None:
    path = tmp_path / "push.toml"
    path.write_text(GOOD.replace("[goal]", f"{written}\n[goal]"), encoding="utf-8")
    clean = load_drill(str(path), "nothing").drill.clean
    assert (clean.turned_ns, clean.turned_own) == (ns, own)


@pytest.mark.parametrize(("good", "bad", "code", "fix"), CASES, ids=[f"{code} {bad}" for _, bad, code, _ in CASES])
def test_a_bad_drill_says_where_and_how_to_fix_it(good: str, bad: str, code: str, fix: str, tmp_path: Path) -> None:
    assert GOOD.count(good) == 1
    path = tmp_path / "push.toml"
    path.write_text(GOOD.replace(good, bad), encoding="utf-8")
    (problem,) = check([str(path)])
    assert problem.code == code
    begin = GOOD[: GOOD.index(good)].count("\n") + 1
    if bad:
        # A spread that is too long is marked where it stands, not at the moment that it does not fit.
        begin = GOOD[: GOOD.index("from_spread")].count("\n") + 1 if code == "drill_spread" else begin
        assert problem.line in range(begin, begin + bad.count("\n") + 1)
    assert fix in render(problem)


@pytest.mark.parametrize("key", ["safely", "questions"])
@pytest.mark.parametrize("alone", ["inf", "7", "true", '"a\\u202eb"', "{ a = 1 }"])
def test_a_bad_value_alone_where_a_list_may_stand_is_told_once(key: str, alone: str, tmp_path: Path) -> None:
    """One sentence may stand without brackets, so a bad one is read as a list of one: it is taken out as a whole."""
    good = 'questions = ["Who holds the stop?"]\n'
    path = tmp_path / "push.toml"
    path.write_text(GOOD.replace(good, f"{good if key == 'safely' else ''}{key} = {alone}\n"), encoding="utf-8")
    (problem,) = check([str(path)])
    assert problem.line == GOOD[: GOOD.index(good)].count("\n") + (2 if key == "safely" else 1)
    assert key in render(problem)
