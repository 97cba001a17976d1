"""What comes up in an evening of each bundled drill: how its rounds are driven, and what people say between them."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from tests.support.people.table_crew import TABLE_CREW, Crew, Time

Habit = str
USUAL = TABLE_CREW._replace(deaf=0.0, again=0.0, moves_after=0.0, unnoted=0.0)
CREWS: dict[Habit, Crew] = {
    "as usual": USUAL,
    "does not hear": USUAL._replace(deaf=1.0, deaf_for=Time(6.0, 0.5)),
    "holds on": USUAL._replace(deaf=1.0, deaf_for=Time(6.0, 0.5)),
    "comes again": USUAL._replace(again=1.0),
    "moves after": USUAL._replace(moves_after=1.0),
    "turn not noted": USUAL._replace(unnoted=1.0),
    "slow": USUAL.slower(1.5),
    "no wrong word": USUAL._replace(word_wrong=0.0, word=Time(1.0, 0.1)),
    "wrong words": USUAL._replace(word_wrong=0.2),
}
_PUSHES: tuple[Habit, ...] = (
    *5 * ("as usual",), "never comes near", "does not hear", "comes again", "turn not noted", "takes back", "holds on",
    "not home",
)  # fmt: skip
HABITS: dict[str, tuple[Habit, ...]] = {
    "break_off": _PUSHES,
    "missing_signal": _PUSHES,
    "fork": (*5 * ("as usual",), *2 * ("moves after",), "half by two taps", "comes again", "takes back", "not home",
             "slow"),
    "three_in_a_row": ("as usual", "comes again", "half by two taps", "as usual"),
    "turn": (*7 * ("as usual",), "turn not noted", "takes back", "slow", "not home", "half by two taps"),
    "words": ("no wrong word", "wrong words", "takes back", "no wrong word", "wrong words", "no wrong word"),
}  # fmt: skip


class Course(NamedTuple):
    """What comes up in an evening, counted in results from 1: behind which of them the battery or the crew is changed
    (``crews``: who plays from then on), what is said of a result ("drop", "keep", "repeat"), which start is cancelled,
    behind which result people leave."""

    battery: tuple[int, ...] = ()
    crews: Mapping[int, str] = MappingProxyType({})
    says: Mapping[int, str] = MappingProxyType({})
    cancels: int = 0
    leaves: int = 0


COURSES = {
    "break_off": Course((3, 6, 9), {6: "B", 7: "A"}, {4: "drop"}, leaves=13),
    "missing_signal": Course((6,), says={2: "keep"}),
    "fork": Course((4, 8), says={4: "drop"}, cancels=2),
    "three_in_a_row": Course(says={2: "repeat"}),
    "turn": Course((4, 8), says={6: "drop"}),
    "words": Course(crews={1: "B", 2: "A", 3: "B", 4: "A", 5: "B"}),
}
DRILLS = tuple(COURSES)
