"""A new coach at the terminal: reads each question of ``tocsin init``, and types what is true of the own team, now and
then what cannot be."""

import io
import re

from tests.support.config.teams import Team
from tocsin.config.write.answers import shown
from tocsin.units import NS_PER_S, format_clock

#: By what a person recognizes a question.
_KNOWN = {
    "autonomous": "autonomous period",
    "pause": "pause before",
    "driver": "driver-controlled period",
    "digits": "0:20 or 0:19",
    "counts": "the whole match",
    "windows": "does contact cost points",
    "contact": "How many points",
    "home": "way home?",
    "off": "break off a push",
    "who": "Who plays",
}


class NewCoach(io.StringIO):
    """A terminal's keyboard; what it shows goes to ``screen``.

    ``says`` are the answers by question, several if the first ones do not fit; a question that is not among them is
    answered by Enter. ``asked`` are the questions in order, ``keys`` counts each key that was pressed.
    """

    def __init__(self, says: dict[str, list[str]], screen: io.StringIO) -> None:
        super().__init__()
        self._says = {question: list(answers) for question, answers in says.items()}
        self.screen = screen
        self.asked: list[str] = []
        self.keys = 0

    def isatty(self) -> bool:
        return True

    def readline(self, size: int | None = -1, /) -> str:
        """Read the question that stands on the screen, and type the answer."""
        line = self.screen.getvalue().splitlines()[-1]
        known = [name for name, words in _KNOWN.items() if words in line]
        assert len(known) == 1, f"nobody knows what is asked: {line}"
        assert re.search(r"\[.+\] $", line), f"nobody knows what Enter gives: {line}"
        self.asked.append(known[0])
        answers = self._says.get(known[0], [])
        answer = answers.pop(0) if answers else ""
        self.keys += len(answer) + 1
        self.screen.write(f"{answer}\n")           # as a terminal does
        return f"{answer}\n"


def facts_of(team: Team, style: int) -> dict[str, list[str]]:
    """Return the answers of a team, its times in one of several ways to write them; times that cannot be come first."""
    game = team.game
    windows = ", ".join(
        f"{shown(span.begin_left_ns)}-{shown(span.end_left_ns)}" if span.end_left_ns else shown(span.begin_left_ns)
        for span in reversed(game.spans)
    )
    return {
        "autonomous": [_told(game.autonomous_ns, style)],
        "pause": ["key" if game.pause_ns is None else _told(game.pause_ns, style)],
        "driver": ["3s", _told(game.driver_ns, style)],
        "digits": ["0:20" if game.digits == "ceil" else "0:19"],
        "counts": [game.counts],
        "windows": [shown(game.driver_ns + NS_PER_S), windows or "none"],
        "contact": [str(game.contact)],
        "home": ["1h", _told(team.times.home_ns, style)],
        "off": ["0s", _told(team.times.off_ns, style)],
        "who": ["Ann, Ben; Cleo"],
    }


def _told(ns: int, style: int) -> str:
    if not ns:
        return ("0", "none")[style % 2]
    return (format_clock(ns), f"{ns / NS_PER_S:g}", shown(ns), f"{ns / NS_PER_S:g} s")[style % 4]
