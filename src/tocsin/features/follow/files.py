"""Make of a keeper's header what is played here: its game, plan and timeline on this laptop's own rig.

The header is data of others: its files are read as texts and never opened by name, and nothing of its options is taken
but which plan is played, in which language, at which rate. It brings no label and no key of a person along.
"""

from typing import Annotated, Any, NamedTuple

import msgspec

from tocsin.config.files import FileText, file_text
from tocsin.config.load import Loaded, LoadedPlan, load_texts
from tocsin.config.reading import DRILL, RIG, format_of
from tocsin.config.toml.document import Document
from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.model.clock.lifecycle import MAX_RATE, MIN_RATE
from tocsin.model.plan import DEFAULT_LANGUAGE
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.match.count_in import with_count_in_patterns
from tocsin.runner.options import plan_no_of
from tocsin.service.eyes import bare_name
from tocsin.translation import tr

_Rate = Annotated[float, msgspec.Meta(ge=MIN_RATE, le=MAX_RATE)]
_MOST_LANGUAGE = 40
_UNNAMED = "file"


class Played(NamedTuple):
    """What a keeper plays, on this laptop's rig: the files with the one plan, and the timeline with its count-in."""

    files: Loaded
    timeline: Timeline

    @property
    def plan(self) -> LoadedPlan:
        """The plan that is played."""
        return self.files.plans[0]


def played_of(header: records.Header, rig: FileText) -> Played:
    """Return what a header says is played. Raises JournalError if it does not hold it, MistakeError for files that this
    version refuses."""
    if header.timeline is None:
        raise JournalError(tr("the keeper sent no timeline"), hint=tr("start it anew"))
    if not all(file.intact() for file in header.files):
        raise JournalError(tr("the keeper's files came damaged"), hint=tr("start it anew"))
    wanted = [file for file in header.files if not _is_left_out(file)]
    texts = [file_text("", bare_name(file.name) or _UNNAMED, file.text) for file in wanted]
    loaded = load_texts([*texts, rig], _language(header.options))
    plan = loaded.plans[min(plan_no_of(header.options), len(loaded.plans) - 1)]
    _demand_patterns(header.timeline, plan)
    return Played(loaded._replace(plans=(plan,)), header.timeline)


def rate_of(options: dict[str, Any]) -> float:
    """Return the rate of a header's options, 1 where none is said that can be."""
    try:
        rate: float = msgspec.convert(options.get("rate", 1.0), _Rate)
    except msgspec.ValidationError:
        return 1.0
    return rate


def _language(options: dict[str, Any]) -> str:
    found = options.get("language", DEFAULT_LANGUAGE)
    return found if isinstance(found, str) and len(found) <= _MOST_LANGUAGE else DEFAULT_LANGUAGE


def _is_left_out(file: records.FileRecord) -> bool:
    """Return whether a file is the keeper's rig, whose devices are not here, or a drill, which the keeper leads."""
    found = format_of(Document(file.name, file.text))
    return found is RIG or found is DRILL


def _demand_patterns(timeline: Timeline, plan: LoadedPlan) -> None:
    """Check that whatever the timeline gives can be given."""
    patterns = msgspec.structs.asdict(with_count_in_patterns(plan.plan.patterns))
    for firing in timeline.firings:
        if firing.pattern not in patterns[firing.channel]:
            raise JournalError(tr("the keeper's timeline and its plan do not fit together"), hint=tr("start it anew"))
