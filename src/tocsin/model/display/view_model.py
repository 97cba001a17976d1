"""Make the view model of window and terminal: their words, from the timeline, the status and the time. Pure."""

from collections.abc import Iterable, Iterator, Mapping

import msgspec

from tocsin.model.clock.origins import Origin, Phase
from tocsin.model.clock.schedule import Shot
from tocsin.model.display.boards import BoardsSign, sign_of
from tocsin.model.display.digits import official
from tocsin.model.display.landmarks import Landmark, landmarks
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.display.status import ALL_KEYS, GIVE_RIGHTS, DeviceFact, KeyHelp, Status
from tocsin.model.rig import StartBy
from tocsin.model.timeline.timeline import MATCH, PeriodSlot, Point, Reading, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

MOST_KEYS = 5                          # a scribe's among them; who looks at robots reads no more
MOST_AHEAD = 2                         # more than two things to come are not read in a match
# No permission, and nobody's wait for one from here: who is at the stop says it.
STAY_OUTSIDE = (tr("Stay outside"), tr("until the person at the robot's stop says so"))
STILL_OUTSIDE = tr("Stay outside until the person at the stop says so")
_PROMPTS: dict[StartBy, str] = {
    "count_in": tr("Press {key}: {count} count-in"),
    "countdown": tr("Press {key} as the countdown ends"),
    "horn": tr("Press {key} at the start signal"),
    "press": tr("Press {key} as the match starts"),
}


class Ahead(msgspec.Struct, frozen=True, kw_only=True):
    """An event ahead, and in how many seconds as people say it: ``12 s``, ``1:30``."""

    what: str
    wait: str

    @property
    def line(self) -> str:
        """Return it as one line."""
        return tr("{what} in {wait}", what=self.what, wait=self.wait)


class Alarm(msgspec.Struct, frozen=True, kw_only=True):
    """A lost device that was ready before, which everybody must see, and the fix."""

    what: str
    fix: str


class ViewModel(msgspec.Struct, frozen=True, kw_only=True):
    """All words on window and terminal at a moment.

    ``digits`` is the count: the official display's time, or the number of the count-in; ``moving`` is false while it
    stands. ``sign`` are the lines that stand in its place where the clock may not be seen. ``typed`` is what somebody
    types of the official display's time. ``prompt`` says what a person is to do now, ``clear`` how long the word holds
    that the field is, ``outside`` that people still stay off it, ``card`` what comes next in a drill. ``boards`` is the
    code that a phone scans, with its words. ``stale_ns`` is the shared time at which the words change by themselves,
    None if they do not.
    """

    phase: Phase
    heading: str
    title: str
    digits: str = ""
    moving: bool = False
    sign: tuple[str, ...] = ()
    windows: tuple[str, ...] = ()
    ahead: tuple[Ahead, ...] = ()
    typed: str = ""
    prompt: str = ""
    clear: str = ""
    outside: str = ""
    alarms: tuple[Alarm, ...] = ()
    notice: str = ""
    earlier: tuple[str, ...] = ()
    result: tuple[str, ...] = ()
    picture: RoundPicture | None = None
    video: str = ""
    card: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    devices: tuple[DeviceFact, ...] = ()
    keys: tuple[KeyHelp, ...] = ()
    scribe: tuple[KeyHelp, ...] = ()
    boards: BoardsSign | None = None
    stale_ns: int | None = None


def foremost(shots: Iterable[Shot]) -> Shot | None:
    """Return the shot that shows when several run: the highest priority, among equals the newest."""
    return max(shots, key=lambda s: (s.firing.priority, s.begin_ns, s.firing.no, s.instance), default=None)


