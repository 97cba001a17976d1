"""Read the state of a run that was cut short, as far as its continuation needs it."""

from collections import Counter
from pathlib import Path

import msgspec

from tocsin.errors import JournalError
from tocsin.journal.clock_history import ClockHistory
from tocsin.journal.place import same_boot
from tocsin.journal.reader import Journal, OnBroken, newest_unfinished, reckoning
from tocsin.journal.records import Device, FiringKey, FiringRecord, Header, OriginRecord, Record, State, Worker
from tocsin.journal.short_name import short_name
from tocsin.model.clock.origins import Origin
from tocsin.translation import tr


class Past(msgspec.Struct, frozen=True, kw_only=True):
    """A run so far.

    ``origins`` are the newest of each anchor and instance, without withdrawn ones; ``instances`` counts the instances
    of an anchor so far, so that the next call or mark gets a new one. ``error_ms`` is the ± of the newest origin that
    had one, ``early_ms`` by how much calls came before that of the latest segment. ``states`` is the last settled
    configuration and ``held_ns`` the shared time at which the clock stopped, None while it runs. ``fired`` holds all
    firings with a recorded outcome, ``given`` the numbers of those that calls by hand replaced. ``workers`` are all
    processes that the run ever started. ``last_ns`` is when the last record was made.
    """

    journal: Journal
    header: Header
    origins: tuple[Origin, ...]
    instances: dict[str, int]
    error_ms: int | None
    early_ms: int
    variant: str
    states: tuple[str, ...]
    held_ns: int | None
    fired: frozenset[FiringKey]
    given: frozenset[int]
    workers: tuple[Worker, ...]
    last_ns: int

    @property
    def folder(self) -> Path:
        """Return the run's folder."""
        return self.journal.path.parent


def past_of(journal: Journal) -> Past:
    """Return the state of a journal's run."""
    records = journal.records
    history = ClockHistory(records)
    states = [record for record in records if isinstance(record, State)]
    origins = [record for record in records if isinstance(record, OriginRecord)]
    variants = [state.variant for state in states if state.variant is not None]
    errors = [origin.error_ms for origin in origins if origin.error_ms is not None]
    return Past(
        journal=journal,
        header=journal.header,
        origins=history.newest(),
        instances=_instances(origins),
        error_ms=errors[-1] if errors else None,
        early_ms=history.early_ms(),
        variant=variants[-1] if variants else "",
        states=states[-1].states if states else (),
        held_ns=_held_ns(states),
        fired=frozenset(record.key() for record in records if isinstance(record, FiringRecord)),
        given=frozenset(no for origin in origins for no in origin.gives),
        workers=workers_of(records),
        last_ns=max(record.at_ns for record in records),
    )


def newest_past(runs: Path, boot: str, on_broken: OnBroken) -> Past:
    """Return the newest run without an ``end`` that may continue in this start of the machine (``boot``); unreadable
    ones are skipped, and ``on_broken`` gets them.

    Raises JournalError if there is none, if the machine was started again, so that its clock counts from another
    origin, or if a file in its header was changed.
    """
    journal = newest_unfinished(runs, on_broken)
    if journal is None:
        raise JournalError(
            tr("{runs}: there is no run to go on with", runs=runs), hint=tr("start one with `tocsin run`"),
        )
    name = short_name(journal.path.parent)
    with reckoning(journal):
        past = past_of(journal)
    if not same_boot(past.header.boot, boot):
        raise JournalError(
            tr("{name}: the laptop was restarted, so the match clock is gone", name=name),
            hint=tr("start a new run, late, with `tocsin run --from MOMENT`"),
        )
    if changed := [file.name for file in past.header.files if not file.intact()]:
        raise JournalError(
            tr("{name}: the journal was changed by hand: {changed}", name=name, changed=", ".join(changed)),
            hint=tr("start a new run"),
        )
    return past


def _instances(origins: list[OriginRecord]) -> dict[str, int]:
    counts: Counter[str] = Counter()
    for origin in origins:
        counts[origin.anchor] = max(counts[origin.anchor], origin.instance + 1)
    return dict(counts)


def _held_ns(states: list[State]) -> int | None:
    """Return when the clock stopped: as the state says, else when it was recorded; None if it is not held now."""
    if not states or "held" not in states[-1].states:
        return None
    begin = states[-1]
    for state in reversed(states):
        if "held" not in state.states:
            break
        begin = state
    return begin.held_ns if begin.held_ns is not None else begin.at_ns


def workers_of(records: tuple[Record, ...]) -> tuple[Worker, ...]:
    """Return all processes that a run ever started."""
    workers: dict[tuple[int, float], Worker] = {}
    for record in records:
        found: tuple[Worker, ...] = ()
        if isinstance(record, Header):
            found = record.workers
        elif isinstance(record, Device) and record.worker is not None:
            found = (record.worker,)
        workers.update({(worker.pid, worker.started_s): worker for worker in found})
    return tuple(workers.values())
