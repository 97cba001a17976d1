"""Folders of runs that somebody built on purpose are taken in without harm. `foreign_runs.py` says what each takes."""

import contextlib
import io
import sys

import pytest

from tests.attacks import foreign_runs
from tests.attacks.large_files import Took
from tocsin.cli.main import main

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links, pipes and devices are made as POSIX has them")


# Those of 24 MB take seconds each.
@pytest.mark.parametrize("name", [name for name in foreign_runs.ATTACKS if not name.endswith(" read")])
def test_nothing_but_whole_runs_comes_in(name, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))

    def run(command, folder):
        monkeypatch.chdir(folder)
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            code = main(command.split())
        return Took(code, 0.0, 0.0, said.getvalue())

    found = foreign_runs.attacked(foreign_runs.ATTACKS[name], tmp_path, run)
    assert found.wrong == "", found.took.said
