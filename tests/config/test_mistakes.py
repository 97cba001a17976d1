"""Bad files: each with the exact codes and lines of its messages, and with the fix that they must hold."""

from pathlib import Path
from typing import NamedTuple

import pytest

from tests.support.config.good_files import GAME, PLAN, RIG
from tocsin.config.checking import check
from tocsin.config.toml.diagnostic import FileDiagnostic, as_json, render
from tocsin.config.toml.messages import MESSAGES
from tocsin.model.compiler.compiler import CODES

GOOD = {"game": GAME, "plan": PLAN, "rig": RIG}


class Bad(NamedTuple):
    """In the good file of ``kind``, ``good`` is replaced by ``bad``. ``codes`` come with lines from its begin, 0 up;
    ``fix`` must stand in the message."""

    kind: str
    good: str
    bad: str
    codes: list[tuple[str, int]]
    fix: str


def one(kind: str, good: str, bad: str, code: str, fix: str) -> Bad:
    """Return a case with one mistake, in the first line that is replaced."""
    return Bad(kind, good, bad, [(code, 0)], fix)


# What a stake and a threshold may hold is put behind the game's last line, the mistake some lines further down.
_LAST = 'to = "opponents"\n'
_THRESHOLD = """
[[stake]]
id = "full_bell"
points = 18
to = "us"
most = 2

[[threshold]]
id = "flag"
points = 30
counts = ["full_bell"]
"""


def staked(good: str, bad: str, code: str, fix: str, *, line: int) -> Bad:
    """Return a case with one mistake, ``line`` lines below the end of the game's own stake."""
    text = _LAST + _THRESHOLD.replace(good, bad)
    assert text != _LAST + _THRESHOLD
    return Bad("game", _LAST, text, [(code, line)], fix)


