"""Provide the spoken words of a piece: from the cache, or made in a thread while people wait.

Nothing waits for them. A word that is not ready when a match starts is only shown in it, and cached for the next.
"""

import threading
from collections.abc import Callable, Iterable
from queue import SimpleQueue

from tocsin.journal import records
from tocsin.model.plan import ChannelName, Plan
from tocsin.model.rig import Sound
from tocsin.model.spoken import MOST_PHRASES, left_to_coach, spoken_words, too_many_words
from tocsin.runner.stage import Stage
from tocsin.speech.cache import Spoken, WordCache, words_folder
from tocsin.speech.engine import Engine
from tocsin.speech.engines import engine_of_system, fix_of_system
from tocsin.speech.synthesis import make_words
from tocsin.translation import tr
from tocsin.units import NS_PER_S
from tocsin.workers.protocol import SpokenWords

PATIENCE_NS = 2 * NS_PER_S             # what takes longer is told
ONLY_SHOWN = tr("words are only shown")
FOR_COACH = tr("words: for the coach to say")
WORDS = "words"                        # of a notice, and of a note in the journal
_LATE = tr("not ready at the start: some are only shown")


class WordMaker:
    """The words that the sound is to speak. A thread calls ``ring`` whenever there is a new one."""

    def __init__(self, ring: Callable[[], None], engine: Engine | None = None, shelf: WordCache | None = None) -> None:
        self._ring = ring
        self._engine = engine or engine_of_system()
        self._shelf = shelf or WordCache(words_folder())
        self._wish: dict[str, Spoken] = {}
        self._later: tuple[Spoken, ...] = ()
        self._awaits = False                       # whether words of the piece are still to be made
        self._for_coach = False                    # whether all is left to the coach
        self._too_many = 0
        self._words = SpokenWords()
        self._tried: dict[Spoken, str] = {}        # and why it could not be made
        self._making: tuple[Spoken, ...] = ()
        self._made: SimpleQueue[str] = SimpleQueue()
        self._progress = ""
        self._began_ns: int | None = None
        self._untold = False
        self._late_in: object = None               # the match whose journal says that words came too late

    def want(self, plan: Plan | None, sound: Sound | None, later: Iterable[Plan] = ()) -> None:
        """Take the piece to play (None if nothing of it is spoken) and the loudspeaker; begin to make the missing
        words, then those of plans that come ``later``."""
        language = plan.language if plan is not None else ""
        phrases = spoken_words(plan, sound) if plan is not None else {}
        engine = self._engine.name if self._engine else ""
        voice = sound.voice if sound is not None else ""
        wish = {cue: Spoken(engine, voice, language, phrase) for cue, phrase in phrases.items()}
        following = tuple(
            Spoken(engine, voice, other.language, phrase)
            for other in later
            for phrase in spoken_words(other, sound).values()
        )
        self._too_many = too_many_words(plan, sound) if plan is not None else 0
        for_coach = plan is not None and sound is not None and left_to_coach(plan, sound)
        if (wish, for_coach, following) != (self._wish, self._for_coach, self._later):
            self._wish, self._for_coach, self._later = wish, for_coach, following
            self._look_up()

    def words(self, channel: ChannelName) -> SpokenWords:
        """Return the available words for a channel's worker."""
        return self._words if channel == "sound" else SpokenWords()

    def turn(self, stage: Stage, now_ns: int) -> None:
        """Take new words; send them to the sound in standby only, since a match leaves no time to load them."""
        while not self._made.empty():
            why, before = self._made.get(), self._words
            self._tried |= dict.fromkeys(self._making, why)
            self._making = ()
            self._began_ns = None
            self._look_up(in_match=stage.match.armed)
            self._untold |= self._words != before          # not where only words for later were made
        if stage.match.armed:
            self._note_late(stage, now_ns)
        elif self._untold and stage.match.lifecycle.phase == "standby":
            self._untold = False
            stage.resend()
        elif self._making and self._awaits:
            self._tell_progress(stage, now_ns)

    def close(self) -> None:
        """Stop making words."""
        if self._engine is not None:
            self._engine.stop()

    def _look_up(self, *, in_match: bool = False) -> None:
        """Find the words, and begin to make those that are not there; in a match none for later."""
        found = {cue: path for cue, spoken in self._wish.items() if (path := self._shelf.find(spoken)) is not None}
        lacking = [spoken for cue, spoken in self._wish.items() if cue not in found]
        self._words = SpokenWords(files={cue: str(path) for cue, path in found.items()}, note=self._note(lacking))
        untried = tuple(dict.fromkeys(spoken for spoken in lacking if spoken not in self._tried))
        self._awaits = bool(untried)
        if not untried and not self._making and not in_match:
            later = (spoken for spoken in self._later if spoken not in self._tried)
            untried = tuple(dict.fromkeys(spoken for spoken in later if self._shelf.find(spoken) is None))
        if untried and self._engine is not None and not self._making:
            self._making = untried
            threading.Thread(target=self._make, args=(self._engine, untried), name="words", daemon=True).start()

    def _note(self, lacking: list[Spoken]) -> str:
        if self._for_coach:
            return FOR_COACH
        if self._engine is None:
            return (
                tr("no voice, {only_shown}: {fix_of_system}", only_shown=ONLY_SHOWN, fix_of_system=fix_of_system())
                if lacking
                else ""
            )
        why = next((self._tried[spoken] for spoken in lacking if self._tried.get(spoken)), "")
        if not why and self._too_many:
            return tr(
                "{too_many} {only_shown}: more than {most_phrases}", too_many=self._too_many, only_shown=ONLY_SHOWN,
                most_phrases=MOST_PHRASES,
            )
        return f"{ONLY_SHOWN}: {why}" if why else ""

    def _make(self, engine: Engine, wanted: tuple[Spoken, ...]) -> None:
        def tell(done: int, of: int) -> None:
            self._progress = tr("{done} of {of}", done=done, of=of)

        self._progress = ""
        why = tr("speaking failed")
        try:
            why = make_words(engine, self._shelf, wanted, progress=tell)
        finally:
            self._made.put(why)
            self._ring()

    def _tell_progress(self, stage: Stage, now_ns: int) -> None:
        if self._began_ns is None:
            self._began_ns = now_ns
        if now_ns - self._began_ns > PATIENCE_NS and self._progress:
            told = tr(
                "words are being made, {progress}: a match started now has only those",
                progress=self._progress,
            )
            stage.notice(told, now_ns, replace_key=WORDS)
            self._progress = ""

    def _note_late(self, stage: Stage, now_ns: int) -> None:
        """Note once in a match's journal that words come too late for it."""
        if (self._awaits or self._untold) and self._late_in is not stage.match:
            self._late_in = stage.match
            stage.match.record.add(records.Note(at_ns=now_ns, what=WORDS, text=_LATE))
