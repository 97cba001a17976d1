"""Say what the evening came to while a drill's last result stands: reckoned in a thread, so that no key waits for it.

Who knows evenings gives the sentence; it is told anew if a mark changes the result.
"""

import contextlib
import threading
from collections.abc import Callable
from queue import SimpleQueue

from tocsin.model.clock.origins import NEVER_NS
from tocsin.runner.stage import Stage
from tocsin.translation import tr

Sentence = Callable[[str], str]
"""Returns the one sentence that matters of the evening's rounds of a drill, by its name; empty if there is none."""
_CLOSING = "closing"                   # of a notice


class Closing:
    """Tells the sentence of the evening as a notice, once no round is to come."""

    def __init__(self, sentence: Sentence | None, drill: str) -> None:
        self._sentence = sentence
        self._drill = drill
        self._of: tuple[str, ...] = ()         # the result that it was asked for
        self._made: SimpleQueue[tuple[tuple[str, ...], str]] = SimpleQueue()

    def turn(self, stage: Stage, now_ns: int, result: tuple[str, ...]) -> None:
        """Have the sentence made for the drill's last ``result``, empty while rounds are to come; tell it once it is
        there."""
        if self._sentence is not None and result != self._of:
            self._of = result
            stage.notices.drop(_CLOSING)
            if result:
                threading.Thread(target=self._make, args=(self._sentence, result), name="closing", daemon=True).start()
        while not self._made.empty():
            result, said = self._made.get()
            if said and result == self._of:
                told = tr("This evening: {sentence}", sentence=said)
                stage.notice(told, now_ns, NEVER_NS - now_ns, of_phase=True, replace_key=_CLOSING)

    def _make(self, sentence: Sentence, result: tuple[str, ...]) -> None:
        # Whatever is wrong with it is told once the drill is over, where there is room for it.
        with contextlib.suppress(Exception):
            self._made.put((result, sentence(self._drill)))
