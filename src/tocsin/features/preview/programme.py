"""Play single cues as a programme: each is a match of its own that starts a second ahead of it and ends behind it.

By keys a person goes forward, back, or repeats; without anybody to press a key, the cues follow each other. Between two
cues the lights get time to go dark for the flash limit: however fast somebody presses, no second holds more flashes
than in a run.
"""

from collections.abc import Sequence

from tocsin.config.load import Loaded
from tocsin.features.preview.cue import AHEAD_NS, CuePreview
from tocsin.features.preview.result import ShownCue, outcome_lines, shown_of
from tocsin.features.trial.questions import Questions
from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import DeviceFact
from tocsin.model.spoken import spoken_words
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Piece, Stage
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

DARK_NS = NS_PER_S + 100 * NS_PER_MS   # the way out of the light is free within a second
SPOKEN_NS = 2 * NS_PER_S               # in which a cue's tone and word have sounded
PAUSE_NS = 2 * NS_PER_S                # between cues that follow each other by themselves
CAUTIONS = (
    tr(
        "Caution: screen and strip light up, pads shake, sounds come. Ask first whether flashing light harms anybody "
        "here.",
    ),
    tr("Nobody has an ear at the loudspeaker or looks into the strip from near."),
)
_STEPS = {"start": 1, "repeat": 0, "earlier": -1}
_CUE = "cue"                           # of a notice: what is shown
_SOUND = ("mute", "louder", "softer")
USED = (*_STEPS, *_SOUND, "preflight", "leave", "yes", "no")


