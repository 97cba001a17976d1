"""Shots of the strip for tests: a firing of a pattern, placed in real time."""

from tocsin.model.clock.schedule import Shot
from tocsin.model.pattern import Patterns
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.units import NS_PER_S


def firing(pattern, no=0, priority=5, lasts_ns=NS_PER_S, channel="light", until_ns=None, role=None, cue=""):
    return Firing(
        no=no, cue=cue or pattern, n=0, channel=channel, role=role, begin=Point("match", 0),
        until=None if until_ns is None else Point("match", until_ns),
        sustained=until_ns is not None and channel != "rumble", pattern=pattern, word="",
        late_limit_ns=150_000_000, priority=priority, when="", match_ns=0, lasts_ns=lasts_ns,
    )  # fmt: skip


def shot(pattern, begin_ns, end_ns, *, no=0, priority=5, resumed=False, channel="light", role=None, sustained=False):
    """Return a shot that lasts from begin to end; sustained ones have an ``until``."""
    lasts_ns = 0 if end_ns is None else end_ns - begin_ns
    until_ns = lasts_ns if sustained or end_ns is None else None
    fired = firing(pattern, no, priority, lasts_ns, channel, until_ns, role)
    return Shot(firing=fired, instance=0, begin_ns=begin_ns, end_ns=end_ns, resumed=resumed)


def timeline(*names, channel="light"):
    """Return a timeline whose firings name these patterns."""
    firings = tuple(firing(name, no, channel=channel) for no, name in enumerate(names))
    return Timeline(
        game="Test", plan="Test", digits="ceil", counts="period", segments=(), periods=(), windows=(), variants=(),
        default_variant="", firings=firings,
    )  # fmt: skip


def loaded(channel, patterns: Patterns):
    """Load all patterns of a channel into it; return it."""
    channel.load(timeline(*getattr(patterns, channel.name), channel=channel.name), patterns)
    return channel