CASES = [
    # -- syntax --
    one("plan", "callable = true", "callable = True", "syntax_true", "callable = true"),
    one("plan", "callable = true", "callable = yes", "syntax_true", "callable = true"),
    one("plan", 'say = "Home"', "say = Home", "syntax_unquoted", 'say = "Home"'),
    one("plan", 'late_limit = "1500ms"', "late_limit = 1500ms", "syntax_unquoted_time", 'late_limit = "1500ms"'),
    one("game", 'lasts = "3min"', "lasts = 3:00", "syntax_unquoted_time", 'lasts = "03:00"'),
    one("plan", 'at = "match.end"', "at = match.end-1s", "syntax_unquoted", 'at = "match.end-1s"'),
    one("rig", "strength = 1.0", "strength = .5", "syntax_leading_dot", "strength = 0.5"),
    one("rig", "strength = 1.0", "strength = 1.", "syntax_trailing_dot", "strength = 1.0"),
    one("rig", "strength = 1.0", "strength = 0,5", "syntax_decimal_comma", "strength = 0.5"),
    one("rig", "latency_ms = 80", "latency_ms = 080", "syntax_leading_zero", "One of these: 80, 0.80"),
    one("plan", 'say = "Home"', r'say = "C:\Users\pit"', "syntax_backslash", r"say = 'C:\Users\pit'"),
    one("plan", 'say = "Home"', 'say = "Home', "syntax_open_quote", 'say = "Home"'),
    one("plan", 'say = "Home"', 'say = Home"', "syntax_no_open_quote", 'say = "Home"'),
    one("plan", 'say = "Home"', "say = “Home”", "syntax_curly_quotes", 'say = "Home"'),
    one("plan", 'say = "Home"', 'say: "Home"', "syntax_colon", 'say = "Home"'),
    one("plan", 'say = "Home"', 'say == "Home"', "syntax_equals", 'say = "Home"'),
    one("plan", 'say = "Home"', 'say "Home"', "syntax_no_equals", 'say = "Home"'),
    one("plan", 'say = "Home"', "say =", "syntax_no_value", "Write one, or delete the line."),
    one("plan", 'say = "Home"', "say = None", "syntax_nothing", "Delete the line."),
    one("plan", 'say = "Home"', 'say = "Home",', "syntax_comma_at_end", 'Write: say = "Home"'),
    one("plan", 'say = "Home"', 'say = "Home";', "syntax_semicolon", 'Write: say = "Home"'),
    one("plan", 'say = "Home"', 'say = "Home" // loud', "syntax_comment", 'say = "Home" # loud'),
    one("plan", 'say = "Home"', 'say = "Home" priority = 8', "syntax_two_on_a_line", "Begin a new line here."),
    one("plan", 'late_limit = "1500ms"', 'late limit = "1500ms"', "syntax_blank_in_key", 'late_limit = "1500ms"'),
    one("plan", 'for = ["driver", "operator"]', 'for = ["driver" "operator"]', "syntax_comma_missing", '"driver" , "'),
    one("plan", 'for = ["driver", "operator"]', 'for = ["driver", "operator"', "syntax_list_open", '"operator"]'),
    one("plan", 'for = ["driver", "operator"]', 'for = ["driver, "operator"]', "syntax_quotes_odd", "Add the quote"),
    one("plan", 'say = "Home"', 'say = "Home"\nsay = "Now"', "syntax_key_twice", "Delete one")._replace(
        codes=[("syntax_key_twice", 1)]
    ),
    one("plan", "[[cue]]\nid = \"over\"", "[cue]\nid = \"over\"", "syntax_single_bracket", "Write: [[cue]]"),
    one("plan", "[[cue]]\nid = \"over\"", "[[cue]\nid = \"over\"", "syntax_heading", "Write: [[cue]]"),
    one("plan", "[lead]", "[[lead]]", "syntax_double_bracket", "Write: [lead]"),
    one("rig", "call = { home = [\"h\"] }", "call = { home = [\"h\"], }", "syntax_comma_last", 'home = ["h"] }'),
    one("rig", "call = { home = [\"h\"] }", "call = {\n  home = [\"h\"]\n}", "syntax_table_open", "[call]"),
    one("rig", "[screen]", "[sound]", "syntax_table_twice", "Move these lines"),
    # -- shape --
    one("plan", 'break_off = "4s"', "break_off = 4", "clock_unit", 'break_off = "4s"'),
    one("plan", 'break_off = "4s"', 'break_off = "4"', "clock", 'break_off = "4s"'),
    one("game", 'lasts = "3min"', 'lasts = "3:00"', "clock", 'lasts = "03:00"'),
    one("game", 'lasts = "3min"', "lasts = 00:03:00", "clock_quotes", 'lasts = "00:03:00"'),
    one("game", 'lasts = "3min"', 'lasts = "2h"', "clock_range", "to 3600s"),
    one("plan", "priority = 9", 'priority = "9"', "number_in_quotes", "priority = 9"),
    one("plan", "priority = 9", "priority = 12", "out_of_range", "from 0 to 9"),
    one("plan", "priority = 9", "priority = 4.5", "not_whole", "a whole number from 0 to 9"),
    one("plan", "callable = true", 'callable = "true"', "flag_in_quotes", "callable = true"),
    one("plan", 'late_limit = "1500ms"', 'late_limt = "1500ms"', "unknown_key", 'late_limit = "1500ms"'),
    one("plan", 'say = "Home"', 'says = "Home"', "unknown_key", 'say = "Home"'),
    one("plan", 'for = ["driver", "operator"]', 'for = ["drivr"]', "choice", 'for = ["driver"]'),
    one("plan", 'for = ["driver", "operator"]', "for = []", "list_empty", "at least one"),
    one("plan", 'id = "over"', 'id = "Over now"', "id", 'id = "over_now"'),
    # RFC 5646: subtags are joined by "-", and no language has a primary subtag of more than three letters so far.
    Bad("plan", 'name = "Full"', 'name = "Full"\nlanguage = "pt_BR"', [("language", 1)], 'language = "pt-BR"'),
    Bad("plan", 'name = "Full"', 'name = "Full"\nlanguage = "English"', [("language", 1)], 'such as "en"'),
    one("plan", 'at = "match.end"', 'at = "match.stop"', "moment", 'at = "match.end"'),
    one("plan", 'at = "match.end"', 'at = "late"', "moment", "Moments here: match, auto, driver, no_contact, each"),
    one("plan", 'at = "match.end"', 'at = "drivr.endd-4s"', "moment", 'at = "driver.end-4s"'),
    one("game", 'begin = "driver.end-18s"', 'begin = "late"', "moment", "Moments here: match, auto, driver,"),
    one("plan", 'at = "match.end"', 'at = "match.end-soon!"', "moment", "Expected a clock value such as 4s"),
    one("plan", 'until = "no_contact.begin"', 'until = "no_contact.begin-9s"', "end_not_after_begin", "This cue ends"),
    one("game", 'end = "driver.end"', 'end = "driver.end-30s"', "end_not_after_begin", "This window ends before"),
    one("plan", 'break_off = "4s"', 'break_off = "-4s"', "lead_sign", "Put + or - where the lead is used"),
    one("plan", 'break_off = "4s"', 'break_off = "+ 4"', "lead_sign", 'break_off = "4s"'),
    one("plan", 'at = "match.end"', "at = 204", "moment_bare", "match.begin+204s"),
    one("plan", 'colours = ["reddish_purple", "white"]', 'colours = ["purple", "white"]', "colour", "reddish_purple"),
    one("plan", 'colours = ["reddish_purple", "white"]', 'colours = ["#fff", "black"]', "colour", '"#ffffff"'),
    one("plan", 'colours = ["reddish_purple", "white"]', 'colours = ["white"]', "pattern_colours", "Add a second"),
    one("plan", 'steps = [ { strong = 1.0, weak', "steps = [ { strong = nan, weak", "not_finite", "from 0 to 1"),
    one("plan", 'steps = [ { strong = 1.0, weak', "steps = [ { strong = 80, weak", "percent", "80 percent are 0.8"),
    one("plan", '{ lasts = "200ms" } ]', '{ lasts = "20ms" } ]', "clock_range", "from 50ms to 10s"),
    one("plan", '{ lasts = "200ms" } ]', '{ lasts = "200.5ms" } ]', "clock_whole_ms", "whole milliseconds"),
    one("plan", "times = 3", "times = 50", "pattern_too_long", "Take fewer times"),
    one("plan", "{ hz = 750, lasts", "{ hz = 20, lasts", "out_of_range", "from 100 to 8000"),
    one("plan", "{ hz = 750, lasts", "{ to_hz = 750, lasts", "glide_from_silence", "Add: hz = 750"),
    one("plan", "[lead]", "lead = 4\n[lea]", "no_table", "[lead]")._replace(
        codes=[("no_table", 0), ("unknown_key", 1), ("unknown_lead", 6)]
    ),
    one("rig", "usb = \"1209:0001\"", 'usb = "1209/0001"', "usb_ids", 'usb = "1209:0001"'),
    one("rig", "port = 8737", "port = 80", "out_of_range", "from 1024 to 65535"),
    one("rig", "beside_robot = false", 'beside_robot = "true"', "flag_in_quotes", "beside_robot = true"),
    one("rig", "beside_robot = false", "besides_robot = false", "unknown_key", "beside_robot = false"),
    one("rig", "[board]", "[boards]", "unknown_key", "[board]"),
    one("plan", 'say = "Home"', r'say = "C:\new"', "text_control", r"say = 'C:\new'"),
    one("rig", "buffer = 512", "buffer = 500", "power_of_two", "256, 512, 1024"),
    one("rig", "buffer = 512", 'confirmed = "2031-03-01"', "wrong_type", "confirmed = 2031-03-01"),
    one("rig", "buffer = 512", "confirmed = 2031-03-01T10:00:00", "wrong_type", "confirmed = 2031-03-01"),
    one("rig", "buffer = 512", "confirmed = true", "wrong_type", "a day, such as 2031-03-01"),
    one("rig", 'count_in = "5s"', "count_in = 5", "clock_unit", 'count_in = "5s"'),
    one("rig", 'by = "count_in"', 'by = "countin"', "choice", 'by = "count_in"'),
    one("rig", "latency_ms = 80", 'latency_ms = "80ms"', "wrong_type", "latency_ms = 80"),
    one("plan", 'steps = [ { strong = 1.0, weak', "steps = [ { strong = 1.5, weak", "out_of_range", "from 0 to 1"),
    one("plan", 'steps = [ { strong = 1.0, weak', "steps = [ { strong = 2, weak", "out_of_range", "from 0 to 1"),
    one("plan", 'steps = [ { strong = 1.0, weak', "steps = [ { strong = 2.5, weak", "percent", "2.5 percent are 0.025"),
    one("plan", 'lasts = "250ms"', 'lasts = "250"', "clock", 'lasts = "250ms"'),
    one("plan", 'lasts = "250ms"', "lasts = 250", "clock_unit", 'lasts = "250ms"'),
    one("plan", 'lasts = "250ms"', "lasts = 2", "clock_unit", 'lasts = "2s"'),
    one("rig", 'role = "driver"\n', "", "missing", 'role = "driver"')._replace(codes=[("missing", -1)]),
    # -- what the compiler finds --
    one("plan", 'at = "match.end"', 'at = "mtch.end"', "unknown_base", 'at = "match.end"'),
    one("plan", "begin-break_off", "begin-brake_off", "unknown_lead", "begin-break_off"),
    one("plan", 'rumble = "three"', 'rumble = "thre"', "unknown_pattern", 'rumble = "three"'),
    one("plan", 'when = "north_first"', 'when = "north_frist"', "unknown_variant", '"north_first", id = "north_frist"'),
    one("plan", 'id = "over"', 'id = "home"', "duplicate_id", "Rename one"),
    one("plan", 'at = "match.end"', 'at = "match.end+10s"', "after_end", "Take an earlier moment"),
    one("plan", 'at = "match.end"', 'at = "match.begin-1s"', "before_match", "a later moment"),
    one("plan", 'at = "match.end"', 'at = "match.end"\nevery = "1s"', "repeat_without_until", "until = ")._replace(
        codes=[("repeat_without_until", 1)]
    ),
    one("plan", 'sound = "two"\n', "", "no_channel", "rumble = ")._replace(codes=[("no_channel", -3)]),
    one("game", 'during = "no_contact"', 'during = "nocontact"', "unknown_window", 'during = "no_contact"'),
    one("game", 'end = "driver.end"', 'end = "driver.begin"', "end_not_after_begin", "Exchange the two"),
    # -- stakes and thresholds --
    one("game", _LAST, _LAST + "every = 0\n", "out_of_range", "from 1 to 1000")._replace(codes=[("out_of_range", 1)]),
    one("game", _LAST, _LAST + 'every = "3"\n', "number_in_quotes", "every = 3")._replace(
        codes=[("number_in_quotes", 1)]
    ),
    one("game", _LAST, _LAST + "every = 1.5\n", "not_whole", "a whole number")._replace(codes=[("not_whole", 1)]),
    one("game", _LAST, _LAST + "most = true\n", "wrong_type", "a whole number")._replace(codes=[("wrong_type", 1)]),
    one("game", _LAST, _LAST + 'counts = "Home_Half"\n', "id", 'counts = "home_half"')._replace(codes=[("id", 1)]),
    one("game", _LAST, _LAST + 'counts = ["contact"]\n', "wrong_type", "an id in quotes")._replace(
        codes=[("wrong_type", 1)]
    ),
    one("game", _LAST, _LAST + 'by = "oponent"\n', "choice", 'by = "opponent"')._replace(codes=[("choice", 1)]),
    one("game", _LAST, _LAST + "by = []\n", "list_empty", "at least one")._replace(codes=[("list_empty", 1)]),
    one("game", _LAST, _LAST + 'by = ["us", "us"]\n', "listed_twice", "Delete one")._replace(
        codes=[("listed_twice", 1)]
    ),
    one("game", _LAST, _LAST + "evry = 3\n", "unknown_key", "every = 3")._replace(codes=[("unknown_key", 1)]),
    staked('counts = ["full_bell"]', 'counts = "full_blel"', "unknown_stake", '"full_bell", id = "full', line=11),
    staked('["full_bell"]', '["full_blel"]', "unknown_stake", '"full_bell", id = "full_blel" in', line=11),
    staked('counts = ["full_bell"]', "counts = []", "list_empty", "at least one", line=11),
    staked('counts = ["full_bell"]\n', "", "missing", "Add a line such as: counts = [", line=8),
    staked('"full_bell"]', '"full_bell", "full_bell"]', "listed_twice", "Delete one of the two", line=11),
    staked('["full_bell"]', '["full_bell", "contact"]', "stake_of_others", "Count another stake", line=11),
    staked("points = 30", "points = 0", "out_of_range", "from 1 to 10000", line=10),
    staked("points = 30", "points = 46", "out_of_reach", "raise their 'most'", line=10),
    staked("points = 30", "point = 30", "unknown_key", "points = 30", line=10),
    staked("[[threshold]]", "[threshold]", "syntax_single_bracket", "Write: [[threshold]]", line=8),
    staked("[[threshold]]", '[[threshold]]\nid = "flag"\npoints = 3\ncounts = "full_bell"\n\n[[threshold]]',
           "duplicate_id", "Rename one", line=14),
    # -- the rig --
    one("rig", 'start = ["page_down"]', 'start = ["pgdn"]', "key_name", 'start = ["page_down"]'),
    one("rig", 'start = ["page_down"]', 'start = ["c"]', "key_taken", "Take another key here")._replace(
        codes=[("key_taken", 3)]
    ),
    one("rig", 'hold = "p"', 'hold = "q"', "key_taken", "by default"),
    one("rig", 'hold = "p"', 'hold = "2"', "key_chooses_plan", "Take another key here"),
    one("rig", 'drives_robot = false\npriority = "raised"', 'priority = "realtime"', "realtime_beside_robot", "raised"),
    one("rig", 'call = { home = ["h"] }', 'call = { hoem = ["h"] }', "call_unknown", 'call = { home = ["h"] }'),
    one("rig", 'call = { home = ["h"] }', 'call = { over = ["h"] }', "not_callable", "callable = true"),
    one("rig", 'buttons = { 6 = "mark.contact" }', 'buttons = { 6 = "strt" }', "button_action", '6 = "start"'),
    one("rig", 'buttons = { 6 = "mark.contact" }', 'buttons = { a = "start" }', "button_number", "0 to 63"),
    one("rig", 'usb = "1209:0001"\n', "", "pad_names_nothing", "order = 1")._replace(codes=[("pad_names_nothing", -2)]),
    one("rig", "port = 'COM3'", 'port = "spy:///dev/null?file=mine.txt"', "port", "URL"),
    one("rig", "port = 'COM3'", 'port = "socket://192.0.2.1:7"', "port", "`tocsin devices` lists"),
    one("rig", "port = 'COM3'", 'port = "com 5"', "port", 'port = "COM5"'),
    one("rig", "port = 'COM3'", 'port = "ttyUSB0"', "port", 'port = "/dev/ttyUSB0"'),
    one("rig", "port = 'COM3'", 'device = "../dmx.py"', "device_name", "`tocsin devices` lists"),
    one("rig", "port = 'COM3'", 'device = "http://192.0.2.1"', "device_name", "`tocsin devices` lists"),
    one("rig", "port = 'COM3'", 'port = "COM3"\ndevice = "dmx"', "device_beside", "Delete this line"),
    one("rig", "port = 'COM3'", 'device = "dmx"\nprotocol = "tpm2"', "device_beside", "Delete this line")._replace(
        codes=[("device_beside", 1)]
    ),
    one("rig", "strength = 1.0", 'device = "belt"', "device_beside", "Delete")._replace(
        codes=[("device_beside", -1), ("device_beside", 2)]
    ),
    one("plan", 'game = "game.toml"', 'game = "//server/share/game.toml"', "reference", "Copy the file there."),
    one("plan", 'game = "game.toml"', "game = '\\\\server\\share\\game.toml'", "reference", "Copy the file there."),
    one("plan", 'game = "game.toml"', "game = 'C:game.toml'", "reference", "Copy the file there."),
    one("plan", 'game = "game.toml"', 'game = "/etc/game.toml"', "reference", "Copy the file there."),
    one("plan", 'game = "game.toml"', 'game = "../../game.toml"', "reference", "one folder up"),
    one("plan", 'game = "game.toml"', 'game = "games/COM1.toml"', "reference", "device"),
    one("plan", 'game = "game.toml"', 'game = "./secret"', "reference", "does not end in .toml"),
    one("plan", 'game = "game.toml"', f'game = "{"é" * 200}"', "reference", "no file has such a name"),
    one("plan", 'game = "game.toml"', f'game = "{"a" * 300}"', "text_long", "Shorten it."),
    one("rig", "port = 'COM3'", 'port = "auto"', "no_port_no_usb", "0004")._replace(codes=[("no_port_no_usb", -1)]),
]


