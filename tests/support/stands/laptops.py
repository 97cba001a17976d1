"""A keeper and its follower as two real programs, the follower's clock another one, a slow line between them."""

import http.client
import json
import socket
import tempfile
from pathlib import Path
from typing import Any

import msgspec

from tests.support.preload import skew
from tests.support.stands.slow_line import SlowLine
from tests.support.stands.stand import Run, Strip, rig_file, wait_for
from tocsin import monotime
from tocsin.model.clock.exchange import drift_ns
from tocsin.runner.boards.tokens import NAME, Kept
from tocsin.service.messages import Tokens
from tocsin.units import NS_PER_MS, NS_PER_S


class Cue:
    """A cue on both laptops: how much later than the keeper's the follower's match has it, and how much later it was
    given; ``stated_ns`` is the follower's bound for the first."""

    def __init__(self, name, meant_ns, given_ns, stated_ns):
        self.name = name
        self.meant_apart_ns = meant_ns[1] - meant_ns[0]
        self.given_apart_ns = given_ns[1] - given_ns[0]
        self.stated_ns = stated_ns

    def __repr__(self) -> str:
        apart_ms, stated_ms = self.meant_apart_ns / NS_PER_MS, self.stated_ns / NS_PER_MS
        return f"{self.name[0]} {self.name[1]}: {apart_ms:.2f} ms apart, stated ± {stated_ms:.2f}"


class Laptops:
    """``keeper`` runs with ``--board`` on loopback, ``follower`` follows it over ``line``."""

    def __init__(self, folder: Path, *arguments: str, ahead_ns: int = 1_000_000 * NS_PER_S, ppm: float = 0.0) -> None:
        """Start the keeper with these arguments. The follower's clock is ahead by so much, and faster by ``ppm``."""
        self.here, self.there = folder / "keeper", folder / "follower"
        for place in (self.here, self.there):
            place.mkdir()
        # Not in the test's folder: a rig takes a port's name up to 80 characters.
        self._ports = tempfile.TemporaryDirectory()
        here, there = Path(self._ports.name) / "here", Path(self._ports.name) / "there"
        for place in (here, there):
            place.mkdir()
        self._strip, self._port = Strip(here), _free_port()
        tokens = Tokens(watch="w" * 22, mark="m" * 22, steer="s" * 22)
        self.token, self.watch = tokens.steer, tokens.watch
        kept = self.here / "state" / "tocsin" / NAME
        kept.parent.mkdir(parents=True)
        kept.write_bytes(msgspec.json.encode(Kept(made=monotime.wall_text(), tokens=tokens, port=self._port)))
        rig = rig_file(self.here, self._strip)
        self.keeper = Run(self.here, "--only", "light", "--board", *arguments, rig=rig, terminal=True)
        self.env = skew.build(self.there)
        self.clock = skew.Skew(self.env)
        self.clock.other_machine(ahead_ns, ppm)
        wait_for(self.listens, 60)
        self.line = SlowLine(self._port)
        self.strip = Strip(there)
        self.follower: Run | None = None

    def listens(self) -> bool:
        """Return whether the keeper's service listens. Raises AssertionError if the keeper has ended."""
        assert self.keeper.process.poll() is None, self.keeper.process.communicate()
        with socket.socket() as peer:
            return peer.connect_ex(("127.0.0.1", self._port)) == 0

    def follow(self, *arguments: str) -> Run:
        """Start the follower."""
        address = f"http://127.0.0.1:{self.line.port}/#t={self.token}"
        rig = rig_file(self.there, self.strip)
        self.follower = Run(
            self.there, "--only", "light", *arguments, address, rig=rig, env=self.env, terminal=True, command="follow"
        )
        return self.follower

    def await_follower(self) -> None:
        """Wait until the follower stands by: it listens to the keeper, and has its devices."""
        self.follower.worker("light")
        wait_for(lambda: self.state()["programs"])

    def state(self) -> dict[str, Any]:
        """Return what the keeper's service shows, asked past the line."""
        connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=10)
        try:
            connection.request("GET", "/api/1/state", headers={"Authorization": f"Bearer {self.token}"})
            return json.loads(connection.getresponse().read())
        finally:
            connection.close()

    def offsets(self) -> list[tuple[int, int]]:
        """Return the error of each offset by which the follower told an origin, and its stated bound."""
        found = []
        for record in self.follower.records():
            if record["kind"] == "origin":
                true_ns = self.clock.real_ns(record["at_ns"]) - record["at_ns"]
                found.append((record["follows"]["offset_ns"] - true_ns, record["follows"]["error_ns"]))
        return found

    def resume(self) -> None:
        """Let the killed keeper go on."""
        self.keeper = Run(self.here, "--resume", "--board", terminal=True)

    def end(self) -> None:
        """End both and the line."""
        for run in filter(None, (self.follower, self.keeper)):
            if run.process.poll() is None:
                run.process.terminate()
        for run in filter(None, (self.follower, self.keeper)):
            if not run.process.stdout.closed:
                run.process.communicate(timeout=30)
        self.line.close()
        self._ports.cleanup()

    def cues(self, channel: str = "light") -> list[Cue]:
        """Return the cues that both gave, by their journals."""
        here, there = _given(self.keeper.records(), channel), _given(self.follower.records(), channel)
        found = []
        for key in here.keys() & there.keys():
            own, other = here[key], there[key]
            meant_ns = own["meant_ns"], self.clock.real_ns(other["meant_ns"])
            given_ns = own["given_ns"], self.clock.real_ns(other["given_ns"])
            follows, since_ns = other["origin"]["follows"], other["given_ns"] - other["origin"]["at_ns"]
            found.append(Cue(key, meant_ns, given_ns, follows["error_ns"] + drift_ns(since_ns)))
        return found


def _free_port() -> int:
    with socket.socket() as own:
        own.bind(("127.0.0.1", 0))
        port: int = own.getsockname()[1]
    return port


def _given(records, channel):
    """Return each played firing with the newest origin that was known before it was reported. A cue that a hold caught
    on its way was given before it on one laptop and behind it on the other: it is not the same one."""
    found, origins, resumed = {}, {}, 0
    for record in records:
        if record["kind"] == "origin":
            origins[record["anchor"], record["instance"]] = record
            resumed += record["cause"] == "resume"
        if record["kind"] == "firing" and record["channel"] == channel and record["outcome"] == "played":
            origin = origins[record["anchor"], record["instance"]]
            meant_ns = origin["origin_ns"] - origin["early_ms"] * 1_000_000 + round(record["due_ns"] / origin["rate"])
            key = record["cue"], record["n"], record["role"], record["instance"], resumed
            found[key] = {"origin": origin, "meant_ns": meant_ns, "given_ns": meant_ns + record["late_ns"]}
    return found
