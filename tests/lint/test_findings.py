"""Plans with exactly the findings that they must have, each in its place: both sides of each limit."""

from collections import Counter
from pathlib import Path

import pytest

from tests.support.lint.cases_drill import CASES as DRILL
from tests.support.lint.cases_hands import CASES as HANDS
from tests.support.lint.cases_light import CASES as LIGHT
from tests.support.lint.cases_rig import CASES as RIG
from tests.support.lint.cases_speech import CASES as SPEECH
from tests.support.lint.cases_time import CASES as TIME
from tests.support.lint.inspected import Case, got, look, wanted
from tocsin.lint.rules import KINDS

CASES = [*LIGHT, *HANDS, *TIME, *RIG, *SPEECH, *DRILL]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_plan_has_exactly_the_findings_that_it_must_have(case: Case, tmp_path: Path) -> None:
    assert got(look(case, tmp_path)) == wanted(case)


def test_every_code_has_a_plan_in_which_it_stands_and_levels_that_occur() -> None:
    levels: dict[str, set[str]] = {}
    for case in CASES:
        for code, level, _, _ in wanted(case):
            levels.setdefault(code, set()).add(level)
    of_runs = {"lead_below_runs", "lead_few_rounds"}               # no plan has them by itself
    assert levels == {code: set(kind.levels) for code, kind in KINDS.items() if code not in of_runs}


def test_cases_have_names_of_their_own() -> None:
    assert [name for name, count in Counter(case.name for case in CASES).items() if count > 1] == []