# A light pattern has no steps: `lasts` looks like it, but holds no list.
STEPS = """
[pattern.light.flow]
form = "plain"
colours = ["white"]
lasts = "1s"
"""


def _check(folder: Path, **texts: str) -> tuple[FileDiagnostic, ...]:
    for kind, text in {**GOOD, **texts}.items():
        (folder / f"{kind}.toml").write_text(text, encoding="utf-8")
    return check([str(folder / f"{kind}.toml") for kind in GOOD])


def test_the_good_files_are_good(tmp_path: Path) -> None:
    assert _check(tmp_path) == ()


@pytest.mark.parametrize("case", CASES, ids=[f"{case.codes[0][0]}-{n}" for n, case in enumerate(CASES)])
def test_a_bad_file_gets_its_message_with_line_caret_and_fix(case: Bad, tmp_path: Path) -> None:
    good = GOOD[case.kind]
    assert good.count(case.good) >= 1
    at = good.index(case.good)
    text = good[:at] + case.bad + good[at + len(case.good) :]
    line = good.count("\n", 0, at) + 1
    problems = _check(tmp_path, **{case.kind: text})
    assert [(problem.code, problem.line - line) for problem in problems] == case.codes
    block = render(problems[0])
    assert f"{case.kind}.toml, line {problems[0].line}: " in " ".join(block.split())
    assert "^" in block
    assert case.fix in block
    marked = problems[0].source[problems[0].column - 1 :][: problems[0].length]
    assert marked
    assert marked == marked.strip()


