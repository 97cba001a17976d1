"""Say before a season what its evenings can show: of a drill as it would be played here."""

from tocsin.analysis.review.before.outlook import outlook_of, planned_of
from tocsin.analysis.review.before.words import outlook_lines
from tocsin.config.drills import load_drill
from tocsin.config.file_cache import NOTHING_SHARED, Shared

USUAL_DRILL = "break_off"
_NO_DEVICES = "nothing"


def lines_before(
    drill: str, *, evenings: int, crews: int = 1, plan: str | None = None, game: str | None = None,
    shared: Shared = NOTHING_SHARED,
) -> tuple[str, ...]:  # fmt: skip
    """Return what ``evenings`` of a drill can show and what they cannot, as sentences. The drill is a file or a bundled
    name, and so are ``plan`` and ``game`` in place of its own. Raises DiagnosticsError and UsageError."""
    found = load_drill(drill, _NO_DEVICES, plan, game, shared)
    return outlook_lines(outlook_of(planned_of(found.drill, evenings=evenings, crews=crews)))
