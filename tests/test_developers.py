"""DEVELOPERS.md tells of the source as it is: its picture is made from it, and each file that it names is there."""

import ast
import builtins
import re

import pytest

from tests.support import PROJECT
from tests.support.house import PAGE, SOURCE, written

OWN_NAME = "test_developers.py"
TEXT = PAGE.read_text("utf-8")
# Where a bare name may stand: the scripts are told of by theirs.
FOLDERS = (PROJECT, SOURCE, PROJECT / "tests" / "attacks", PROJECT / "tests" / "benchmarks")
OF_USERS = ("file.py", "tocsin.toml")               # in no folder of ours
NAMED = sorted({name for name in re.findall(r"`([\w/.-]+\.(?:py|js|json|toml|md|txt))`", TEXT) if name not in OF_USERS})


def test_the_picture_is_that_of_the_source_today():
    assert written(TEXT) == TEXT, "run: python -m tests.support.house"


def test_it_names_enough_to_find_the_way():
    assert len(NAMED) > 50


@pytest.mark.parametrize("name", NAMED)
def test_each_file_that_it_names_is_there(name):
    assert any((folder / name).exists() for folder in FOLDERS)


def test_nothing_cites_a_page_that_is_not_here():
    """Who reads a comment must be able to look up what it names."""
    elsewhere = re.compile(r"\b(facts|design|house|checks|review|service|controller|style)\.md|[Dd]esign,? section")
    files = [path for top in ("src", "tests", "configs", "hardware_notes") for path in (PROJECT / top).rglob("*.*")]
    texts = [path for path in files if path.suffix in (".py", ".js", ".in", ".toml", ".md") and path.name != OWN_NAME]
    assert [str(path) for path in texts if elsewhere.search(path.read_text("utf-8"))] == []


def test_each_class_that_a_docstring_names_is_there():
    """A rename that leaves its old name in "Raises" sends the reader after nothing."""
    known, told = set(dir(builtins)), {}
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.Module):
                told[path, getattr(node, "name", "")] = ast.get_docstring(node) or ""
            known |= {getattr(node, name) for name in ("name", "id", "attr") if isinstance(getattr(node, name, 0), str)}
    named = {name for text in told.values() for name in re.findall(r"\b[A-Z][a-z]+(?:[A-Z][a-z]+)+\b", text)}
    assert named - known - {"DasGupta", "McAuliffe", "PowerShell", "PulseAudio"} == set()