def test_one_file_with_six_mistakes_gets_six_messages_in_one_go(tmp_path: Path) -> None:
    text = (
        PLAN.replace('name = "Full"', "name = Full")
        .replace('break_off = "4s"', "break_off = 4")
        .replace("priority = 9", "priority = True")
        .replace('rumble = "three"', 'rumble = "tree"')
        .replace('late_limit = "1500ms"', 'late_limt = "1500ms"')
        .replace('at = "match.end"', 'at = "match.end+brek_off"')
    )
    found = [(problem.code, problem.line) for problem in _check(tmp_path, plan=text)]
    assert found == [
        ("syntax_unquoted", 2), ("clock_unit", 6), ("unknown_pattern", 13), ("unknown_key", 16), ("syntax_true", 17),
        ("unknown_lead", 23),
    ]  # fmt: skip


def test_a_list_is_not_meant_for_a_key_that_holds_none(tmp_path: Path) -> None:
    assert _check(tmp_path, plan=PLAN + STEPS) == ()
    steps = STEPS.replace('lasts = "1s"', 'steps = [ { colour = "white", lasts = "1s" } ]')
    problems = _check(tmp_path, plan=PLAN + steps)
    assert "unknown_key" in [problem.code for problem in problems]
    assert [problem.hint for problem in problems if "lasts = [" in problem.hint] == []
    below = _check(tmp_path, plan=PLAN + steps.replace("pattern", "patern").replace("light", "ligth", 1))
    assert [problem.code for problem in below][:1] == ["unknown_key"]
    listed = _check(tmp_path, plan=PLAN + STEPS.replace('colours = ["white"]', 'colors = ["white"]'))
    assert [problem.hint for problem in listed] == ['Write: colours = ["white"]']


