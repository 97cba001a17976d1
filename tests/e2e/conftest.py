"""Whole processes on real parts; POSIX only, since the stand needs pseudo-terminals."""

import sys

import pytest

if sys.platform == "win32":
    collect_ignore_glob = ["test_*.py"]


@pytest.fixture
def strip(tmp_path):
    from stand import Strip

    return Strip(tmp_path)
