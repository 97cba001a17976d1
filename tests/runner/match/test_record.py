"""What a record of a run must not do when the run begins."""

import json
import subprocess
import sys

import pytest

ASKS = """
import json, sys
from tocsin.runner.match.record import versions
starts, started = ("subprocess.Popen", "os.posix_spawn", "os.fork"), []
sys.addaudithook(lambda event, _: started.append(event) if event in starts else None)
print(json.dumps([versions(), started]))
"""


@pytest.mark.devices
def test_the_header_is_made_without_starting_a_process() -> None:
    """A run begins at an instant; a process of its own takes milliseconds to start, and longer on a busy disk."""
    done = subprocess.run([sys.executable, "-c", ASKS], capture_output=True, text=True, timeout=120, check=True)
    found, started = json.loads(done.stdout)
    assert started == []
    assert all(found[what] for what in ("tocsin", "python", "system"))