def test_an_id_that_is_missing_is_made_up_as_one_that_is_free(tmp_path: Path) -> None:
    cue = '\n[[cue]]\nat = "match.begin+1s"\nlight = "home"\n'
    (problem,) = _check(tmp_path, plan=PLAN + cue)
    assert (problem.code, problem.hint) == ("missing", 'Add a line such as: id = "home_2"')
    two = '\n[[cue]]\nid = "home_2"\nat = "match.begin+2s"\nlight = "home"\n'
    (problem,) = _check(tmp_path, plan=PLAN + two + cue)
    assert problem.hint == 'Add a line such as: id = "home_3"'


def test_of_two_mistakes_in_one_line_each_hint_fixes_both(tmp_path: Path) -> None:
    text = PLAN.replace("strong = 1.0, weak = 1.0", 'strnog = 1.0, weak = "1.0"')
    problems = _check(tmp_path, plan=text)
    assert sorted(problem.code for problem in problems) == ["number_in_quotes", "unknown_key"]
    good = next(line for line in PLAN.splitlines() if "strong = 1.0, weak = 1.0" in line)
    assert {problem.hint for problem in problems} == {f"Write: {good}"}


def test_of_two_mistakes_in_one_line_of_which_one_may_mean_anything_none_has_a_fix(tmp_path: Path) -> None:
    problems = _check(tmp_path, plan=PLAN.replace("strong = 1.0, weak = 1.0", "strnog = 1.0, weak = 1.5"))
    assert sorted(problem.code for problem in problems) == ["out_of_range", "unknown_key"]
    assert [problem.fix for problem in problems] == [None, None]


