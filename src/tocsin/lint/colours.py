"""Find colours with another meaning on the field, and letters that are hard to read."""

import colorsys
from collections.abc import Iterator, Sequence

from tocsin.lint.finding import Finding
from tocsin.lint.limits import CONTRAST
from tocsin.lint.subject import Subject
from tocsin.model.pattern import Rgb
from tocsin.model.plan import ChannelName
from tocsin.model.safety import BLACK, contrast, saturated_red

# Ranges of the hue in degrees and the least saturation at which a person names a colour so (own estimate, no source).
# Yellow, orange, the light blue and the pale purple of Okabe and Ito's set lie outside all of them.
_HUES = {"red": (345, 375, 0.5), "blue": (195, 265, 0.75), "green": (80, 175, 0.5), "purple": (265, 345, 0.5)}
_DARK = 0.1                            # below it a colour is as good as black


def named(colour: Rgb) -> str:
    """Return red, blue, green or purple if a person would call a colour so, else an empty text."""
    if saturated_red(colour):
        return "red"
    hue, saturation, value = colorsys.rgb_to_hsv(*(part / 255 for part in colour))
    if value < _DARK:
        return ""
    for name, (low, high, least) in _HUES.items():
        if saturation >= least and any(low <= hue * 360 + turn < high for turn in (0, 360)):
            return name
    return ""


def colours(subject: Subject) -> Iterator[Finding]:
    """Yield full fields in colours with another meaning, and faint letters."""
    for channel, name in subject.used:
        for cue in subject.owners(channel, name):
            yield from _pattern(subject, channel, name, cue)


def _pattern(subject: Subject, channel: ChannelName, name: str, cue: str) -> Iterator[Finding]:
    patterns = subject.plan.patterns
    if channel == "light":
        light = patterns.light[name]
        yield from _field(subject, channel, name, cue, light.colours)
    elif channel == "screen":
        screen = patterns.screen[name]
        if screen.field != "none" or screen.frame != "none":
            yield from _field(subject, channel, name, cue, screen.colours)
        ratio = contrast(screen.letters, BLACK)
        if ratio < CONTRAST.value:
            path = subject.pattern(channel, name, cue, "letters")
            facts = {"pattern": name, "ratio": f"{ratio:.1f}"}
            yield Finding(code="faint_letters", level="warning", path=path, facts=facts)


def _field(
    subject: Subject, channel: ChannelName, name: str, cue: str, seen: Sequence[Rgb]
) -> Iterator[Finding]:
    """Yield the finding for a pattern of whose colours, black aside, each means something else."""
    names = [named(colour) for colour in seen if colour != BLACK]
    if not names or not all(names):
        return
    alliance = [found for found in names if found in ("red", "blue")]
    facts = {
        "pattern": name, "colour": (alliance or names)[0], "device": "strip" if channel == "light" else "screen"
    }  # fmt: skip
    code = "alliance_colour" if alliance else "lamp_colour"
    path = subject.pattern(channel, name, cue, "colours")
    yield Finding(code=code, level="warning", path=path, facts=facts)
