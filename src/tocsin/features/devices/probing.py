"""Run the probes, each in a process of its own with a time limit, so that no driver holds up the command."""

import contextlib
import subprocess
from collections.abc import Iterable
from typing import Any

import msgspec

from tocsin import monotime
from tocsin.channels.installed import named_devices
from tocsin.features.devices.probed import (
    KINDS,
    Displays,
    Kind,
    Loudspeaker,
    Packages,
    Pads,
    Ports,
    ProbeResults,
    Usb,
)
from tocsin.model.rig import Rig
from tocsin.readable import utf8_json
from tocsin.spawn import Process, start_module
from tocsin.translation import tr
from tocsin.units import NS_PER_S

LIMIT_S = 15.0
_GRACE_S = 1.0
_TOLD: dict[Kind, type[Any]] = {
    "pads": Pads, "displays": Displays, "sound": Loudspeaker, "ports": Ports, "packages": Packages,
    "usb": Usb,
}


def ask_probes(rig: Rig, limit_s: float = LIMIT_S, kinds: Iterable[Kind] = KINDS) -> ProbeResults:
    """Return the probes' results for a rig; those of ``kinds`` run at once, and that of packages if the rig names a
    device of one. A probe that does not answer has a ``why``."""
    kinds = dict.fromkeys([*kinds, "packages"] if named_devices(rig) else kinds)
    until_ns = monotime.now_ns() + round(limit_s * NS_PER_S)
    running = {kind: _start(kind, rig) for kind in kinds}
    try:
        told = {kind: _answer(kind, probe, until_ns, limit_s) for kind, probe in running.items()}
    finally:
        for probe in running.values():
            _end(probe)
    return ProbeResults(**told)


def _start(kind: Kind, rig: Rig) -> Process:
    return start_module("tocsin.probe", kind, utf8_json(rig).decode(), stdin=subprocess.DEVNULL)


def _answer(kind: Kind, probe: Process, until_ns: int, limit_s: float) -> Any:
    left_s = max(0.0, (until_ns - monotime.now_ns()) / NS_PER_S)
    try:
        out, err = probe.communicate(timeout=left_s)
    except subprocess.TimeoutExpired:
        why = tr("no answer within {limit:g} s: it is stuck; unplug the device and plug it in again", limit=limit_s)
        return _TOLD[kind](why=why)
    try:
        return msgspec.json.decode(out.strip().rpartition(b"\n")[2], type=_TOLD[kind])
    except msgspec.DecodeError:
        last = err.decode("utf-8", "replace").strip().rpartition("\n")[2]
        why = last or tr("exit code {code}", code=probe.returncode)
        return _TOLD[kind](why=tr("looking for it failed: {why}", why=why))


def _end(probe: Process) -> None:
    """End a probe and let go of it; one that even a kill does not end is left to the system."""
    if probe.poll() is None:
        probe.kill()
    with contextlib.suppress(subprocess.TimeoutExpired, ValueError):
        probe.communicate(timeout=_GRACE_S)