def test_a_guess_that_does_not_fit_either_is_no_second_mistake(tmp_path: Path) -> None:
    text = PLAN.replace("strong = 1.0, weak = 1.0", "strong = 1.5, weak = 1.0")
    text = text.replace('lasts = "250ms"', 'lasts = "25000"')
    (first, second) = _check(tmp_path, plan=text)              # neither as seconds nor as milliseconds a step may last
    assert (first.code, second.code) == ("out_of_range", "clock")
    assert (first.fix, second.fix) == (None, None)


def test_every_code_of_the_compiler_has_a_sentence() -> None:
    assert set(CODES) <= set(MESSAGES)


def test_every_sentence_tells_what_is_expected_or_how_to_fix_it() -> None:
    for code, sentence in MESSAGES.items():
        assert sentence.wrong.endswith((".", "{text}.")), code
        assert sentence.expected or sentence.hint, code
        assert "".join(sentence).isascii(), code


def test_messages_are_the_same_each_time(tmp_path: Path) -> None:
    text = PLAN.replace("true", "True").replace('"4s"', "4").replace("three", "tree", 1)
    assert _check(tmp_path, plan=text) == _check(tmp_path, plan=text)


def test_a_problem_reads_as_json(tmp_path: Path) -> None:
    (problem,) = _check(tmp_path, plan=PLAN.replace('say = "Home"', "say = Home"))
    assert as_json(problem) == {
        "code": "syntax_unquoted",
        "file": str(tmp_path / "plan.toml"),
        "line": 15,
        "column": 7,
        "message": "The text Home has no quotes. Put texts in straight double quotes.",
        "hint": 'Write: say = "Home"',
        "fix": {"line": 15, "column": 1, "end": 11, "text": 'say = "Home"'},
    }


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_a_file_saved_as_utf_16_is_named_as_such_and_read_all_the_same(encoding: str, tmp_path: Path) -> None:
    _check(tmp_path)
    (tmp_path / "plan.toml").write_bytes(PLAN.replace("priority = 9", "priority = 99").encode(encoding))
    codes = [problem.code for problem in check([str(tmp_path / "plan.toml")])]
    assert codes == ["file_utf16", "out_of_range"]


