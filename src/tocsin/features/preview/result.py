"""Hold the result of a preview: each cue with every device's result, as data and as lines. Pure."""

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from tocsin.errors import FIRING_FAILED, OVER
from tocsin.features.preview.cue import CuePreview
from tocsin.journal import records
from tocsin.model.display.status import DeviceFact
from tocsin.model.plan import CHANNELS, ROLES, ChannelName, Role
from tocsin.translation import tr
from tocsin.units import NS_PER_MS


class ChannelPart(msgspec.Struct, frozen=True, kw_only=True):
    """One channel's result for a cue, for pads one role's; ``late_ms`` is None if nothing was played on time."""

    channel: ChannelName
    role: Role | None
    outcome: records.FiringOutcome
    why: str
    late_ms: float | None


class ShownCue(msgspec.Struct, frozen=True, kw_only=True):
    """A cue that was shown; ``moment`` is the official display's reading as it came, ``cut`` what was left out."""

    cue: str
    moment: str
    word: str
    roles: tuple[Role, ...]
    patterns: dict[ChannelName, str]
    cut: str
    parts: tuple[ChannelPart, ...]


class PreviewResult(msgspec.Struct, frozen=True, kw_only=True):
    """All cues in the order in which they were shown, and the devices as they were at the end."""

    game: str
    plan: str
    shown: tuple[ShownCue, ...]
    devices: tuple[DeviceFact, ...]
    exit: int


def shown_of(cue: CuePreview, kept: Iterable[records.Record]) -> ShownCue:
    """Return a cue's result from a run's records."""
    parts = tuple(
        ChannelPart(
            channel=record.channel, role=record.role, outcome=record.outcome, why=record.why,
            late_ms=None if record.late_ns is None else round(record.late_ns / NS_PER_MS, 3),
        )
        for record in kept
        if isinstance(record, records.FiringRecord)
    )  # fmt: skip
    return ShownCue(
        cue=cue.cue, moment=cue.moment, word=cue.word, roles=cue.roles, patterns=cue.patterns, cut=cue.cut, parts=parts
    )


def exit_of(shown: Iterable[ShownCue]) -> int:
    """Return the exit code for the cues: a device that was never there is no failure."""
    failed = any(part.outcome == "failed" for one in shown for part in one.parts)
    return FIRING_FAILED if failed else OVER


def outcome_lines(shown: ShownCue) -> list[str]:
    """Return which channels played a cue, and why others did not.

    >>> light = ChannelPart(channel="light", role=None, outcome="played", why="", late_ms=0.1)
    >>> pad = ChannelPart(channel="rumble", role="coach", outcome="skipped", why="absent", late_ms=None)
    >>> shown = ShownCue(cue="home", moment="0:22", word="Home", roles=(), patterns={}, cut="", parts=(light, pad))
    >>> outcome_lines(shown)
    ['absent: rumble (coach)', 'played: light']
    """
    groups: dict[str, dict[ChannelName, dict[Role, None]]] = {}
    for part in sorted(shown.parts, key=_place):
        roles = groups.setdefault(_what(part), {}).setdefault(part.channel, {})
        if part.role is not None:
            roles[part.role] = None
    lines = [f"{what}: {', '.join(_named(channels))}" for what, channels in groups.items()]
    if not lines:
        lines.append(tr("nothing came: none of its channels is used here"))
    if shown.cut:
        lines.append(shown.cut)
    return lines


def result_lines(result: PreviewResult) -> list[str]:
    """Return all shown cues, and the fixes for devices that were missing."""
    lines = []
    for one in result.shown:
        lines.append(tr(
            "{cue}, {moment}: {word}, for {roles}", cue=one.cue, moment=one.moment, word=one.word.upper(),
            roles=", ".join(one.roles) or tr("nobody named"),
        ))
        lines += [f"    {line}" for line in outcome_lines(one)]
    return lines + list(absent_lines(result.devices))


def absent_lines(devices: Sequence[DeviceFact]) -> Iterator[str]:
    """Yield the missing devices, with their fixes."""
    for fact in devices:
        if fact.state != "ready":
            yield f"{fact.subject}: {fact.condition}" + (f" ({fact.text})" if fact.text else "")


def _place(part: ChannelPart) -> tuple[int, int]:
    return CHANNELS.index(part.channel), ROLES.index(part.role) if part.role else -1


def _what(part: ChannelPart) -> str:
    """Return the heading under which a part is told."""
    if part.outcome in ("played", "resumed"):
        return "played"
    return part.why if part.outcome == "skipped" and part.why == records.ABSENT else f"{part.outcome} ({part.why})"


def _named(channels: dict[ChannelName, dict[Role, None]]) -> Iterator[str]:
    for channel, roles in channels.items():
        yield f"{channel} ({', '.join(roles)})" if roles else channel
