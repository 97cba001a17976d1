"""A team's folder with a project file of its own, for tests."""

from pathlib import Path

from tocsin.config import bundle

TEXT = """\
format = "tocsin-project/1"
name = "Bell crew"
plan = ["plans/first.toml", "quiet"]
rig = "practice_bench"
drills = ["break_off", "drills/turn.toml"]
patterns = ["patterns/ours.toml"]
runs = "runs"
language = "de"
second = [0.5, 0.8]
[event]
plan = "plans/calm.toml"
dates = [2031-03-15, 2031-03-14]
[question]
asks = "coach"
since = 2031-03-01
[crew.A]
driver = "3f2a91bc"
operator = "00000001"
"""
_PLAN = """\
format = "tocsin-plan/1"
name = "{name}"
game = "casting_day"
[lead]
break_off = "4s"
[[cue]]
id = "no_touch"
at = "no_contact.begin-break_off"
light = "ours"
sound = "drop"
say = "Weg"
"""
PATTERNS = """\
format = "tocsin-patterns/1"
name = "Ours"
[pattern.light.ours]
form = "plain"
colours = ["orange"]
lasts = "2s"
"""


def make_project(folder: Path, text: str = TEXT) -> Path:
    """Write a project with two plans, a drill, a rig and patterns of its own; return its file."""
    files = {
        "plans/first.toml": _PLAN.format(name="First"),
        "plans/calm.toml": _PLAN.format(name="Calm"),
        "patterns/ours.toml": PATTERNS,
        "drills/turn.toml": (bundle.root() / "drills" / "turn.toml").read_text("utf-8").replace(
            'plan = "full"', 'plan = "../plans/first.toml"'),
        "rigs/practice_bench.toml": 'format = "tocsin-rig/1"\nname = "Ours"\ndrives_robot = false\n[screen]\n',
        "tocsin.toml": text,
    }  # fmt: skip
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content, "utf-8")
    return folder / "tocsin.toml"
