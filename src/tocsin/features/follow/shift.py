"""Tell a run's records by another laptop's clock: so what makes a run go on after a crash makes one follow. Pure."""

from collections.abc import Iterable, Mapping

import msgspec

from tocsin.journal import records

# The times of the shared clock in each kind of record; an end's are those of its run, and nothing follows from them.
TIMES: Mapping[type[records.Record], tuple[str, ...]] = {
    records.Header: ("at_ns",),
    records.OriginRecord: ("at_ns", "origin_ns", "starts_ns"),
    records.State: ("at_ns", "held_ns"),
    records.FiringRecord: ("at_ns",),
    records.MarkRecord: ("at_ns", "begin_ns", "end_ns"),
    records.Device: ("at_ns",),
    records.Fault: ("at_ns",),
    records.Note: ("at_ns",),
    records.End: ("at_ns",),
}
_NONE_IF_ZERO = ("starts_ns",)         # 0 says that there is no such time


def shifted(run: Iterable[records.Record], by_ns: int) -> tuple[records.Record, ...]:
    """Return a run's records with every time of the shared clock later by ``by_ns``."""
    return tuple(_shifted(record, by_ns) for record in run)


def _shifted(record: records.Record, by_ns: int) -> records.Record:
    moved = {}
    for name in TIMES[type(record)]:
        value = getattr(record, name)
        if value is not None and not (name in _NONE_IF_ZERO and value == 0):
            moved[name] = value + by_ns
    return msgspec.structs.replace(record, **moved)
