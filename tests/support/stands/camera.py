"""Pictures of a virtual X server's screen, and what can be read in them: frames, fields and colours, not words."""

import os
import subprocess
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tests.support.channels.screen_stand import MISSING, Server

__all__ = ["MISSING", "Camera", "Picture", "Server"]

Rgb = tuple[int, int, int]
BLACK: Rgb = (0, 0, 0)


class Picture(NamedTuple):
    """What stood on the screen at some instant between two times."""

    name: str
    began_ns: int
    ended_ns: int
    pixels: np.ndarray

    def outline(self) -> tuple[int, int, int, int]:
        """Return left, top, right and bottom of all that is lit: a frame's outer edge where there is a frame."""
        lit = self.pixels.any(axis=2)
        columns, rows = np.flatnonzero(lit.any(axis=0)), np.flatnonzero(lit.any(axis=1))
        return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1

    def share(self, *colours: Rgb, box: tuple[int, int, int, int] | None = None) -> float:
        """Return the share of these colours in a box of (left, top, right, bottom), or in all of the picture."""
        left, top, right, bottom = box or (0, 0, *self.pixels.shape[1::-1])
        part = self.pixels[top:bottom, left:right]
        return float(np.logical_or.reduce([(part == colour).all(axis=2) for colour in colours]).mean())

    def corners(self) -> list[tuple[int, int, int, int]]:
        """Return four boxes near the corners that neither a standing frame nor a plate of words reaches."""
        height, width = self.pixels.shape[:2]
        across = [(int(0.04 * width), int(0.2 * width)), (int(0.8 * width), int(0.96 * width))]
        down = [(int(0.08 * height), int(0.16 * height)), (int(0.84 * height), int(0.92 * height))]
        return [(left, top, right, bottom) for left, right in across for top, bottom in down]

    def margins(self) -> list[tuple[int, int, int, int]]:
        """Return the four strips along the screen's edges, a hundredth of the height thick."""
        return self._along(0, 0, *self.pixels.shape[1::-1])

    def edges(self) -> list[tuple[int, int, int, int]]:
        """Return the four strips inside the outline, a hundredth of the height thick."""
        return self._along(*self.outline())

    def _along(self, left: int, top: int, right: int, bottom: int) -> list[tuple[int, int, int, int]]:
        thick = max(2, self.pixels.shape[0] // 100)
        return [
            (left, top, right, top + thick), (left, bottom - thick, right, bottom),
            (left, top, left + thick, bottom), (right - thick, top, right, bottom),
        ]  # fmt: skip

    def frame_share(self) -> float:
        """Return the share of the picture that the frame along the outline takes, whatever its colours."""
        left, top, right, bottom = self.outline()
        third = (right - left) // 3
        lit_rows = self.pixels[top:bottom, left + third : right - third].any(axis=(1, 2))
        thick = int(np.argmin(lit_rows))                 # the first row in which the frame's upper side has ended
        area = 2 * thick * (right - left + bottom - top) - 4 * thick * thick
        return area / (self.pixels.shape[0] * self.pixels.shape[1])


class Camera:
    """Takes pictures; keeps them in the folder that ``TOCSIN_SHOTS`` names, for a person to look at."""

    def __init__(self, server: Server, run: str) -> None:
        self._server = server
        self._run = run
        self.pictures: list[Picture] = []

    def take(self, name: str, at_ns: int) -> None:
        """Take a picture at a time, or now if that has passed."""
        time.sleep(max(0, at_ns - time.perf_counter_ns()) / 1e9)
        began_ns = time.perf_counter_ns()
        pixels = self._server.pixels()
        self.pictures.append(Picture(name, began_ns, time.perf_counter_ns(), pixels))

    def keep(self) -> None:
        """Write the pictures as PNG files if they are wanted."""
        if not (folder := os.environ.get("TOCSIN_SHOTS")):
            return
        Path(folder).mkdir(parents=True, exist_ok=True)
        width, height = self._server.size
        for number, picture in enumerate(self.pictures):
            file = str(Path(folder) / f"{self._run}-{number:02d}-{picture.name}.png")
            command = ["convert", "-size", f"{width}x{height}", "-depth", "8", "rgb:-", file]
            subprocess.run(command, input=picture.pixels.tobytes(), check=True, timeout=60)
