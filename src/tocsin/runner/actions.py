"""Carry out what a key or a pad's button asks of the match, the devices or the program, or say why not."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from tocsin.model.display.status import DeviceFact
from tocsin.model.mark import KEYS, key_source, scribe_of
from tocsin.runner.display_entry import ENTRY_PHASES, TWICE_NS
from tocsin.runner.keymap import readable
from tocsin.runner.match.match import NUDGE_NS
from tocsin.runner.match.scribe import Scribe, too_late
from tocsin.runner.notices import ANSWER, BRIEFLY_NS, LASTS_NS
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_S

ALL_KEYS_NS = 10 * NS_PER_S            # so long all keys stand there
CANCEL_NS = 2 * NS_PER_S               # a second press within this cancels a match
_SENSES = {"light": "seen", "screen": "seen", "sound": "heard"}    # else it is the pad of a role


class Actions:
    """Carries out keys' actions."""

    def __init__(self, stage: Stage, programme: Programme) -> None:
        self._stage = stage
        self._programme = programme
        self._scribe = Scribe()
        self._held_down: dict[str, tuple[int, str]] = {}
        self._asked: tuple[int, int] | None = None         # the run that is to be cancelled, and when that was pressed

    def key(self, key: str, at_ns: int, now_ns: int, *, down: bool) -> None:
        """Take a key that went down or up at ``at_ns``."""
        if not down:
            if key in self._held_down:
                begin_ns, label = self._held_down.pop(key)
                self._tell(self._mark(label, begin_ns, at_ns, now_ns, key), now_ns)
            return
        action = self._stage.keymap.action(key)
        if self._types(key, action, at_ns, now_ns):
            return
        if not action.startswith("mark."):
            self._press(key, action, at_ns, now_ns)
        elif not self._is_too_late(action, now_ns):
            # Key repeat sends the key down again and again: the first counts.
            self._held_down.setdefault(key, (at_ns, action.removeprefix("mark.")))

    def tap(self, key: str, at_ns: int, now_ns: int) -> None:
        """Take a key that was pressed at ``at_ns``, from where nobody tells when it came up."""
        action = self._stage.keymap.action(key)
        if self._types(key, action, at_ns, now_ns):
            return
        if not action.startswith("mark."):
            self._press(key, action, at_ns, now_ns)
        elif not self._is_too_late(action, now_ns):
            self._tell(self._mark(action.removeprefix("mark."), at_ns, None, now_ns, key), now_ns)

    def _types(self, key: str, action: str, at_ns: int, now_ns: int) -> bool:
        """Take a key for the display's time, while somebody types that; return whether it was one for it."""
        stage = self._stage
        entry = stage.display_entry
        if not entry.is_open(now_ns, stage.run_no, stage.match.lifecycle.phase):
            return False
        step = entry.take(key, action, now_ns)
        if step:
            stage.notices.drop(ANSWER)
        if step == "left":
            entry.close()
            self._tell(Done(tr("left: the clock is as it was"), briefly=True), now_ns)
        elif step == "full":
            self._tell(
                Refused(tr("{key} does not fit {text}: left erases a digit", key=key, text=entry.text), here=True),
                now_ns,
            )
        elif step == "press":
            self._tell(self._read_display(at_ns, now_ns), now_ns)
        return bool(step)

    def _read_display(self, at_ns: int, now_ns: int) -> Outcome:
        entry, seconds = self._stage.display_entry, self._stage.display_entry.seconds
        if seconds is None:
            return Refused(tr("type all of {text} first", text=entry.text))
        outcome = self._stage.match.read_display(now_ns, at_ns, seconds)
        entry.clear()                      # of a refused one another reading is typed
        if isinstance(outcome, Refused):
            return outcome
        entry.close()
        back = self._stage.keymap.key_for("undo")
        return Done(tr("{told} ({back}: undo)", told=outcome.told, back=back), here=True) if back else outcome

    def _press(self, key: str, action: str, at_ns: int, now_ns: int) -> None:
        if action and not self._only_reads(action, now_ns):
            self._stage.notices.drop(ANSWER)
            self._tell(self._do(action, key, at_ns, now_ns), now_ns)

    def _only_reads(self, action: str, now_ns: int) -> bool:
        """Take it that somebody has read that people stay outside, if that stands there; return whether the key did
        nothing else: who goes on has not seen the result yet."""
        stage, programme = self._stage, self._programme
        until_ns = stage.outside_until_ns if programme.of_match and programme.keeps_out else None
        if until_ns is None or now_ns >= until_ns or not stage.match.over(now_ns):
            return False
        stage.outside_read = stage.run_no
        return action == "start"

    def _is_too_late(self, action: str, now_ns: int) -> bool:
        """Return whether the run of a mark has ended, so that its journal takes none any more; if so, tell it."""
        match = self._stage.match
        if match.lifecycle.phase != "over" or not match.over(now_ns):
            return False
        if self._programme.of_match:
            self._tell(Refused(too_late(action.removeprefix("mark."))), now_ns)
        return True

    def release_all(self, now_ns: int) -> None:
        """Note marks whose keys are still down at the end of the run, without an end."""
        for key, (begin_ns, label) in self._held_down.items():
            self._stage.match.left_open(now_ns, label, begin_ns, key_source(key))
        self._held_down.clear()

    def _mark(self, label: str, begin_ns: int, end_ns: int | None, now_ns: int, key: str) -> Outcome:
        return self._scribe.mark(self._stage.match, now_ns, label, begin_ns, end_ns, key_source(key))

    def wish(
        self, action: str, at_ns: int, now_ns: int, source: str, *, error_ns: int = 0, sure: bool = False
    ) -> Outcome:
        """Carry out an action that a board or program (``source``) wished at ``at_ns`` ± ``error_ns``, and tell people
        what it came to if it was. What it asks twice for, as giving a match up, it is ``sure`` of."""
        stage = self._stage
        if self._only_reads(action, now_ns):
            return Done()
        with self._asked_by(source):
            outcome = self._programme.act(action, stage, now_ns)
            if outcome is None and action == "scrap":
                outcome = stage.match.scrap(now_ns) if sure else Refused(tr("ask twice before a match is cancelled"))
            elif outcome is None:
                outcome = self._do_in_any(action, at_ns, now_ns, error_ns)
        if isinstance(outcome, Done):
            stage.notices.drop(ANSWER)
            self._tell(outcome, now_ns)
        return outcome

    def mark(
        self, label: str, begin_ns: int, end_ns: int | None, now_ns: int, source: str, error_ns: int = 0
    ) -> Outcome:
        """Note a mark of a board or program, whose clock is known to ± ``error_ns``; tell people, if it was noted."""
        with self._asked_by(source):
            outcome = self._scribe.mark(self._stage.match, now_ns, label, begin_ns, end_ns, source, error_ns)
        if isinstance(outcome, Done):
            self._tell(outcome, now_ns)
        return outcome

    @contextmanager
    def _asked_by(self, source: str) -> Iterator[None]:
        """Say in the records of the context who asked for what they tell."""
        self._stage.asked_by = source
        with self._stage.match.record.wished_by(source):
            yield

    def _do(self, action: str, key: str, at_ns: int, now_ns: int) -> Outcome:
        self._stage.asked_by = key_source(key)
        own = self._programme.act(action, self._stage, now_ns)
        if own is not None:
            return own
        match action:
            case "scrap":
                return self._cancel(key, at_ns, now_ns)
            case "display":
                return self._open_entry(key, at_ns, now_ns)
        return self._do_in_any(action, at_ns, now_ns)

    def _cancel(self, key: str, at_ns: int, now_ns: int) -> Outcome:
        """Cancel the match with the second press; a finger that slips would take the calls that are still to come."""
        match, run_no = self._stage.match, self._stage.run_no
        asked, self._asked = self._asked, None
        again = asked is not None and asked[0] == run_no and at_ns - asked[1] < CANCEL_NS
        if again or match.lifecycle.phase not in ("waiting", "running", "held"):
            return match.scrap(now_ns)
        self._asked = (run_no, at_ns)
        return Done(
            tr("press {key} again within {cancel} s to cancel", key=readable(key), cancel=CANCEL_NS // NS_PER_S),
            briefly=True, here=True,
        )

    def _do_in_any(self, action: str, at_ns: int, now_ns: int, error_ns: int = 0) -> Outcome:
        """Carry out an action that every programme has, unless it is none; ``at_ns`` is known to ± ``error_ns``."""
        match = self._stage.match
        verb, _, what = action.partition(".")
        match verb:
            case "start":
                return self._start(at_ns, now_ns, error_ns)
            case "hold":
                return self._hold(now_ns)
            case "begin":
                return match.begin_period(now_ns, at_ns, error_ns)
            case "variant":
                return match.next_variant(now_ns)
            case "earlier":
                return match.nudge(now_ns, NUDGE_NS)
            case "later":
                return match.nudge(now_ns, -NUDGE_NS)
            case "sync":
                return match.sync(now_ns, at_ns, error_ns, tells_ahead="ahead" in self._programme.shows)
            case "undo":
                return self._undo(now_ns, self._stage.asked_by)
            case "call":
                return match.call(now_ns, what)
            case "plan":
                return self._choose_plan(int(what), now_ns)
            case "preflight":
                return self._preflight(now_ns)
            case "all_keys":
                until_ns = self._stage.all_keys_until_ns
                self._stage.all_keys_until_ns = 0 if now_ns < until_ns else now_ns + ALL_KEYS_NS
            case "phones":
                return self._stage.rights.give(match.lifecycle.phase, at_ns, now_ns)
            case "phones_off":
                return self._stage.rights.take_back()
            case "leave":
                return self._leave()
            case "mute" | "louder" | "softer":
                self._stage.command(verb, "sound")
        return Done()

    def _undo(self, now_ns: int, source: str) -> Outcome:
        """Take back what this scribe did last; the display is typed at the laptop alone."""
        match = self._stage.match
        typed = match.take_back_reading(now_ns) if scribe_of(source) == KEYS else None
        return typed or self._scribe.undo(match, now_ns, source)

    def _hold(self, now_ns: int) -> Outcome:
        match, told = self._stage.match, self._programme.told_of_hold
        outcome = match.hold_or_resume(now_ns)
        return Done(told) if told and outcome == Done() and match.lifecycle.phase == "held" else outcome

    def _open_entry(self, key: str, at_ns: int, now_ns: int) -> Outcome:
        """Let the display's time be typed, by the second press; a finger that slips would take a scribe's keys."""
        stage, programme = self._stage, self._programme
        if not programme.follows_display:
            return Refused(tr("no official display is followed here"))
        if stage.match.lifecycle.phase not in ENTRY_PHASES:
            return Refused(tr("the display's time can be typed while the clock goes"))
        if not stage.display_entry.asked_twice(at_ns, stage.run_no):
            within = tr("again within {twice} s", twice=TWICE_NS // NS_PER_S)
            return Done(
                tr("press {key} {within} to type what the display shows", key=readable(key), within=within),
                briefly=True, here=True,
            )
        stage.display_entry.open(now_ns, stage.run_no, stage.match.timeline)
        return Done()

    def _start(self, at_ns: int, now_ns: int, error_ns: int) -> Outcome:
        if self._stage.match.lifecycle.phase in ("over", "scrapped"):
            self._stage.wants_next = True
            return Done()
        why = self._programme.refuses_start()
        return Refused(why) if why else self._stage.match.press_start(now_ns, at_ns, error_ns)

    def _choose_plan(self, number: int, now_ns: int) -> Outcome:
        stage = self._stage
        if number >= len(stage.files.plans) or len(stage.files.plans) == 1:
            return Done()
        if stage.match.lifecycle.phase != "standby":
            return Refused(tr("another plan can be chosen in standby only"))
        if number != stage.plan_no:
            stage.reload(self._programme.piece(number), now_ns, number)
        return Done()

    def _preflight(self, now_ns: int) -> Outcome:
        if self._stage.match.lifecycle.phase != "standby":
            return Refused(tr("devices are tried in standby only"))
        self._stage.try_devices(now_ns)
        self._stage.notice(_tried(self._stage.device_states.facts()), now_ns, of_phase=True, replace_key=ANSWER)
        return Done()

    def _leave(self) -> Outcome:
        if self._stage.match.lifecycle.phase not in ("standby", "over", "scrapped"):
            return Refused(tr("cancel the match before you leave"))
        self._stage.leave("left")
        return Done()

    def _tell(self, outcome: Outcome, now_ns: int) -> None:
        match outcome:
            case Refused(why=why, here=here):
                self._stage.notice(why, now_ns, of_phase=True, replace_key=ANSWER, here=here)
            case Done(told=told, briefly=briefly, here=here) if told:
                self._stage.notice(told, now_ns, BRIEFLY_NS if briefly else LASTS_NS, replace_key=ANSWER, here=here)


def _tried(facts: Iterable[DeviceFact]) -> str:
    """Return what is tried, and what people should notice of it.

    >>> _tried([DeviceFact(what="driver", state="ready"), DeviceFact(what="sound", state="ready")])
    'trying driver, sound: felt, heard?'
    """
    tried = [fact.what for fact in facts if fact.state == "ready"]
    if not tried:
        return tr("there is no device to try")
    senses = dict.fromkeys(_SENSES.get(what, "felt") for what in tried)
    return tr("trying {tried}: {senses}?", tried=", ".join(tried), senses=", ".join(senses))
