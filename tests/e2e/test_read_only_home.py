"""A home that is read-only: ``--runs DIR`` is all that must be writable, and what stands elsewhere is said."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.support.stands.stand import TOCSIN

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="root gives a home to another user"),
    pytest.mark.skipif(shutil.which("setpriv") is None, reason="needs setpriv"),
]
NO_POWER = ("setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-dac_override,-dac_read_search")


@pytest.fixture
def tocsin(tmp_path: Path):
    """Give what runs a command by a user who may not write into the home, only into the folder of runs."""
    home = tmp_path / "home"
    (tmp_path / "tmp").mkdir()
    home.mkdir(mode=0o755)
    os.chown(home, 65534, 65534)
    base = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")}
    env = {**base, "HOME": str(home), "SDL_AUDIODRIVER": "dummy", "TMPDIR": str(tmp_path / "tmp")}

    def run(command: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*NO_POWER, *TOCSIN, command, "--runs", str(tmp_path / "runs"), *arguments],
            env=env, capture_output=True, text=True, timeout=100, check=False, stdin=subprocess.DEVNULL,
        )  # fmt: skip

    yield run
    assert list(home.iterdir()) == []


def test_a_match_is_run_recorded_listed_and_forgotten(tocsin, tmp_path):
    done = tocsin("run", "--start", "now", "--rate", "100", "--screen", "none", "--who", "driver=Ann", "--label", "Ann")
    assert done.returncode == 0, done.stderr
    told = done.stdout + done.stderr
    assert "the lock cannot be written: permission denied; it is in" in told
    assert "Traceback" not in told
    assert "Warning" not in told
    assert len(list((tmp_path / "runs").glob("2*"))) == 1
    assert (tmp_path / "runs" / "people.json").is_file()
    listed = tocsin("runs")
    assert "driver Ann" in listed.stdout
    assert (listed.returncode, listed.stderr) == (0, "")
    gone = tocsin("runs", "--forget", "Ann", "--yes")
    assert (gone.returncode, gone.stderr) == (0, "")
    assert "is in 0 places now" in gone.stdout