class ViewModelMaker:
    """Makes the view models of one timeline; everything that does not depend on the time is computed once."""

    def __init__(self, timeline: Timeline) -> None:
        self._timeline = timeline
        self._period = {slot.id: slot for slot in timeline.periods}
        self._ranks = {segment.anchor: rank for rank, segment in enumerate(timeline.segments)}
        self._title = {f"{span.id}.{span.n}": span.title for span in timeline.windows}
        self._landmarks = tuple(landmarks(timeline))

    def at(self, status: Status, now_ns: int) -> ViewModel:
        """Return the view model at the shared time ``now_ns``; while held, at the time when the clock stopped."""
        view = self._at(status, now_ns)
        if status.boards is None or view.sign == STAY_OUTSIDE:
            return view
        boards, stale_ns = sign_of(status.boards, status.phase, _key(status, GIVE_RIGHTS), now_ns)
        stales_ns = [at_ns for at_ns in (view.stale_ns, stale_ns) if at_ns is not None]
        return msgspec.structs.replace(view, boards=boards, stale_ns=min(stales_ns, default=None))

    def _at(self, status: Status, now_ns: int) -> ViewModel:
        if status.phase == "held" and status.held_ns is not None:
            now_ns = status.held_ns
        origins = {origin.anchor: origin for origin in status.origins}
        if status.phase in ("standby", "scrapped") or MATCH not in origins:
            return self._standby(status, now_ns)
        if (left_ns := _begin_ns(status, origins) - now_ns) > 0:
            return self._count_in(status, left_ns, now_ns)
        elapsed = {anchor: origin.elapsed_ns(now_ns) for anchor, origin in origins.items()}
        reading = self._timeline.at(elapsed)
        if status.phase == "over" or reading.ended:
            prompt = status.ask or _press(status, tr("next match"), "start")
            if status.outside_until_ns is not None and now_ns < status.outside_until_ns:
                return self._outside(status, status.outside_until_ns)
            if not status.of_match:
                return self._view(status, title=tr("Over"), digits="", prompt=prompt)
            return self._view(status, title=tr("Match over"), digits=self._digits(0), prompt=prompt)
        return self._match(status, origins, elapsed, reading, now_ns)

    def _outside(self, status: Status, until_ns: int) -> ViewModel:
        """Return what stands after the end before any result: drivers run to their robot, which may still move."""
        prompt = "" if status.result else status.ask
        view = self._view(
            status, title=tr("Match over"), digits="", prompt=prompt, sign=STAY_OUTSIDE, stale_ns=until_ns,
        )
        keys = tuple(
            msgspec.structs.replace(key, does=tr("result")) if key.action == "start" else key for key in view.keys
        )
        return msgspec.structs.replace(view, result=(), picture=None, video="", keys=keys)

    def _standby(self, status: Status, now_ns: int) -> ViewModel:
        key = _key(status, "start")
        count = f"{-(-status.start.count_in_ns // NS_PER_S)} s"
        prompt = _PROMPTS[status.start.by].format(key=key, count=count) if key else ""
        title = tr("Standby")
        if status.phase == "scrapped":
            title, prompt = tr("Cancelled"), _press(status, tr("next match"), "start")
        left_ns = max(0, (status.clear_until_ns or now_ns) - now_ns)
        return self._view(
            status,
            title=title,
            digits=self._first_digits(status),
            prompt=status.ask or prompt,
            clear=tr("Field clear: start within {left} s", left=-(-left_ns // NS_PER_S)) if left_ns else "",
            stale_ns=now_ns + _until_change(left_ns, "ceil") if left_ns else None,
        )

    def _count_in(self, status: Status, left_ns: int, now_ns: int) -> ViewModel:
        held = status.phase == "held"
        counted_ns = left_ns - status.behind_ns
        counts = counted_ns > 0                # else all has been counted, and the start is late
        return self._view(
            status,
            title=tr("HELD") if held else self._begins(status, counts=counts),
            digits=str(-(-counted_ns // NS_PER_S)) if counts else self._first_digits(status),
            moving=counts and not held,
            sign=() if counts else _sign(status),
            prompt=_resume(status) if held else "",
            ahead=(),
            stale_ns=None if held else now_ns + (_until_change(counted_ns, "ceil") if counts else left_ns),
        )

    def _begins(self, status: Status, *, counts: bool) -> str:
        if status.of_match:
            return tr("Match begins in") if counts else tr("Match begins")
        return tr("Begins in") if counts else tr("Begins")

    def _first_digits(self, status: Status) -> str:
        """Return what the official display shows at the start if that may be seen; without a match there is none."""
        if not status.of_match or "clock" not in status.shows:
            return ""
        return self._digits(self._timeline.at({MATCH: 0, status.begins.anchor: status.begins.offset_ns}).left_ns)

    def _match(
        self, status: Status, origins: Mapping[str, Origin], elapsed: Mapping[str, int], reading: Reading, now_ns: int
    ) -> ViewModel:
        held = status.phase == "held"
        slot = self._period.get(reading.period)
        waiting = self._waiting(reading, slot)
        left_ns = 0 if reading.over else reading.left_ns
        if waiting is not None and slot is None:
            left_ns = waiting.end_ns and waiting.end_ns - waiting.begin_ns
        title = slot.title if slot else (waiting.title if waiting else "")
        clock, hidden = "clock" in status.shows, not status.shows
        moving = not held and not reading.over and slot is not None and left_ns is not None
        ahead = self._ahead(status, elapsed) if status.of_match else []
        changes = [_real(origins, mark.point, ns, self._timeline.digits) for mark, ns in ahead]
        if moving and left_ns is not None and slot is not None:
            changes.append(_real(origins, Point(slot.anchor, 0), left_ns, self._timeline.digits))
        if reading.over and slot is not None and slot.end_ns is not None:      # nothing counts, and yet it ends
            changes.append(int((slot.end_ns - elapsed[slot.anchor]) / origins[slot.anchor].rate) + 1)
        prompt = _press(status, tr("{title} begins", title=waiting.title), "begin") if waiting else _unsure(status)
        return self._view(
            status,
            title=tr("HELD – {title}", title=title) if held and title else (tr("HELD") if held else title),
            digits=self._digits(left_ns) if clock else "",
            moving=moving and clock,
            sign=_sign(status),
            windows=() if hidden else tuple(self._title[key] for key in reading.windows),      # one may count from it
            ahead=tuple(Ahead(what=mark.what, wait=self._wait(ns)) for mark, ns in ahead if "ahead" in status.shows),
            prompt=_resume(status) if held else prompt if status.of_match else status.ask,
            stale_ns=None if held or not changes else now_ns + min(changes),
        )

    def _waiting(self, reading: Reading, slot: PeriodSlot | None) -> PeriodSlot | None:
        """Return the period that a person has to begin, if the match waits for that."""
        if reading.awaits:
            return self._period[reading.awaits]
        if slot is None or slot.end_ns is not None:
            return None
        periods = self._timeline.periods
        return next(iter(periods[periods.index(slot) + 1 :]), None)

    def _ahead(self, status: Status, elapsed: Mapping[str, int]) -> list[tuple[Landmark, int]]:
        """Return the next landmarks and the match time to them, one for each instant; what was given comes no more."""
        variant = status.variant or self._timeline.default_variant
        coming: dict[int, Landmark] = {}
        for mark in self._landmarks:
            if mark.point.anchor in elapsed and mark.when in ("", variant) and mark.no not in status.given:
                left_ns = mark.point.offset_ns - elapsed[mark.point.anchor]
                if left_ns > 0 and not self._passes_before(mark.point.anchor, left_ns, elapsed):
                    coming.setdefault(left_ns, mark)
        return [(coming[ns], ns) for ns in sorted(coming)[:MOST_AHEAD]]

    def _passes_before(self, anchor: str, left_ns: int, elapsed: Mapping[str, int]) -> bool:
        """Return whether a segment passes before so much match time has, since a later one begins by then."""
        rank = self._ranks.get(anchor, len(self._ranks))
        return any(self._ranks.get(other, -1) > rank and -ns <= left_ns for other, ns in elapsed.items())

    def _digits(self, left_ns: int | None) -> str:
        return "" if left_ns is None else official(left_ns, self._timeline.digits)

    def _wait(self, left_ns: int) -> str:
        text = official(left_ns, self._timeline.digits)
        return f"{int(text[2:])} s" if text.startswith("0:") else text

    def _view(
        self,
        status: Status,
        *,
        title: str,
        digits: str,
        prompt: str,
        clear: str = "",
        moving: bool = False,
        sign: tuple[str, ...] = (),
        windows: tuple[str, ...] = (),
        ahead: tuple[Ahead, ...] = (),
        stale_ns: int | None = None,
    ) -> ViewModel:
        return ViewModel(
            phase=status.phase,
            heading=f"{self._timeline.game} – {self._timeline.plan}" if status.names_plan else self._timeline.game,
            title=title,
            digits=digits,
            moving=moving,
            sign=sign,
            windows=windows,
            ahead=ahead,
            typed=status.typed,
            prompt=_typing(status) or prompt,
            clear=clear,
            outside=STILL_OUTSIDE if status.phase == "over" and status.keeps_out and not sign else "",
            alarms=tuple(_alarms(status)),
            notice=status.notice,
            earlier=status.earlier,
            result=status.result,
            picture=status.picture,
            video=status.video,
            card=_card(status),
            facts=tuple(self._facts(status)),
            devices=status.devices,
            keys=_shown_keys(status),
            scribe=status.scribe,
            stale_ns=stale_ns,
        )

    def _facts(self, status: Status) -> Iterator[str]:
        before = status.phase in ("standby", "scrapped")
        if status.follows:
            yield status.follows
        if len(status.plans) > 1 and before:
            names = [f"{n} {name}" for n, name in enumerate(status.plans, 1)]
            names[status.plan_no] = f"[{names[status.plan_no]}]"
            yield tr("plan, by key: {names}", names=" ".join(names))
        if self._timeline.variants:
            yield tr("variant {name}", name=(status.variant or self._timeline.default_variant).replace("_", " "))
        if status.label:
            yield status.label
        # How well the keeper knows the official clock stands at the keeper: here it would be a second number.
        if status.error_ms is not None and not status.follows:
            key = _key(status, "display")
            way = tr(", {key} twice: set it by the display", key=key) if key else ""
            yield tr("clock ± {error:.2f} s{way}", error=status.error_ms / 1000, way=way)
        if status.rate != 1:
            yield tr("rate × {rate:g}", rate=status.rate)
        yield from (text for text in (status.battery, status.awake) if text and before)


def _begin_ns(status: Status, origins: Mapping[str, Origin]) -> int:
    """Return when the clock begins or began: a match that starts in its middle has an origin in the past."""
    starts_ns = [origin.starts_ns for origin in origins.values()] if status.phase in ("waiting", "held") else []
    return max([origins[MATCH].origin_ns, *starts_ns])


def _until_change(left_ns: int, digits: str) -> int:
    """Return the match time after which a count of whole seconds shows another number."""
    if digits == "floor":
        return left_ns % NS_PER_S + 1
    return left_ns % NS_PER_S or NS_PER_S


def _real(origins: Mapping[str, Origin], point: Point, left_ns: int, digits: str) -> int:
    origin = origins.get(point.anchor)
    rate = origin.rate if origin else 1.0
    return int(_until_change(left_ns, digits) / rate) + 1


def _alarms(status: Status) -> Iterator[Alarm]:
    for fact in status.devices:
        if fact.state in ("lost", "failed"):
            yield Alarm(what=f"{fact.subject} {fact.condition}".upper(), fix=fact.text)


def _card(status: Status) -> tuple[str, ...]:
    """Return what comes next, with its people behind the first line, which says what it is."""
    if status.phase not in ("standby", "scrapped"):
        return ()
    return (*status.card[:1], *filter(None, [status.named]), *status.card[1:])


def _sign(status: Status) -> tuple[str, ...]:
    return () if "clock" in status.shows else status.sign


def _shown_keys(status: Status) -> tuple[KeyHelp, ...]:
    """Return the keys to be shown beside a scribe's: those that are needed most, and the one that shows the others."""
    large = {entry.action for entry in status.scribe} if status.phase in ("waiting", "running", "held") else set()
    others = [entry for entry in status.keys if entry.action not in large]
    keys = [entry for entry in others if entry.action != ALL_KEYS]
    shows = [entry for entry in others if entry.action == ALL_KEYS]
    fit = MOST_KEYS - len(large)
    if not shows or len(keys) <= fit:
        return tuple(keys)
    return (*(keys if status.all_keys else keys[:fit]), *shows)


def _key(status: Status, action: str) -> str:
    return next((entry.key for entry in status.keys if entry.action == action), "")


def _press(status: Status, what: str, action: str) -> str:
    key = _key(status, action)
    return tr("Press {key}: {what}", key=key, what=what) if key else ""


def _typing(status: Status) -> str:
    """Return what a person is to do who types the display's time, or nothing."""
    if not status.typed:
        return ""
    if "_" in status.typed:
        return tr("Type what the display will show next")
    return tr("Press {key} as the display changes to {typed}", key=_key(status, "start"), typed=status.typed)


def _unsure(status: Status) -> str:
    return tr("clock unsure: calls come {early:.1f} s early", early=status.early_ms / 1000) if status.early_ms else ""


def _resume(status: Status) -> str:
    return _press(status, tr("the clock goes on"), "hold")
