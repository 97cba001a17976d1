"""Find colours and stripes with another meaning on the field, and letters that are hard to read."""

import colorsys
from collections.abc import Iterator, Sequence

from tocsin.lint import limits as limit
from tocsin.lint.finding import WARN, Finding, Kind
from tocsin.lint.limits import CONTRAST
from tocsin.lint.subject import Subject
from tocsin.model.pattern import Rgb
from tocsin.model.plan import ChannelName
from tocsin.model.safety import BLACK, contrast, saturated_red

# Ranges of the hue in degrees and the least saturation at which a person names a colour so (own estimate, no source).
# Yellow, orange, the light blue and the pale purple of Okabe and Ito's set lie outside all of them.
_HUES = {"red": (345, 375, 0.5), "blue": (195, 265, 0.75), "green": (80, 175, 0.5), "purple": (265, 345, 0.5)}
_DARK = 0.1                            # below it a colour is as good as black
# The yellow of hazard markings, from a strong orange yellow on, and what is black enough beside it (own estimate).
_HAZARD_HUES, _HAZARD_STRONG, _HAZARD_BRIGHT, _HAZARD_BLACK = (38, 70), 0.5, 0.5, 0.2

KINDS_OF_COLOURS: dict[str, Kind] = {
    "alliance_colour": Kind(
        WARN,
        "The pattern '{pattern}' fills the {device} with {colour}.",
        "From far away it looks like an alliance sign.",
        "Take yellow, orange, sky_blue or white, or stripes with one of them.",
        (limit.ALLIANCE,),
    ),
    "lamp_colour": Kind(
        WARN,
        "The pattern '{pattern}' fills the {device} with plain {colour}.",
        "People may think it is the field's sign, and walk on the field.",
        "Take yellow, orange, sky_blue or white, or stripes with one of them.",
        (limit.LAMPS,),
    ),
    "hazard_stripes": Kind(
        WARN,
        "The pattern '{pattern}' fills the {device} with stripes in yellow and black.",
        "On signs and tape they mark a place of danger: people stay out, and come in where they end.",
        "Take other colours, such as reddish_purple and white, or another form.",
        (limit.HAZARD,),
    ),
    "faint_letters": Kind(
        WARN,
        "The letters of the screen pattern '{pattern}' have a contrast of {ratio}:1 on their black plate.",
        "At 5 m, in bright halls, they cannot be read.",
        "Take white, yellow, orange or sky_blue.",
        (limit.CONTRAST,),
    ),
}


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
    """Yield full fields in colours, and stripes, with another meaning, and faint letters."""
    for channel, name in subject.used:
        for cue in subject.owners(channel, name):
            yield from _pattern(subject, channel, name, cue)


def _pattern(subject: Subject, channel: ChannelName, name: str, cue: str) -> Iterator[Finding]:
    patterns = subject.plan.patterns
    if channel == "light":
        light = patterns.light[name]
        yield from _field(subject, channel, name, cue, light.colours)
        if light.form == "bands":
            yield from _stripes(subject, channel, name, cue, light.colours)
    elif channel == "screen":
        screen = patterns.screen[name]
        if screen.field != "none" or screen.frame != "none":
            yield from _field(subject, channel, name, cue, screen.colours)
        if screen.field == "stripes":
            yield from _stripes(subject, channel, name, cue, screen.colours)
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
        "pattern": name, "colour": (alliance or names)[0], "device": _device(channel)
    }  # fmt: skip
    code = "alliance_colour" if alliance else "lamp_colour"
    path = subject.pattern(channel, name, cue, "colours")
    yield Finding(code=code, level="warning", path=path, facts=facts)


def _stripes(
    subject: Subject, channel: ChannelName, name: str, cue: str, seen: Sequence[Rgb]
) -> Iterator[Finding]:
    """Yield the finding for stripes that are a hazard marking."""
    if len(seen) == 2 and any(map(_hazard_yellow, seen)) and any(map(_hazard_black, seen)):
        path = subject.pattern(channel, name, cue, "colours")
        facts = {"pattern": name, "device": _device(channel)}
        yield Finding(code="hazard_stripes", level="warning", path=path, facts=facts)


def _hazard_yellow(colour: Rgb) -> bool:
    hue, saturation, value = colorsys.rgb_to_hsv(*(part / 255 for part in colour))
    low, high = _HAZARD_HUES
    return low <= hue * 360 <= high and saturation >= _HAZARD_STRONG and value >= _HAZARD_BRIGHT


def _hazard_black(colour: Rgb) -> bool:
    return max(colour) / 255 < _HAZARD_BLACK


def _device(channel: ChannelName) -> str:
    return "strip" if channel == "light" else "screen"
