"""Say at the end of a drill or an evening what the evening came to: the sentence that matters, and its page as a
picture for a screen beside the runs.

The page shows no names. What it is reckoned with is loaded here only once it is asked for: the start of a drill does
not wait for it.
"""

from pathlib import Path, PurePath
from typing import TYPE_CHECKING

import msgspec

from tocsin import files
from tocsin.features.records.season_rows import season_rows
from tocsin.translation import tr

if TYPE_CHECKING:
    from tocsin.features.review.chosen import Chosen


class Closing(msgspec.Struct, frozen=True, kw_only=True):
    """What an evening's rounds of a ``drill`` came to in a ``sentence``, and where its ``page`` lies, empty if it could
    not be written; then ``trouble`` says why."""

    drill: str
    sentence: str
    page: str = ""
    trouble: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """Both for people."""
        page = tr("Its page: {page}", page=self.page) if self.page else self.trouble
        return tr("This evening, {drill}: {sentence}", drill=self.drill, sentence=self.sentence), page


def sentence(runs: Path, drill: str) -> str:
    """Return the sentence of the newest evening's rounds of a drill, empty where none counts. Raises JournalError."""
    from tocsin.analysis.review.headline import headline

    found = _newest(runs, drill)
    return headline(found.review) if found and _counts(found) else ""


def why_no_sentence(runs: Path) -> str:
    """Return why there is nothing to say of the drill that was played last, empty where a round of it counts or none
    was played. Raises JournalError."""
    from tocsin.analysis.review.rounds import rounds_of

    found = _newest(runs, None, of_newest_drill=True)
    if found is None or _counts(found):
        return ""
    rounds = rounds_of(found.rows)
    lost = [one for one in rounds.left_out if one.lost]
    return tr("No round counted tonight: {why}.", why="; ".join(one.why for one in lost or rounds.left_out))


def closing_of(runs: Path, *, of_newest_drill: bool) -> Closing | None:
    """Write the page of the newest evening beside the runs, of the drill played last or of the one played most; return
    what it says, None where no round counts. Raises JournalError if the runs cannot be read."""
    from tocsin.analysis.review.headline import headline
    from tocsin.features.review.pages import draw

    found = _newest(runs, None, of_newest_drill=of_newest_drill)
    if found is None or not _counts(found):
        return None
    path, said = runs / f"review_{found.review.evenings[-1]}.png", headline(found.review)
    drill = PurePath(found.review.drills[0]).stem
    page = draw(found.review, found.rows, kind="png", size="screen", names={})
    try:
        files.write_whole(path, page, private=True)
    except OSError as error:
        return Closing(drill=drill, sentence=said, trouble=tr("The page cannot be written: {error}", error=error))
    return Closing(drill=drill, sentence=said, page=str(path))


def _newest(runs: Path, drill: str | None, *, of_newest_drill: bool = False) -> "Chosen | None":
    """Return the review of the newest evening with rounds of a drill, None without one."""
    from tocsin.features.review.chosen import ReviewRequest, reviewed

    rows = [row for row in season_rows([runs], lambda broken: None) if row.drill]      # of broken runs others tell
    if of_newest_drill and rows:
        drill = rows[-1].drill
    return next(iter(reviewed([row for row in rows if drill in (None, row.drill)], ReviewRequest())), None)


def _counts(found: "Chosen") -> bool:
    return any(row.counted for row in found.rows)
