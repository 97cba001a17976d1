"""Recovery from any damage: it comes to an end, names places that exist, and blames no sound file."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.support.config.good_files import GAME, PLAN, RIG
from tocsin.config.checks.rig import check_rig
from tocsin.config.file_cache import parse_document
from tocsin.config.reading import GAME as GAME_FORMAT
from tocsin.config.reading import PLAN as PLAN_FORMAT
from tocsin.config.reading import RIG as RIG_FORMAT
from tocsin.config.schema.rig import RigFile
from tocsin.config.toml.diagnostic import FileDiagnostic, render
from tocsin.config.toml.document import Document

FILES = [(GAME, GAME_FORMAT), (PLAN, PLAN_FORMAT), (RIG, RIG_FORMAT)]
DAMAGE = st.lists(
    st.tuples(st.integers(0, 10**4), st.integers(0, 6), st.text('[]{}="\'#\n ,.:;\\aT0é', max_size=3)),
    min_size=1,
    max_size=4,
)


def _damaged(text: str, damage: list[tuple[int, int, str]]) -> str:
    for at, gone, new in damage:
        at %= len(text) + 1
        text = text[:at] + new + text[at + gone :]
    return text


def _problems(text: str, number: int) -> tuple[FileDiagnostic, ...]:
    parsed = parse_document(Document("file.toml", text), FILES[number][1])
    if isinstance(parsed.table, RigFile):
        check_rig(parsed.document, parsed.table.build())
    elif parsed.table is not None:
        parsed.table.build()  # type: ignore[attr-defined]
    return parsed.document.sorted_problems()


@given(st.integers(0, 2), DAMAGE)
def test_any_damage_is_reported_at_places_that_exist(number: int, damage: list[tuple[int, int, str]]) -> None:
    text = _damaged(FILES[number][0], damage)
    lines = text.split("\n")
    problems = _problems(text, number)
    for problem in problems:
        assert 0 <= problem.line <= len(lines)
        assert problem.source == (lines[problem.line - 1] if problem.line else "")
        assert render(problem)
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assert problems


@given(st.integers(0, 2), st.text(max_size=60))
def test_any_text_comes_to_an_end(number: int, text: str) -> None:
    assert _problems(text.replace("\r", ""), number)


@pytest.mark.parametrize("number", range(3))
def test_an_equals_sign_that_is_missing_in_any_line_is_one_problem_in_that_line(number: int) -> None:
    lines = FILES[number][0].split("\n")
    for at, line in enumerate(lines):
        if " = " not in line:
            continue
        broken = "\n".join([*lines[:at], line.replace(" = ", " ", 1), *lines[at + 1 :]])
        (problem,) = _problems(broken, number)
        assert problem.line == at + 1
