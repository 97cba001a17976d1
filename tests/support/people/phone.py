"""A phone at a whole process: it knows the address and its token, and speaks HTTP as the board's page does."""

import json
import secrets
import subprocess
import time
from pathlib import Path
from typing import Any

import httpx
import psutil

from tests.support.stands.stand import wait_for
from tocsin.units import NS_PER_MS

WITHIN_S = 120.0


def kept(state: Path) -> dict[str, Any]:
    """Return what the program keeps of its boards; empty before it does."""
    path = state / "tocsin" / "boards.json"
    return json.loads(path.read_bytes()) if path.exists() else {}


def service_of(pid: int) -> psutil.Process | None:
    """Return the service of a running program, None while there is none."""
    for child in psutil.Process(pid).children():
        try:
            if "tocsin.service" in child.cmdline():
                return child
        except psutil.Error:
            continue
    return None


class Phone:
    """A board with a number of its own that steers, by the token of the state folder."""

    def __init__(self, state: Path, process: subprocess.Popen[str], right: str = "steer") -> None:
        self._state = state
        self._right = right
        self._board = secrets.token_hex(16)

        def reached() -> bool:
            assert process.poll() is None, f"it ended with {process.poll()}"
            return self.reached

        wait_for(reached, WITHIN_S)

    @property
    def _address(self) -> str:
        return f"http://127.0.0.1:{kept(self._state).get('port', 0)}"

    @property
    def _headers(self) -> dict[str, str]:
        token = kept(self._state).get("tokens", {}).get(self._right, "")
        return {"Authorization": f"Bearer {token}", "Tocsin-Board": self._board}

    @property
    def reached(self) -> bool:
        """Whether the service answers with a state."""
        try:
            return self.get("state").status_code == 200
        except httpx.HTTPError:
            return False

    def get(self, what: str, timeout_s: float = 10.0) -> httpx.Response:
        return httpx.get(f"{self._address}/api/1/{what}", headers=self._headers, timeout=timeout_s)

    def post(self, what: str, body: dict[str, Any], timeout_s: float = 10.0) -> httpx.Response:
        return httpx.post(f"{self._address}/api/1/{what}", json=body, headers=self._headers, timeout=timeout_s)

    @property
    def state(self) -> dict[str, Any]:
        """The state as it is now."""
        found: dict[str, Any] = self.get("state").json()
        return found

    @property
    def can(self) -> list[str]:
        """What may be wished now."""
        return [offer["action"] for offer in self.state["can"]]

    def await_offer(self, action: str) -> None:
        """Wait until an action may be wished."""
        wait_for(lambda: action in self.can, WITHIN_S)

    def wish(self, action: str, *, sure: bool = False) -> httpx.Response:
        """Wish for an action as soon as it is offered; return the answer."""
        self.await_offer(action)
        return self.post("wishes", {
            "id": secrets.token_hex(16), "run": self.state["run"], "action": action, "at_ns": time.perf_counter_ns(),
            "error_ns": NS_PER_MS, "sure": sure,
        })  # fmt: skip

    def mark(self, label: str, begin_ns: int, end_ns: int | None, run: int | None = None) -> httpx.Response:
        """Note a mark."""
        return self.post("marks", {
            "id": secrets.token_hex(16), "run": self.state["run"] if run is None else run, "label": label,
            "begin_ns": begin_ns, "end_ns": end_ns, "error_ns": NS_PER_MS,
        })  # fmt: skip