class Previews(Programme):
    """Plays cues one after another; ``by_key`` waits for a person before each, if anybody can press a key.

    ``questions`` come before the first. ``shown`` are the cues played so far, ``devices`` those of the end.
    """

    results_stand = True
    reloads = False
    keys_alone = True

    def __init__(
        self, files: Loaded, options: RunOptions, cues: Sequence[CuePreview], questions: Questions, *, by_key: bool
    ) -> None:  # fmt: skip
        super().__init__(files, options)
        self._found = files.plans[0]
        self._cues = tuple(cues)
        self._by_key = by_key
        self._questions = questions
        self._interactive = False
        self._place = 0
        self._begun = False                # whether any cue has been asked for
        self._to: int | None = None        # the place of the cue that comes next, once the present one has gone dark
        self._due_ns: int | None = None    # when that is to be shown
        self._ends_ns: int | None = None   # when the cue that is on has been shown
        self.shown: list[ShownCue] = []
        self.devices: tuple[DeviceFact, ...] = ()

    # -- what is played

    def piece(self, plan_no: int) -> Piece:
        """Return the current cue. People see the cue's own moment as the begin, not the one a second earlier, since
        that is the moment they look for."""
        cue, plan = self._cues[self._place], self._found.plan
        return Piece(self._files, cue.timeline, plan.patterns, cue.at, {}, plan=plan, begins=cue.begin)

    @property
    def finished(self) -> bool:
        """Whether all cues that come by themselves have been shown."""
        return self._to is None and self._due_ns is None and not self._waits

    @property
    def _waits(self) -> bool:
        """Whether a person says what comes next."""
        return self._by_key and self._interactive

    @property
    def _asks(self) -> bool:
        """Whether a question waits for somebody who can answer it."""
        return self._interactive and self._questions.open

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Start a cue that is due, and end the match behind it."""
        match = stage.match
        if match.lifecycle.phase == "standby":
            if not stage.front.opened:
                return
            self._interactive = stage.front.interactive
            if not self._begun and not self._waits and not self._asks:
                self._begun, self._due_ns = True, now_ns
            if self._due_ns is not None and now_ns >= self._due_ns:
                self._go_to_next(stage, now_ns)
                self._start(stage, now_ns)
        elif self._ends_ns is not None and now_ns >= self._ends_ns:
            self._ends_ns = None
            match.break_off(now_ns, DARK_NS)

    def _go_to_next(self, stage: Stage, now_ns: int) -> None:
        if self._to is not None:
            self._place, self._to = self._to, None
            stage.reload(self.piece(stage.plan_no), now_ns)

    def _start(self, stage: Stage, now_ns: int) -> None:
        self._due_ns = None
        cue = self._cues[self._place]
        speaks = cue.cue in spoken_words(self._found.plan, stage.rig.sound)
        lasts_ns = AHEAD_NS + max(cue.lasts_ns, SPOKEN_NS if speaks else 0)
        stage.match.start_now(now_ns, cue.wait_ns)
        stage.notice(f"{cue.title}: {cue.about}", now_ns, lasts_ns, replace_key=_CUE)
        self._ends_ns = now_ns + lasts_ns

    # -- what people see

    def card(self, now_ns: int) -> tuple[str, ...]:
        """Return the cue that was shown, or comes by itself, and its result."""
        if not self._begun:
            return (tr("{count} cues, in order of time", count=len(self._cues)), *CAUTIONS)
        cue = self._cues[self._place]
        lines = (
            tr("{place} of {count}: {title}", place=self._place + 1, count=len(self._cues), title=cue.title), cue.about,
        )
        return (*lines, *(outcome_lines(self.shown[-1]) if self.shown and self._to is None else ()))

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return which key shows the next cue."""
        if self._asks:
            return self._questions.ask(stage.keymap)
        if not self._waits:
            return ""
        key = stage.keymap.key_for
        place = self._place + 1 if self._begun else 0
        if place == len(self._cues):
            return tr("That was the last one. {key}: leave", key=key("leave"))
        return tr("Press {key}: {title}", key=key("start"), title=self._cues[place].title)

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return all keys with an action."""
        if not self._interactive:
            return ()
        if self._asks:
            return (("yes", "yes"), ("no", "no"), ("preflight", tr("try every device")), ("leave", "leave"))
        steps = (("start", "next"), ("repeat", "again"), ("earlier", "back")) if self._by_key else ()
        tries = (("preflight", tr("try every device")),) if self._by_key and phase == "standby" else ()
        return (*steps, *tries, ("softer", "softer"), ("louder", "louder"), ("leave", "leave"))

    # -- what people do

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Go forward, back, repeat or leave; beside these a preview only changes the volume."""
        phase = stage.match.lifecycle.phase
        if action == "leave":
            stage.leave("left")
            return Done()
        if action in _SOUND or (action == "preflight" and phase == "standby"):
            return None
        if action in ("yes", "no") and self._asks:
            return self._questions.answer(action, now_ns)
        if action in _STEPS and self._asks:
            return Refused(tr("answer the question first"))
        if action in _STEPS and self._waits:
            return self._go(_STEPS[action], stage, now_ns)
        return Done()

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Note a shown cue, and go on to the requested or next one."""
        self.devices = stage.device_states.facts()
        self._ends_ns = None
        if not stage.match.record.begun:
            return ()                      # left before a cue was started
        cue = self._cues[self._place]
        shown = shown_of(cue, stage.match.record.kept)
        if shown.parts or not any(channel in stage.channels for channel in cue.patterns):
            self.shown.append(shown)       # else somebody went on before it came
        stage.wants_next = True
        if self._to is not None:
            self._due_ns = now_ns
        elif not self._waits and self._place + 1 < len(self._cues):
            self._to = self._place + 1
            self._due_ns = now_ns + (PAUSE_NS if self._by_key else 0)
        return ()

    def _go(self, step: int, stage: Stage, now_ns: int) -> Outcome:
        """Show the cue so many places on: at once, or as soon as the one that is on has gone dark."""
        place = self._place if self._to is None else self._to
        place = place + step if self._begun else 0
        if not 0 <= place < len(self._cues):
            return Refused(tr("that was the last cue") if step > 0 else tr("that is the first cue"))
        self._begun, self._to = True, place
        if stage.match.lifecycle.phase == "standby":
            self._due_ns = now_ns
        elif self._ends_ns is not None:
            self._ends_ns = now_ns
        return Done()
