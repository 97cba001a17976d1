"""Every printed fix, typed as it is printed, restores what was meant; where more may be meant, none is printed."""

import re
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.config.honest_mistakes import SLIPS, UNSURE, Slip
from tests.support.config.typist import SCENARIOS, Typed, Typist, tokens
from tocsin.config.toml.diagnostic import FileDiagnostic, as_json

FILES = sorted({(slip.scenario, slip.kind) for slip in SLIPS})


@pytest.fixture(scope="module")
def typist(tmp_path_factory: pytest.TempPathFactory) -> Typist:
    return Typist(tmp_path_factory.mktemp("typed"))


def _bad(scenario: str, kind: str, meant: str, written: str) -> str:
    good = SCENARIOS[scenario][kind].text
    assert meant in good
    return good.replace(meant, written, 1)


def _told(typed: Typed) -> str:
    return " | ".join(f"{problem.code}: {problem.hint}" for problem in typed.told)


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{slip.kind}-{slip.written[:40]}" for slip in SLIPS])
def test_a_printed_fix_restores_the_file_that_was_meant(slip: Slip, typist: Typist) -> None:
    typed = typist.type_fixes(slip.scenario, slip.kind, _bad(*slip))
    assert typed.told
    assert typed.is_fixed == (slip.written not in UNSURE[slip.kind]), _told(typed)
    if typed.is_fixed:
        assert typed.left == (), _told(typed)
        assert typed.played == typist.good(slip.scenario, slip.kind), _told(typed)


def test_the_mistakes_are_many_and_each_is_another_one() -> None:
    assert len(SLIPS) >= 150
    assert [slip for slip, count in Counter(SLIPS).items() if count > 1] == []


_LETTERS = "abcdeghilmnoprstuvwxyz_0123"
_KINDS = ["put in", "leave out", "exchange", "swap"]
EDIT = st.tuples(st.sampled_from(_KINDS), st.integers(0, 30), st.integers(0, 60))
# A capital alone: beside another slip in a name of the writer's own, nobody can see that the other one is a slip.
SHIFT = st.tuples(st.just("shift key"), st.integers(0, 30), st.just(0))
EDITS = st.one_of(st.lists(EDIT, min_size=1, max_size=2), st.lists(SHIFT, min_size=1, max_size=1))


def _edited(word: str, edits: list[tuple[str, int, int]]) -> str:
    letters = "0123456789.,-" if word[0].isdigit() else _LETTERS
    for what, place, letter in edits:
        at = place % (len(word) + 1)
        new = letters[letter % len(letters)]
        match what:
            case "put in":
                word = word[:at] + new + word[at:]
            case "leave out":
                word = word[:at] + word[at + 1 :]
            case "exchange":
                word = word[:at] + new + word[at + 1 :] if at < len(word) else word
            case "swap":
                word = word[:at] + word[at : at + 2][::-1] + word[at + 2 :]
            case _:
                word = word[:at] + word[at : at + 1].upper() + word[at + 1 :]
    return word


@settings(max_examples=2 * settings.default.max_examples)
@given(st.sampled_from(FILES), st.integers(0, 10_000), EDITS)
def test_of_any_single_slip_the_printed_fix_restores_what_was_meant(
    typist: Typist, file: tuple[str, str], place: int, edits: list[tuple[str, int, int]]
) -> None:
    text = SCENARIOS[file[0]][file[1]].text
    places = tokens(text)
    begin, end = places[place % len(places)]
    written = _edited(text[begin:end], edits)
    typed = typist.type_fixes(*file, text[:begin] + written + text[end:])
    if typed.is_fixed:
        meant = text[:begin] + _number_written(written, text[begin:end]) + text[end:]
        assert typed.left == (), _told(typed)
        assert typed.played == typist.type_fixes(*file, meant).played, _told(typed)


def _number_written(written: str, meant: str) -> str:
    """Return the number that is written, in TOML's way: that one is meant now. A word is what it was."""
    found = re.fullmatch(r"([0-9]*)[.,]?([0-9]*)", written)
    if not meant[0].isdigit() or found is None or not (found[1] or found[2]):
        return meant
    return f"{found[1] or '0'}.{found[2]}" if found[2] else found[1]


# Fixes that were printed, and silently changed the plan; and what is said instead.
@pytest.mark.parametrize(
    ("scenario", "kind", "meant", "written", "hint"),
    [
        ("bells", "plan", 'for = ["driver", "operator"]', 'for = "driver, operator"',
         'Write: for = ["driver", "operator"]'),
        ("bells", "plan", 'for = ["driver", "operator"]', 'for = ["driver 1", "driver 2"]', ""),
        ("bells", "plan", 'for = ["driver", "operator"]', 'for = ["driver", "driver"]', "Delete one of the two"),
        ("bells", "rig", 'role = "driver"', 'role = "driver2"', ""),
        ("bells", "plan", 'at = "no_contact.begin-break_off"', 'at = "no_contact-15s"',
         'One of these: "no_contact.begin-15s", "no_contact.end-15s"'),
        ("bells", "plan", 'at = "no_contact.begin-break_off"', 'at = "no_contact.begin-break_off-2s"', ""),
        ("doors", "plan", 'until = "door.end"', 'until = "door.1.end"', "Add what is missing"),
        ("doors", "plan", 'at = ["door.2.begin", "door.3.begin"]', 'at = ["door.2.begin", "door.4.begin"]',
         'One of these: "door.1.begin", "door.2.begin", "door.3.begin"'),
        ("bells", "rig", "latency_ms = 80", 'latency = "80ms"', "Write: latency_ms = 80"),
        ("bells", "rig", "latency_ms = 80", "latency = 0.08", ""),
    ],
)  # fmt: skip
def test_what_may_mean_more_than_one_thing_gets_no_fix(
    scenario: str, kind: str, meant: str, written: str, hint: str, typist: Typist
) -> None:
    told = typist.type_fixes(scenario, kind, _bad(scenario, kind, meant, written)).told
    assert {problem.hint for problem in told if not problem.hint.startswith(hint)} == set()
    assert all(hint or not problem.hint for problem in told)
    if not hint.startswith("Write"):
        assert [problem.fix for problem in told] == [None] * len(told)


def test_a_name_that_is_misspelt_where_it_is_given_is_told_once(typist: Typist) -> None:
    bad = _bad("bells", "game", 'id = "no_contact"', 'id = "no_contac"')
    (problem,) = typist.type_fixes("bells", "game", bad).told
    assert (problem.code, problem.hint) == ("given_otherwise", 'Write: id = "no_contact"')


def test_a_heading_that_is_missing_is_told_once(typist: Typist) -> None:
    bad = _bad("bells", "plan", '[[cue]]\nid = "home"', 'id = "home"')
    (problem,) = typist.type_fixes("bells", "plan", bad).told
    assert problem.code == "syntax_key_twice"
    assert "[[cue]] is missing" in problem.hint


def test_a_fix_reads_as_json_with_its_place(typist: Typist) -> None:
    bad = _bad("bells", "rig", "latency_ms = 80", 'latency_ms = "80ms"')
    (problem,) = typist.type_fixes("bells", "rig", bad).told
    assert isinstance(problem, FileDiagnostic)
    line = bad.split("\n")[problem.line - 1]
    assert as_json(problem)["fix"] == {
        "line": problem.line, "column": 1, "end": len(line) + 1, "text": line.replace('"80ms"', "80"),
    }  # fmt: skip

