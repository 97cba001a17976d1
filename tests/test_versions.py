"""The list of tested versions is whole and lies within the bounds of ``pyproject.toml``; so CI tests what it says."""

import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

TESTS = Path(__file__).parent
PROJECT = tomllib.loads((TESTS.parent / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
BOUNDS = [Requirement(text) for text in [*PROJECT["dependencies"], *EXTRAS["test"], *EXTRAS["dev"]]]
OUTSIDE = [bound for bound in BOUNDS if bound.name != "tocsin"]
LINES = [line for line in (TESTS / "tested_versions.txt").read_text("utf-8").splitlines() if not line.startswith("#")]
TESTED = {canonicalize_name(name): Version(version) for name, version in (line.split("==") for line in LINES)}


def test_each_line_is_one_exact_version():
    assert all(line.count("==") == 1 and line == line.strip() and "/" not in line for line in LINES)
    assert len(TESTED) == len(LINES)
    assert list(TESTED) == sorted(TESTED)


@pytest.mark.parametrize("bound", OUTSIDE, ids=str)
def test_what_was_tested_lies_within_the_bounds(bound):
    assert TESTED[canonicalize_name(bound.name)] in bound.specifier


@pytest.mark.parametrize("bound", OUTSIDE, ids=str)
def test_each_dependency_says_what_it_needs_at_least(bound):
    """Typing stubs follow their library, whose bound counts."""
    assert bound.name.startswith("types-") or any(one.operator == ">=" for one in bound.specifier)


def test_all_that_comes_along_is_listed():
    """Whatever is not would be another version tomorrow. Of the extras only what is wanted of each package counts."""
    todo = [("tocsin", frozenset({"test", "dev"}))]
    done, unlisted = set(), set()
    while todo:
        name, extras = todo.pop()
        if (name, extras) in done:
            continue
        done.add((name, extras))
        if name != "tocsin" and name not in TESTED:
            unlisted.add(name)
        for needed in needs(name, extras):
            todo.append((canonicalize_name(needed.name), frozenset(needed.extras)))
    assert not unlisted


def test_ci_runs_the_very_command_of_the_readme():
    readme = (TESTS.parent / "README.md").read_text("utf-8")
    (command,) = [line.strip() for line in readme.splitlines() if line.strip().endswith("bin/pytest")]
    assert command in (TESTS.parent / ".ci" / "run").read_text("utf-8").splitlines()


def needs(name, extras):
    """Return what a package needs here; nothing for one that is not installed, as those of CI's checks may be."""
    try:
        found = [Requirement(text) for text in requires(name) or []]
    except PackageNotFoundError:
        return []
    return [
        one for one in found
        if one.marker is None or any(one.marker.evaluate({"extra": extra}) for extra in (*extras, ""))
    ]  # fmt: skip
