"""Whole processes on real parts; POSIX only, since the stand needs pseudo-terminals."""

import sys

import pytest

if sys.platform == "win32":
    collect_ignore_glob = ["test_*.py"]


@pytest.fixture
def begin_walk(tmp_path):
    """Give what begins ``tocsin devices --try`` with arguments and environment; it is ended with the test."""
    from tests.support.people.walk import Walk

    walks = []

    def begin(*arguments, **keywords):
        walks.append(Walk(tmp_path, *arguments, **keywords))
        return walks[-1]

    yield begin
    for walk in walks:
        walk.end()


@pytest.fixture
def strip(tmp_path):
    from tests.support.stands.stand import Strip

    return Strip(tmp_path)
