"""The service as a process: what it serves, whom it answers, how it ends."""

import httpx
import pytest

from tests.support.service.service_stand import ONE, PAGE, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin import monotime

pytestmark = pytest.mark.devices


def test_it_serves_page_plan_state_and_clock(tmp_path):
    with service() as stand, SimulatedRun(stand, tmp_path) as run:
        page = httpx.get(stand.address)
        assert (page.status_code, page.text) == (200, PAGE)
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        state = stand.get("/api/1/state", board=ONE).json()
        assert (state["run"], state["view"]["title"], state["you"]) == (1, "Standby", {"number": 1, "right": "watch"})
        assert stand.get("/api/1/plan").json()["format"] == "tocsin-export/2"
        before_ns = monotime.now_ns()
        clock = stand.post("/api/1/clock", {}, "watch").json()
        assert before_ns < clock["received_ns"] < clock["sent_ns"] < monotime.now_ns()
        run.do("start")
        stand.wait_until(lambda: stand.get("/api/1/state").json()["status"]["phase"] == "waiting")
