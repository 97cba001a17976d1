"""How much of all that could be tried the suite tries: little where people wait for it, all of it where CI asks for
more, by ``TOCSIN_EXAMPLES`` (``tests/conftest.py``).
"""

from collections.abc import Iterable
from itertools import product
from typing import Any

import pytest
from hypothesis import settings

_OF_SUITE = 25                             # what `TOCSIN_EXAMPLES` is if nobody sets it

#: Whether everything is to be tried.
WHOLE = settings.default.max_examples > _OF_SUITE


def crossed(**values: Iterable[Any]) -> pytest.MarkDecorator:
    """Parametrize by each value with each of the others; in the suite by each value at least once: where a list is
    the shorter one it is gone through again, each time with others beside its values."""
    lists = [list(one) for one in values.values()]
    in_turn = (
        tuple(one[(n + k * (n // len(one))) % len(one)] for k, one in enumerate(lists))
        for n in range(max(map(len, lists)))
    )  # fmt: skip
    rows = product(*lists) if WHOLE else in_turn
    return pytest.mark.parametrize(tuple(values), list(rows), ids=_name)


def _name(value: Any) -> str:
    """Return what a value is called in the name of a test; a size as people write it."""
    return str(value).strip("()").replace(", ", "x")
