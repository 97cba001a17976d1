"""The two example programs of `hardware_notes/clients`, as who builds their own would run them."""

import subprocess
import sys
from contextlib import contextmanager

import pytest

from tests.support import PROJECT
from tests.support.export.page_stand import browser
from tests.support.service.service_stand import WITHIN_S, ServiceStand, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin import monotime
from tocsin.journal.records import FiringRecord
from tocsin.service.messages import Connected

pytestmark = pytest.mark.devices
CLIENTS = PROJECT / "hardware_notes" / "clients"
MOST_LINES = 40


def played(cue):
    now_ns = monotime.now_ns()
    return FiringRecord(
        at_ns=now_ns, cue=cue, n=0, channel="light", anchor="match", due_ns=now_ns, late_ns=1_500_000, outcome="played",
    )


@contextmanager
def cue_log(stand, token):
    process = subprocess.Popen(
        [sys.executable, CLIENTS / "cue_log.py", f"{stand.address}#t={token}"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def test_each_has_forty_lines_at_most():
    script = (CLIENTS / "overlay.html").read_text("utf-8").split("<script>")[1].split("</script>")[0]
    assert len(script.strip().splitlines()) <= MOST_LINES
    assert len((CLIENTS / "cue_log.py").read_text("utf-8").splitlines()) <= MOST_LINES


def test_the_log_prints_each_cue_and_leaves_when_its_token_is_none(tmp_path):
    with service() as stand, SimulatedRun(stand, tmp_path) as run:
        with cue_log(stand, stand.tokens.watch) as process:
            stand.wait_for(Connected, lambda told: told.programs == 1)
            stand.records(run.run, played("home"), played("break_off"))
            assert process.stdout.readline() == "home on light, 1.5 ms late\n"
            assert process.stdout.readline() == "break_off on light, 1.5 ms late\n"
        with cue_log(stand, "x" * 22) as process:
            assert process.wait(WITHIN_S) == 1
            assert "ask the laptop for a new one" in process.stderr.read()


def test_the_overlay_shows_the_view_and_says_when_it_hears_nothing(tmp_path):
    stand = ServiceStand()
    with SimulatedRun(stand, tmp_path, rate=4.0) as run, browser() as running:
        page = running.new_page()
        faults = []
        page.on("pageerror", lambda fault: faults.append(fault))
        page.goto(f"{(CLIENTS / 'overlay.html').as_uri()}#{stand.address}#t={stand.tokens.watch}")
        await_text(page, "title", "Standby")
        run.do("start")
        await_text(page, "digits", "0:2")
        stand.kill()                       # as its laptop that falls asleep: no word comes any more
        await_text(page, "title", "not heard")
        assert page.text_content("#digits") == ""
        assert faults == []
    stand.end()


def await_text(page, place, begin):
    page.wait_for_function(
        "([place, begin]) => document.getElementById(place).textContent.startsWith(begin)", arg=[place, begin],
        timeout=WITHIN_S * 1000,
    )
