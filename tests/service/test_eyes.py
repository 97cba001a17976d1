"""What is left out of what everybody may read."""

import msgspec

from tocsin.service import eyes

FILES = [
    {"name": "/home/somebody/game.toml", "sha256": "", "text": 'format = "tocsin-game/1"\n'},
    {"name": "plan.toml", "sha256": "", "text": "# ours\nformat='tocsin-plan/1'\n"},
    {"name": "my_rig.toml", "sha256": "", "text": '  format = "tocsin-rig/1"\n'},
    {"name": "drill.toml", "sha256": "", "text": '# ours\nformat = "tocsin-drill/1"\n'},
]


def test_a_follower_whom_nobody_asked_for_a_token_gets_the_files_that_are_played_and_no_others():
    """A rig names devices, a drill holds a team's own words; a follower leaves both out anyway."""
    header = msgspec.json.encode({"kind": "header", "at_ns": 1, "files": FILES, "label": "Ann", "options": {}})
    found = msgspec.json.decode(eyes.followed(header))
    assert [file["name"] for file in found["files"]] == ["game.toml", "plan.toml"]
    assert "label" not in found
