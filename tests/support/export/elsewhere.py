"""Another process, of a user who has settings of their own for the library that draws."""

import os
import subprocess
import sys
from pathlib import Path

import tocsin
from tests.support import PROJECT

OWN_SETTINGS = """
font.family: monospace
font.size: 30
text.color: red
text.parse_math: True
text.hinting: force_autohint
svg.fonttype: none
pdf.fonttype: 3
pdf.compression: 0
axes.linewidth: 5
patch.linewidth: 5
patch.edgecolor: green
patch.force_edgecolor: True
hatch.linewidth: 4
hatch.color: red
lines.linewidth: 9
lines.scale_dashes: True
path.sketch: 1, 100, 2
path.simplify: True
savefig.facecolor: yellow
savefig.bbox: tight
savefig.dpi: 30
savefig.transparent: True
figure.autolayout: True
"""


def printed_elsewhere(folder, script):
    """Return what a script prints there; ``folder`` is that user's, where their settings lie."""
    own = folder / "matplotlibrc"
    own.write_text(OWN_SETTINGS, encoding="utf-8")
    paths = os.pathsep.join([str(PROJECT), str(Path(tocsin.__file__).parents[1])])
    settings = {"PYTHONPATH": paths, "PYTHONHASHSEED": "7", "MATPLOTLIBRC": str(own), "TZ": "Asia/Tokyo"}
    done = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | settings,
        capture_output=True, text=True, timeout=280, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()
