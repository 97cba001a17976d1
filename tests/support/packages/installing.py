"""Install a device package into a folder as pip does (a wheel's layout, PyPA "Recording installed projects"), and be
what its devices talk to.
"""

import base64
import contextlib
import hashlib
import json
import os
import re
import socket
import threading
import time
from collections.abc import Mapping
from pathlib import Path

from tests.support import PROJECT

NOTE = PROJECT / "hardware_notes" / "packages.md"
ROPE = {"rope": "rope_light:Rope", "belt": "rope_light:Belt"}
NAUGHTY = Path(__file__).with_name("naughty.py")


def example() -> str:
    """Return the example package's only module, as the notes print it."""
    return re.findall(r"```python\n(.*?)```", NOTE.read_text("utf-8"), re.S)[0]


def install(
    folder: Path, name: str, version: str, module: str, source: str, devices: Mapping[str, str]
) -> dict[str, str]:
    """Install a package of one module; return the variables of the environment with which Python finds it."""
    site = folder / "site"
    info = site / f"{name.replace('-', '_')}-{version}.dist-info"
    info.mkdir(parents=True)
    lines = "".join(f"{device} = {place}\n" for device, place in devices.items())
    files = {
        site / f"{module}.py": source,
        info / "METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        info / "entry_points.txt": f"[tocsin.devices]\n{lines}",
        info / "INSTALLER": "pip\n",
    }
    record = ""
    for path, text in files.items():
        path.write_text(text, "utf-8")
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=").decode()
        record += f"{path.relative_to(site)},sha256={digest},{len(text.encode())}\n"
    (info / "RECORD").write_text(f"{record}{info.name}/RECORD,,\n", "utf-8")
    old = os.environ.get("PYTHONPATH")
    return {"PYTHONPATH": os.pathsep.join([str(site), *([old] if old else [])])}


def install_example(folder: Path) -> dict[str, str]:
    """Install the example of the notes."""
    return install(folder, "rope-light", "1.0", "rope_light", example(), ROPE)


def install_naughty(folder: Path) -> dict[str, str]:
    """Install the package that misbehaves as the file ``naughty`` says: see ``naughty.py``."""
    source = NAUGHTY.read_text("utf-8")
    return install(folder, "naughty", "0.1", "naughty", source, {"rope": "naughty:Rope", "belt": "naughty:Belt"})


class Board:
    """A board at the other end of a device's datagrams, on the loopback. ``got`` has (time in ns, data)."""

    def __init__(self) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self.got: list[tuple[int, bytes]] = []
        threading.Thread(target=self._read, daemon=True).start()

    @property
    def address(self) -> str:
        """Where it listens, as a device's variable has it."""
        return f"127.0.0.1:{self._socket.getsockname()[1]}"

    @property
    def frames(self) -> list[tuple[int, list[tuple[int, ...]]]]:
        """What came as frames: (time in ns, the colours)."""
        return [(at_ns, [tuple(data[k : k + 3]) for k in range(0, len(data), 3)]) for at_ns, data in self.got if data]

    @property
    def shakes(self) -> list[tuple[int, float, float, int]]:
        """What came as shakes: (time in ns, strong, weak, milliseconds)."""
        said = [(at_ns, json.loads(data)) for at_ns, data in self.got if data]
        return [(at_ns, one["strong"], one["weak"], one["ms"]) for at_ns, one in said]

    @property
    def black(self) -> bool:
        """Whether the last frame is black."""
        return bool(self.frames) and not any(map(any, self.frames[-1][1]))

    def close(self) -> None:
        """Be switched off."""
        with contextlib.suppress(OSError):             # it wakes who reads; a datagram's socket is never connected
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()

    def _read(self) -> None:
        while True:
            try:
                data = self._socket.recv(65_536)
            except OSError:
                return
            self.got.append((time.perf_counter_ns(), data))


def most_flashes(frames: list[tuple[int, list[tuple[int, ...]]]]) -> int:
    """Return the most flashes that any second holds, of white on black, counted from the frames alone: every change
    between a bright and a dark first light is half of one."""
    bright = [(at_ns, max(colours[0]) >= 128) for at_ns, colours in frames]
    changes = [at_ns for (_, before), (at_ns, now) in zip([(0, False), *bright], bright, strict=False) if now != before]
    return max((sum(begin <= at < begin + 1_000_000_000 for at in changes) // 2 for begin in changes), default=0)
