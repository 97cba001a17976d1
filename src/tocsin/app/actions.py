"""What follows from a key or a pad's button: the match, the devices or the program do something, or say why not."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from tocsin.app.keymap import Keymap
from tocsin.app.match import NUDGE_NS
from tocsin.app.messages import Command
from tocsin.app.notices import ANSWER, BRIEFLY_NS
from tocsin.app.scribe import Said, Scribe
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.model.view import DeviceFact

if TYPE_CHECKING:
    from tocsin.app.conductor import Conductor

_SOUND = ("mute", "louder", "softer")
_SENSES = {"light": "seen", "screen": "seen", "sound": "heard"}    # else it is the pad of a role


class Actions:
    """Carries out what keys ask for. ``wants_next`` is set by the start key once a match is over."""

    def __init__(self, conductor: "Conductor", rig: Rig) -> None:
        self._conductor = conductor
        self.keymap = Keymap(rig)
        self.wants_next = False
        self._scribe = Scribe()
        self._held_down: dict[str, tuple[int, str]] = {}

    def key(self, key: str, at_ns: int, now_ns: int, *, down: bool) -> None:
        """Take a key that went down or up at ``at_ns``."""
        if not down:
            if key in self._held_down:
                begin_ns, label = self._held_down.pop(key)
                self._mark(label, begin_ns, at_ns, now_ns, key)
            return
        action = self.keymap.action(key)
        if action.startswith("mark."):
            # Key repeat sends the key down again and again: the first counts.
            self._held_down.setdefault(key, (at_ns, action.removeprefix("mark.")))
        elif action:
            self._conductor.notices.drop(ANSWER)
            self._say(self._do(action, at_ns, now_ns))

    def release_all(self, now_ns: int) -> None:
        """Note the marks whose keys are still down: the run is over, and what they say has no end."""
        for key, (begin_ns, label) in self._held_down.items():
            self._conductor.match.left_open(now_ns, label, begin_ns, f"key {key}")
        self._held_down.clear()

    def _mark(self, label: str, begin_ns: int, end_ns: int, now_ns: int, key: str) -> None:
        said = self._scribe.mark(self._conductor.match, now_ns, label, begin_ns, end_ns, f"key {key}")
        self._say(self._noted(said))

    def _do(self, action: str, at_ns: int, now_ns: int) -> str:
        """Carry out an action; return why not, or nothing."""
        match = self._conductor.match
        said = self._conductor.programme.act(action, self._conductor)
        if said is not None:
            return said
        verb, _, what = action.partition(".")
        match verb:
            case "start":
                return self._start(at_ns, now_ns)
            case "scrap":
                return match.scrap(now_ns)
            case "hold":
                return match.hold_or_resume(now_ns)
            case "begin":
                return match.begin_period(now_ns, at_ns)
            case "variant":
                return match.next_variant(now_ns)
            case "earlier":
                return self._nudge(NUDGE_NS, now_ns)
            case "later":
                return self._nudge(-NUDGE_NS, now_ns)
            case "sync":
                return self._tap(at_ns, now_ns)
            case "undo":
                return self._noted(self._scribe.undo(match, now_ns, f"key of {action}"))
            case "call":
                return match.call(now_ns, what)
            case "plan":
                return self._choose_plan(int(what))
            case "preflight":
                return self._preflight(now_ns)
            case "leave":
                return self._leave()
            case _:
                if verb in _SOUND:
                    self._command(verb, "sound")
                return ""

    def _start(self, at_ns: int, now_ns: int) -> str:
        if self._conductor.match.lifecycle.phase in ("over", "scrapped"):
            self.wants_next = True
            return ""
        return self._conductor.programme.refuses_start() or self._conductor.match.press_start(now_ns, at_ns)

    def _tap(self, at_ns: int, now_ns: int) -> str:
        refused = self._conductor.match.sync(now_ns, at_ns)
        if not refused:
            self._conductor.notice(self._conductor.match.tap_told, topic=ANSWER)
        return refused

    def _nudge(self, by_ns: int, now_ns: int) -> str:
        refused = self._conductor.match.nudge(now_ns, by_ns)
        if not refused:
            self._conductor.notice(self._conductor.match.nudge_told, topic=ANSWER)
        return refused

    def _choose_plan(self, number: int) -> str:
        conductor = self._conductor
        if number >= len(conductor.files.plans) or len(conductor.files.plans) == 1:
            return ""
        if conductor.match.lifecycle.phase != "standby":
            return "another plan can be chosen in standby only"
        conductor.load_plan(number)
        return ""

    def _preflight(self, now_ns: int) -> str:
        if self._conductor.match.lifecycle.phase != "standby":
            return "devices are tried in standby only"
        self._command("preflight", None)
        self._conductor.faces.show_test(now_ns)
        self._conductor.notice(_tried(self._conductor.board.facts()), of_phase=True, topic=ANSWER)
        return ""

    def _leave(self) -> str:
        if self._conductor.match.lifecycle.phase not in ("standby", "over", "scrapped"):
            return "scrap the match before you leave"
        self._conductor.leave("left")
        return ""

    def _command(self, verb: str, channel: ChannelName | None) -> None:
        self._conductor.supervision.send(Command(verb), channel)

    def _noted(self, said: Said) -> str:
        """Say briefly what was noted; return what was refused, or nothing."""
        if not said.refused:
            self._conductor.notice(said.noted, BRIEFLY_NS, topic=ANSWER)
        return said.refused

    def _say(self, refused: str) -> None:
        if refused:
            self._conductor.notice(refused, of_phase=True, topic=ANSWER)


def _tried(facts: Iterable[DeviceFact]) -> str:
    """Return what is tried, and what people should notice of it.

    >>> _tried([DeviceFact(what="driver", state="ready"), DeviceFact(what="sound", state="ready")])
    'trying driver, sound: felt, heard?'
    """
    tried = [fact.what for fact in facts if fact.state == "ready"]
    if not tried:
        return "there is no device to try"
    senses = dict.fromkeys(_SENSES.get(what, "felt") for what in tried)
    return f"trying {', '.join(tried)}: {', '.join(senses)}?"