@pytest.mark.parametrize("text", ["", "\n", "hello", "hello\nthere"])
def test_a_file_of_utf_16_without_a_key_is_told_that_alone(text: str, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_bytes(text.encode("utf-16"))
    assert [problem.code for problem in check([str(tmp_path / "plan.toml")])] == ["file_utf16"]


def test_a_file_that_cannot_be_read_is_not_called_empty(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text("hello\n", encoding="utf-8")
    assert [problem.code for problem in check([str(tmp_path / "plan.toml")])] == ["syntax_no_equals"]
    (tmp_path / "plan.toml").write_text("\n", encoding="utf-8")
    assert [problem.code for problem in check([str(tmp_path / "plan.toml")])] == ["file_empty"]


def test_a_byte_order_mark_and_windows_line_ends_are_no_mistakes(tmp_path: Path) -> None:
    _check(tmp_path)
    (tmp_path / "plan.toml").write_bytes(b"\xef\xbb\xbf" + PLAN.replace("\n", "\r\n").encode())
    assert check([str(tmp_path / "plan.toml")]) == ()


def test_a_byte_that_is_not_utf_8_is_marked(tmp_path: Path) -> None:
    _check(tmp_path)
    (tmp_path / "plan.toml").write_bytes(PLAN.replace('"Home"', '"Hafen zur\xfcck"').encode("cp1252"))
    (problem,) = check([str(tmp_path / "plan.toml")])
    assert (problem.code, problem.line, problem.source[problem.column - 1]) == ("file_not_utf8", 15, "ü")


def test_lines_are_narrow_and_long_sources_are_cut_around_the_caret(tmp_path: Path) -> None:
    long = "for = [" + '"driver", ' * 30 + '"drivr"]'
    (problem,) = _check(tmp_path, plan=PLAN.replace('for = ["driver", "operator"]', long))
    block = render(problem, 60).split("\n")
    place = next(number for number, line in enumerate(block) if set(line.strip()) == {"|", "^", " "})
    caret = block[place].index("^")
    assert block[place - 1][caret : caret + 7] == '"drivr"'
    assert all(len(line) <= 60 for line in block if "Write: " not in line and str(tmp_path) not in line)


@pytest.mark.parametrize("place", range(5))
def test_what_is_cut_of_a_long_line_is_told_by_an_ellipsis(place: int, tmp_path: Path) -> None:
    names = ['"driver"'] * 30
    names[place * 29 // 4] = '"drivr"'
    (problem,) = _check(tmp_path, plan=PLAN.replace('["driver", "operator"]', f"[{', '.join(names)}]"))[:1]
    block = render(problem, 60).split("\n")
    at = next(number for number, line in enumerate(block) if set(line.strip()) == {"|", "^", " "})
    shown = block[at - 1].split(" | ", 1)[1]
    assert (shown.startswith("…"), shown.endswith("…")) == (place > 0, place < 4)
    assert block[at - 1][block[at].index("^") :][: block[at].count("^")] == '"drivr"'
    assert len(block[at - 1]) <= 60
