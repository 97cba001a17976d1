"""The events of a measurement as cues, at irregular times.

What people see, feel and hear of it is as faint as the devices can do: it is there to be timed, not to be noticed.
"""

import random
from collections.abc import Iterable, Iterator, Sequence

from tocsin.config.files import FileText
from tocsin.config.load import Loaded
from tocsin.features.trial.cue_files import Sheet, WrittenCue, numbered
from tocsin.model.plan import CHANNELS, ChannelName, Role
from tocsin.units import NS_PER_MS, NS_PER_S

LEAD_IN_MS = 1500                      # before the first event: time to read the caution and to press Ctrl-C
TAIL_MS = 500
# Irregular, so that no timer's own rhythm fits them, and far enough apart for a rumble step and a strip's frame.
SHORTEST_MS, LONGEST_MS = 230, 330
# An event that is later is left out of the figures as lost; less would hide the very lateness that is looked for.
LATE_LIMIT_NS = 5 * NS_PER_S
_EVENT = "event_"                      # begins the cues' ids

# The strip stays far below what counts as a flash, a change of 0.10 of full luminance (WCAG 2.2, "flash"): LEDs are
# dimmed in proportion, so that level and light are the same share. On the screen one word stands all the time. Each
# lasts until the next event has come, so that nothing goes on and off in between.
_PATTERNS = """\
[pattern.rumble.faint]
steps = [ { weak = 0.2, lasts = "50ms" } ]

[pattern.light.dim]
form = "solid"
colours = ["white"]
level = 0.02
lasts = "700ms"

[pattern.light.dimmer]
form = "solid"
colours = ["white"]
level = 0.04
lasts = "700ms"

[pattern.screen.word]
field = "none"
colours = ["white"]
letters = "white"
frame = "none"
full = "0s"
lasts = "700ms"

[pattern.sound.soft_tick]
steps = [ { hz = 750, level = 0.08, lasts = "20ms" } ]
"""


def times_ms(events: int, seed: int) -> tuple[int, ...]:
    """Return the times of a round's events in milliseconds of the round; equal seeds give equal times."""
    rng = random.Random(seed)
    now = LEAD_IN_MS
    found = []
    for _ in range(events):
        found.append(now)
        now += rng.randint(SHORTEST_MS, LONGEST_MS)
    return tuple(found)


def events_of(times: Sequence[int], channels: Iterable[ChannelName], roles: Sequence[Role], rig: FileText) -> Loaded:
    """Return the events ready to be played on these channels; ``rig`` is the rig's own file, ``roles`` those of its
    pads. Raises ProblemsError if the rig's text is none."""
    wanted = set(channels)
    sheet = Sheet(
        by="tocsin measure lateness",
        what="measured",
        game="Measuring",
        plan="Measuring lateness",
        period="Lateness",
        lasts_ns=(times[-1] + TAIL_MS) * NS_PER_MS,
        cues=[
            WrittenCue(
                id=f"{_EVENT}{no}",
                at_ns=at_ms * NS_PER_MS,
                patterns={channel: name for channel, name in _patterns_of(no) if channel in wanted},
                word="Measuring",
                roles=roles,
                late_limit_ns=LATE_LIMIT_NS,
            )
            for no, at_ms in enumerate(times)
        ],
        patterns=[_PATTERNS],
    )
    return sheet.loaded(rig)


def event_no(cue: str) -> int | None:
    """Return the number of the event, from 0, that a cue is; None for any other cue."""
    return numbered(_EVENT, cue)


def _patterns_of(no: int) -> Iterator[tuple[ChannelName, str]]:
    """Yield each channel's pattern for an event; the strip's differs from event to event, so that each is a change."""
    names = {"rumble": "faint", "light": ("dim", "dimmer")[no % 2], "screen": "word", "sound": "soft_tick"}
    for channel in CHANNELS:
        yield channel, names[channel]
