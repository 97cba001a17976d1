"""Keep a match's final score as a note in its journal: the official one, as people read it off; a later one counts."""

import re
from collections.abc import Iterable

import msgspec

from tocsin.errors import UsageError
from tocsin.features.records.round_files import append_note
from tocsin.journal import records
from tocsin.journal.reader import Journal
from tocsin.runner.options import BLOCK, ROUND
from tocsin.translation import tr

_SCORE = "score"                       # ``what`` of the note
_NONE = "none"
_US, _THEM = "us", "them"
_MOST = 9_999                          # points, far above what any match comes to
_FORM = re.compile(r"([0-9]{1,4}) ?: ?([0-9]{1,4})")


class Score(msgspec.Struct, frozen=True):
    """Points of a match, ours first."""

    us: int
    them: int

    @property
    def text(self) -> str:
        """The score as it is typed."""
        return f"{self.us}:{self.them}"


def score_of(run: Iterable[records.Record]) -> Score | None:
    """Return the score that was noted last, None if there is none, it was taken back, or it cannot be one."""
    notes = [record for record in run if isinstance(record, records.Note) and record.what == _SCORE]
    if not notes:
        return None
    us, them = (notes[-1].values.get(side, -1) for side in (_US, _THEM))
    fits = all(float(points).is_integer() and 0 <= points <= _MOST for points in (us, them))
    return Score(int(us), int(them)) if fits else None


def note_score(journal: Journal, text: str, now_ns: int) -> None:
    """Note a match's score of ``text``, ours first, or by ``none`` that there is none. Raises UsageError for what is no
    score or no match, JournalError."""
    found = _FORM.fullmatch(text.strip())
    if found is None and text.strip() != _NONE:
        raise UsageError(
            tr("'{text}' is not a score", text=text),
            hint=tr("write ours first, e.g. --score 88:75, or --score {none}", none=_NONE),
        )
    if ROUND in journal.header.options or BLOCK in journal.header.options:
        raise UsageError(
            tr("that run is not a match: it has no score"), hint=tr("name the match; `tocsin runs` lists them"),
        )
    values = {_US: float(found[1]), _THEM: float(found[2])} if found else {}
    append_note(journal.path.parent, records.Note(at_ns=now_ns, what=_SCORE, values=values))
