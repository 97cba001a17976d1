"""Names that files of teams may still use for what is called otherwise now: the one table of them.

An older name is read wherever nothing of the team's is called so; nobody is offered one. ``renamed.py`` finds them
in a file, ``write/newer.py`` rewrites them.
"""

from collections.abc import Collection, Mapping

# What a strip's pattern does (``form``).
FORMS: Mapping[str, str] = {
    "solid": "plain", "breathe": "swell", "blink": "on_off", "sweep": "shuttle", "chase": "queue", "fill": "ebb",
    "stripes": "bands",
}  # fmt: skip
# Patterns that come with Tocsin, by channel and id.
PATTERNS: Mapping[str, Mapping[str, str]] = {
    "rumble": {"blip": "hello"},
    "light": {"keep_off": "no_touch", "chase": "queue", "blink": "on_off"},
    "screen": {"keep_off": "no_touch"},
}
# Files that come with Tocsin, by kind and name.
BUNDLED: Mapping[str, Mapping[str, str]] = {
    "rigs": {"driver_station": "beside_robot"},
    "plans": {"turns": "doors"},
    "drills": {"deaf_and_dark": "missing_signal"},
}


def pattern_meant(channel: str, name: str, known: Collection[str]) -> str:
    """Return the id of the pattern that a name means among those that are ``known``.

    >>> pattern_meant("rumble", "blip", ["hello"]), pattern_meant("rumble", "blip", ["hello", "blip"])
    ('hello', 'blip')
    """
    newer = PATTERNS.get(channel, {}).get(name, name)
    return name if name in known or newer not in known else newer


def bundled_meant(kind: str, name: str, known: Collection[str]) -> str:
    """Return the name of the bundled file that a name means among those that are ``known``."""
    newer = BUNDLED.get(kind, {}).get(name, name)
    return name if name in known or newer not in known else newer
