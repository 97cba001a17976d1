"""A signal to a few kinds of process: an exit code that says so, and nothing left. `signals.py` sends hundreds."""

import random
import signal
import sys

import pytest

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]


@pytest.mark.parametrize(
    ("kind", "rate", "number", "codes"),
    [
        ("run window", "10", signal.SIGTERM, (143, -signal.SIGTERM)),
        ("preview --play", "", signal.SIGHUP, (143, -signal.SIGTERM)),
        ("devices --try", "", signal.SIGINT, (130,)),
    ],
    ids=str,
)
def test_nothing_is_left(kind, rate, number, codes):
    from tests.attacks.signals import struck  # pseudo-terminals are POSIX only

    left = struck(kind, rate, number, random.Random(2))
    assert left.code in (*codes, 0), "0: it was over before"
    assert left[1:] == (False, 0, 0, False)
