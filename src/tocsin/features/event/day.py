"""Play the matches of an event day: without sound, each with its number, after a preflight and a question of rules.

Nothing here holds a match up: the question stands in standby until somebody has pressed y or n, and where nobody can
press a key it is not asked. Digits choose plans, so the number is changed by the keys that would change the sound and
the clock, which mean nothing in standby here.
"""

from collections.abc import Callable
from datetime import date

from tocsin import monotime
from tocsin.config.load import Loaded
from tocsin.features.event.preflight import Walk
from tocsin.features.event.rules import EventRules
from tocsin.features.records.matches import Matches
from tocsin.journal import records
from tocsin.model.clock.origins import Phase
from tocsin.readable import typed
from tocsin.runner.ending import Ending
from tocsin.runner.keymap import SOUND
from tocsin.runner.options import MATCH_NUMBER, MOST_MATCHES, RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.power import Battery, battery
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr

# Actions that change the number in standby, in the order in which they are told, and by how much.
STEPS = {"louder": 1, "softer": -1, "later": 10, "earlier": -10}
ALLOWED = tr("Rules asked today: laptop and wireless allowed at the field")
PIT = tr("Leave it in the pit, use the card:")
_NO_BREAK = "\N{NO-BREAK SPACE}"


class EventDay(Matches):
    """Plays matches of an event. ``rules`` is what the event lets stand at the field, as people said; the options'
    ``match`` is the first match's number, None while nobody has said it."""

    def __init__(
        self,
        files: Loaded,
        options: RunOptions,
        rules: EventRules,
        today: Callable[[], date] = monotime.today,
        read_battery: Callable[[], Battery | None] = battery,
    ) -> None:
        super().__init__(files, options)
        self._rules = rules
        self._today = today
        self._read_battery = read_battery
        self._battery: Battery | None = None
        self._number = options.match
        self._allowed = rules.allowed(today())
        self._turned_ns = 0
        self._asks = False                         # whether somebody can answer
        self._walk = Walk()
        self._keys: tuple[tuple[str, str], ...] = ()       # actions that change the number, and their keys
        self._preflight_key = ""
        self._plan = options.plans[0]              # as it was named
        self._notes: list[records.Note] = []

    # -- what is played

    def piece(self, plan_no: int) -> Piece:
        """Return the next match; its header says its number, if it has one."""
        piece = super().piece(plan_no)
        return piece._replace(facts={**piece.facts, MATCH_NUMBER: self._number})

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Walk on in standby; a new day asks anew."""
        super().turn(stage, now_ns)
        self._turned_ns = now_ns
        if stage.match.lifecycle.phase != "standby" or not stage.front.opened:
            self._walk.stop()
            return
        self._asks = stage.by_key and stage.front.interactive
        self._allowed = self._rules.allowed(self._today())
        self._keys = tuple((action, stage.keymap.key_for(action)) for action in STEPS)
        self._plan = self._options.plans[stage.plan_no]
        self._preflight_key = stage.keymap.key_for("preflight")
        if self._walk.walks:
            self._walk.turn(stage, now_ns, self._battery, self._allowed)

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Count on behind a match that was played; one that was cancelled comes again."""
        result = super().ended(stage, ending, now_ns)
        if ending.outcome == "over" and self._number is not None:
            self._number = min(self._number + 1, MOST_MATCHES)
        self._walk.forget()
        return result

    def title(self, stage: Stage) -> str:
        """Return the number of the match that has just ended, if it has one."""
        return super().title(stage) if self._number is None else tr("Match {number}", number=self._number)

    # -- what people see

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return what stands in standby: the number and its keys, no sound, what the rules allow, the preflight."""
        key = self._preflight_key
        how = tr(": press {preflight_key}, 10 s", preflight_key=key) if key else ""
        return self._card(now_ns, how, self._how_to_number())

    def card_afar(self, now_ns: int) -> tuple[str, ...]:
        """Return the same for boards."""
        return self._card(now_ns, "", ())

    def _card(self, now_ns: int, how: str, numbering: tuple[str, ...]) -> tuple[str, ...]:
        number = tr("match {number}", number=self._number) if self._number is not None else tr("match not numbered")
        card = typed("tocsin", "export", "--to", "card", "--plan", self._plan, "-o", "card.pdf")
        rules = {True: (ALLOWED,), False: (PIT, card), None: ()}
        return (
            tr("EVENT DAY, {number}, sound off", number=number), *numbering, *rules[self._allowed],
            *(self._walk.lines or (tr("Preflight not done{how}", how=how),)),
            *super().card(now_ns),
        )  # fmt: skip

    def _how_to_number(self) -> tuple[str, ...]:
        keys = [f"{key} {STEPS[action]:+d}".replace(" ", _NO_BREAK) for action, key in self._keys if key]
        return (tr("Another number: {keys}", keys=", ".join(keys)),) if keys else ()

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return the question of rules while it is open."""
        if phase == "standby" and self._open:
            key = stage.keymap.key_for
            no = tr("{key}: no or not asked", key=key("no")).replace(" ", _NO_BREAK)
            return tr("Rules asked: laptop and wireless allowed at the field? {key}: yes, {no}", key=key("yes"), no=no)
        return super().ask(stage, phase)

    def ask_afar(self, stage: Stage, phase: Phase) -> str:
        """Return the same for boards."""
        if phase == "standby" and self._open:
            return tr("Rules asked: laptop and wireless allowed at the field?")
        return super().ask_afar(stage, phase)

    @property
    def _open(self) -> bool:
        return self._asks and self._allowed is None

    def refuses_start(self) -> str:
        """Return that the question waits for its answer, whichever."""
        return tr("say first whether the event's rules were asked") if self._open else super().refuses_start()

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the keys of an event's standby."""
        own = super().keys(phase)
        if phase != "standby":
            return own
        answers = {None: (("yes", "allowed"), ("no", tr("no or not asked"))), False: (("yes", tr("now allowed")),)}
        return (*answers.get(self._allowed, ()), ("preflight", "preflight, 10 s"), *own)

    # -- what people do

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Take an answer, change the number, walk through the preflight."""
        if action in SOUND and stage.match.lifecycle.phase != "standby":
            return Refused(tr("sound is off at an event"))
        if stage.match.lifecycle.phase == "standby":
            if action in STEPS:
                return self._count(STEPS[action], stage)
            match action:
                case "mute":
                    return Refused(tr("sound is off at an event"))
                case "yes" | "no":
                    return self._answer(action == "yes", now_ns)
                case "preflight":
                    self._battery = self._read_battery()
                    self._walk.begin(stage, now_ns, self._battery, self._allowed)
                    return Done()
        return super().act(action, stage, now_ns)

    def _count(self, by: int, stage: Stage) -> Outcome:
        self._number = min(max((self._number or 0) + by, 1), MOST_MATCHES)
        stage.match.record.set_fact(MATCH_NUMBER, self._number)
        return Done()

    def _answer(self, allowed: bool, now_ns: int) -> Outcome:
        if self._allowed is allowed:
            return Done()
        failed = self._rules.answer(self._today(), allowed)
        self._allowed = allowed
        text = tr("asked: allowed at the field") if allowed else tr("not allowed at the field, or not asked")
        self._notes.append(records.Note(at_ns=now_ns, what=tr("event rules"), text=text))
        return Done(failed and tr("{failed}; it is asked again with the next start of Tocsin", failed=failed))

    def take_notes(self) -> list[records.Note]:
        """Return what was said and tried before the match that begins now, and that it is one without sound."""
        notes, self._notes = [*super().take_notes(), *self._notes], []
        at_ns = self._turned_ns
        notes.append(records.Note(at_ns=at_ns, what="event", text=tr("sound off")))
        if walked := self._walk.take_note():
            notes.append(records.Note(at_ns=at_ns, what="preflight", text=walked))
        return notes
