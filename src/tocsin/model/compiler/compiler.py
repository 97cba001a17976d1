"""Compile a game and a plan into the timeline, or find all mistakes in them at once."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from tocsin.model import diagnostics as code
from tocsin.model.compiler.announced import CueCalendar, check_announcing
from tocsin.model.compiler.occurrences import Occurrence
from tocsin.model.compiler.windows import WindowBook
from tocsin.model.diagnostics import CODES, Diagnostic, Diagnostics, Path, listed
from tocsin.model.game import Game, Period
from tocsin.model.pattern import Pattern, lasts_ns
from tocsin.model.plan import CHANNELS, ROLES, ChannelName, Cue, Plan, Role
from tocsin.model.spelling import only_reading
from tocsin.model.timeline.ground import Ground, lay_out
from tocsin.model.timeline.point import RING_OUT_NS
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

__all__ = ["CODES", "compile_plan"]

RESERVED = ("match", "mark", "call")
MOST_FIRINGS = 20_000                  # all patterns, frames and tables of a run are held in memory
MOST_SOUND_NS = 120 * NS_PER_S         # of all sounds together, which are made before a match
MOST_WORDS = 100                       # that are spoken, likewise
_LAST = 1 << 30                        # marks and calls stand behind every segment
_Draft = tuple[tuple[int, ...], Firing]
"""What sorts a firing, and the firing, which has no number yet."""

def compile_plan(game: Game, plan: Plan) -> tuple[Timeline | None, tuple[Diagnostic, ...]]:
    """Return the timeline of a plan in a game, or None and every mistake in both files."""
    found = Diagnostics()
    _check_game(game, found)
    _check_cues(game, plan, found)
    check_announcing(plan.cues, found)
    _check_sounds(plan, found)
    if not game.periods:
        return None, found.mistakes
    ground = lay_out(game.periods)
    book = WindowBook(game.windows, ground, found)
    spans = book.spans()
    calendar = CueCalendar(plan.cues, ground, book.locator(plan.leads), found)
    drafts: list[_Draft] = []
    for index, cue in enumerate(plan.cues):
        occurrences = calendar.occurrences(index)
        count = len(drafts) + len(occurrences) * _shares(cue)
        if count > MOST_FIRINGS:
            found.add(
                code.TOO_MANY_FIRINGS, "plan", ("cue", index), name=cue.id, count=str(count), most=str(MOST_FIRINGS)
            )  # fmt: skip
        if found.is_full or count > MOST_FIRINGS:
            break
        drafts += _drafts(cue, index, occurrences, plan, ground)
    if found.mistakes:
        return None, found.mistakes
    drafts.sort(key=lambda draft: draft[0])
    timeline = Timeline(
        game=game.name,
        plan=plan.name,
        digits=game.digits,
        counts=game.counts,
        segments=ground.segments,
        periods=ground.periods,
        windows=spans,
        variants=tuple(variant.id for variant in game.variants),
        default_variant=next((variant.id for variant in game.variants if variant.default), ""),
        firings=tuple(msgspec.structs.replace(firing, no=no) for no, (_, firing) in enumerate(drafts)),
        leads=dict(sorted(plan.leads.items())),
    )
    return timeline, ()


def _check_game(game: Game, found: Diagnostics) -> None:
    _check_periods(game.periods, found)
    owners = [(period.id, ("period", index, "id")) for index, period in enumerate(game.periods)]
    owners += [(window.id, ("window", index, "id")) for index, window in enumerate(game.windows)]
    for name, path in owners:
        if name in RESERVED:
            found.add(code.RESERVED_ID, "game", path, name=name)
    _check_unique("game", tr("period or window"), owners, found)
    _check_unique("game", "variant", _id_paths("variant", (variant.id for variant in game.variants)), found)
    _check_unique("game", "stake", _id_paths("stake", (stake.id for stake in game.stakes)), found)
    defaults = [(index, variant) for index, variant in enumerate(game.variants) if variant.default]
    for index, variant in defaults[1:]:
        found.add(code.TWO_DEFAULTS, "game", ("variant", index, "default"), name=variant.id, first=defaults[0][1].id)
    _check_stakes(game, found)
    _check_thresholds(game, found)


def _check_stakes(game: Game, found: Diagnostics) -> None:
    windows = [window.id for window in game.windows]
    for index, stake in enumerate(game.stakes):
        if stake.during and stake.during not in windows:
            _unknown(code.UNKNOWN_WINDOW, "game", ("stake", index, "during"), stake.during, windows, found)
        _check_list("game", ("stake", index, "by"), stake.by, found)


def _check_thresholds(game: Game, found: Diagnostics) -> None:
    ids = (threshold.id for threshold in game.thresholds)
    _check_unique("game", "threshold", _id_paths("threshold", ids), found)
    stakes = {stake.id: stake for stake in game.stakes}
    for index, threshold in enumerate(game.thresholds):
        path: Path = ("threshold", index, "counts")
        _check_list("game", path, threshold.counts, found)
        for place, name in enumerate(threshold.counts):
            if name not in stakes:
                _unknown(code.UNKNOWN_STAKE, "game", (*path, place), name, stakes, found)
            elif stakes[name].to == "opponents":
                found.add(code.STAKE_OF_OTHERS, "game", (*path, place), name=name)
        counted = [stakes[name] for name in set(threshold.counts) if name in stakes]
        most = [max(0, stake.points) * stake.most for stake in counted if stake.most is not None]
        if len(most) == len(set(threshold.counts)) and sum(most) < threshold.points:
            text, high = str(threshold.points), str(sum(most))
            found.add(code.OUT_OF_REACH, "game", ("threshold", index, "points"), text=text, high=high)


def _check_list(file: Literal["game", "plan"], path: Path, names: Sequence[str], found: Diagnostics) -> None:
    for place, name in enumerate(names):
        if name in names[:place]:
            found.add(code.LISTED_TWICE, file, (*path, place), text=name)


def _check_periods(periods: tuple[Period, ...], found: Diagnostics) -> None:
    if all(period.kind == "settle" for period in periods):
        found.add(code.NO_PERIOD, "game", ("period",))
    for index, period in enumerate(periods):
        last = index == len(periods) - 1
        if period.kind == "settle" and not last:
            found.add(code.SETTLE_NOT_LAST, "game", ("period", index, "kind"), name=period.id)
        if period.lasts_ns is None and last:
            found.add(code.OPEN_LAST, "game", ("period", index, "lasts"), name=period.id)
        if period.lasts_ns is not None and period.lasts_ns <= 0:
            found.add(code.NO_LENGTH, "game", ("period", index, "lasts"), name=period.id)


def _check_cues(game: Game, plan: Plan, found: Diagnostics) -> None:
    _check_unique("plan", "cue", _id_paths("cue", (cue.id for cue in plan.cues)), found)
    variants = [variant.id for variant in game.variants]
    for index, cue in enumerate(plan.cues):
        if cue.when and cue.when not in variants:
            _unknown(code.UNKNOWN_VARIANT, "plan", ("cue", index, "when"), cue.when, variants, found)
        if not cue.patterns:
            found.add(code.NO_CHANNEL, "plan", ("cue", index), name=cue.id)
        _check_list("plan", ("cue", index, "for"), cue.roles, found)
        if "rumble" in cue.patterns and not cue.roles:
            found.add(code.NO_ROLE, "plan", ("cue", index, "for"), name=cue.id)
        for channel in CHANNELS:
            _check_pattern(cue, ("cue", index, channel), channel, plan, found)


def _check_pattern(cue: Cue, path: Path, channel: ChannelName, plan: Plan, found: Diagnostics) -> None:
    name = cue.patterns.get(channel)
    if name is None:
        return
    known = _patterns(plan, channel)
    if name not in known:
        found.add(
            code.UNKNOWN_PATTERN, "plan", path,
            name=name, channel=channel, likely=only_reading(name, known), expected=listed(known),
        )  # fmt: skip
    elif lasts_ns(known[name]) <= 0:
        found.add(code.NO_LENGTH, "plan", path, name=name)


def _check_sounds(plan: Plan, found: Diagnostics) -> None:
    """Report sounds and words that together take more time and memory before a match than there is."""
    sounds: set[str] = set()
    words: set[str] = set()
    total_ns = 0
    for index, cue in enumerate(plan.cues):
        name = cue.patterns.get("sound", "")
        if name in plan.patterns.sound and name not in sounds:
            sounds.add(name)
            total_ns += lasts_ns(plan.patterns.sound[name])
            if total_ns > MOST_SOUND_NS:
                found.add(
                    code.TOO_MUCH_SOUND, "plan", ("cue", index, "sound"),
                    name=cue.id, count=format_clock(total_ns), most=format_clock(MOST_SOUND_NS),
                )  # fmt: skip
                return
        if name and cue.say:
            words.add(cue.say)
            if len(words) > MOST_WORDS:
                found.add(
                    code.TOO_MANY, "plan", ("cue", index, "say"),
                    name="say", count=str(len(words)), most=str(MOST_WORDS),
                )  # fmt: skip
                return


def _patterns(plan: Plan, channel: ChannelName) -> Mapping[str, Pattern]:
    known: Mapping[str, Pattern] = getattr(plan.patterns, channel)
    return known


def _shares(cue: Cue) -> int:
    """Return how many firings one occurrence of a cue has: one a channel, of the rumble one a role."""
    return len(cue.patterns) + (len(set(cue.roles)) - 1 if "rumble" in cue.patterns else 0)


def _id_paths(table: str, ids: Iterable[str]) -> list[tuple[str, Path]]:
    return [(name, (table, index, "id")) for index, name in enumerate(ids)]


def _check_unique(
    file: Literal["game", "plan"], kind: str, owners: Iterable[tuple[str, Path]], found: Diagnostics
) -> None:
    seen: set[str] = set()
    for name, path in owners:
        if name in seen:
            found.add(code.DUPLICATE_ID, file, path, name=name, kind=kind)
        seen.add(name)


def _unknown(
    what: str, file: Literal["game", "plan"], path: Path, name: str, known: Iterable[str], found: Diagnostics
) -> None:
    known = list(known)
    found.add(what, file, path, name=name, likely=only_reading(name, known), expected=listed(known))


def _drafts(cue: Cue, index: int, occurrences: list[Occurrence], plan: Plan, ground: Ground) -> list[_Draft]:
    drafts: list[_Draft] = []
    for n, occurrence in enumerate(occurrences):
        for place, channel in enumerate(CHANNELS):
            pattern = cue.patterns.get(channel, "")
            known = _patterns(plan, channel)
            if pattern not in known:
                continue
            roles: list[Role | None] = [role for role in ROLES if role in cue.roles] if channel == "rumble" else [None]
            pattern_ns = _within_ring_out(occurrence, lasts_ns(known[pattern]), ground)
            rank, due_ns = _rank(occurrence, ground), occurrence.begin.offset_ns
            for role_place, role in enumerate(roles):
                firing = _firing(cue, n, occurrence, channel, role, pattern_ns, ground)
                drafts.append(((rank, due_ns, index, place, role_place, n), firing))
    return drafts


def _rank(occurrence: Occurrence, ground: Ground) -> int:
    rank = ground.rank(occurrence.begin.anchor)
    if rank is not None:
        return rank
    return _LAST + (1 if occurrence.begin.anchor.startswith("call.") else 0)


def _firing(
    cue: Cue, n: int, occurrence: Occurrence, channel: ChannelName, role: Role | None, pattern_ns: int, ground: Ground
) -> Firing:
    until = None if channel == "sound" else occurrence.until
    return Firing(
        no=0,
        cue=cue.id,
        n=n,
        channel=channel,
        role=role,
        begin=occurrence.begin,
        until=until,
        sustained=until is not None and channel in ("light", "screen"),
        pattern=cue.patterns[channel],
        word=cue.say or cue.id.replace("_", " ").capitalize(),
        late_limit_ns=cue.late_limit_ns,
        priority=cue.priority,
        when=cue.when,
        match_ns=ground.match_ns(occurrence.begin),
        lasts_ns=pattern_ns,
    )


def _within_ring_out(occurrence: Occurrence, pattern_ns: int, ground: Ground) -> int:
    """Return a pattern's length, cut where the ringing out after the match ends."""
    end = ground.match_end()
    if end is None or end.anchor != occurrence.begin.anchor:
        return pattern_ns
    return min(pattern_ns, end.offset_ns + RING_OUT_NS - occurrence.begin.offset_ns)
