"""List every finding by its stable code: the sentence, the reason, the fix, and its limits.

Each stands beside what finds it. ``{name}`` stands for a fact of the finding. Codes never change their meaning:
programs read them.
"""

from tocsin.lint.budgets import KINDS_OF_BUDGETS
from tocsin.lint.clashes import KINDS_OF_CLASHES
from tocsin.lint.colours import KINDS_OF_COLOURS
from tocsin.lint.drills import KINDS_OF_DRILLS
from tocsin.lint.finding import Kind
from tocsin.lint.flashing import KINDS_OF_FLASHING
from tocsin.lint.hands import KINDS_OF_HANDS
from tocsin.lint.leads import KINDS_OF_LEADS
from tocsin.lint.senses import KINDS_OF_SENSES
from tocsin.lint.sounds import KINDS_OF_SOUNDS
from tocsin.lint.spoken_words import KINDS_OF_WORDS
from tocsin.translation import tr

_ALL = (
    KINDS_OF_FLASHING | KINDS_OF_LEADS | KINDS_OF_WORDS | KINDS_OF_HANDS | KINDS_OF_SENSES | KINDS_OF_COLOURS
    | KINDS_OF_CLASHES | KINDS_OF_SOUNDS | KINDS_OF_BUDGETS | KINDS_OF_DRILLS
)
KINDS: dict[str, Kind] = {
    code: kind._replace(says=tr(kind.says), why=tr(kind.why), fix=tr(kind.fix)) for code, kind in _ALL.items()
}
