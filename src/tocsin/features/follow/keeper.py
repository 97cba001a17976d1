"""Put together what was heard of a keeper: its run so far, its clock, what may be seen of the run. Pure."""

from collections.abc import Iterable
from pathlib import Path

import msgspec

from tocsin.errors import BrokenRunError
from tocsin.features.follow.heard import Heard, KeeperName, RecordLine, Refusal
from tocsin.features.follow.shift import shifted
from tocsin.journal import records
from tocsin.journal.past import Past, past_of
from tocsin.journal.reader import Journal, journal_of, reckoning
from tocsin.model.clock.exchange import Exchange, Offset, OffsetFilter
from tocsin.service.bodies import RunSoFar, State
from tocsin.units import NS_PER_MS, NS_PER_S

MOST_RECORDS = 20_000                  # of one run; it has some hundred
ASK_AGAIN_NS = NS_PER_S                # for a run that is missing
# After a jump of a clock its laptop needs a moment to put its own match right.
JUMPED_NS = 300 * NS_PER_MS
_FOLLOWED = (records.OriginRecord, records.State, records.End)


class KeeperRun(msgspec.Struct, frozen=True):
    """A run of the keeper's program: its number there, its header, and the records that a follower goes by.

    ``count`` is how many records of it are known, the others among them."""

    number: int
    header: records.Header
    records: tuple[records.Record, ...]
    count: int

    @property
    def begun(self) -> bool:
        """Whether its clock has been started."""
        return any(isinstance(record, records.OriginRecord) for record in self.records)

    @property
    def ended(self) -> bool:
        """Whether nothing of it is to come."""
        return any(
            isinstance(record, records.End) or (isinstance(record, records.State) and "scrapped" in record.states)
            for record in self.records
        )


class Keeper:
    """What is known of the keeper at ``place``. ``run`` is its present run, ``state`` what it showed last, ``refusal``
    why it cannot be followed now."""

    def __init__(self, place: str) -> None:
        self.place = place
        self._lines: set[bytes] = set()    # of the run: a line may come twice
        self.run: KeeperRun | None = None
        self.state: State | None = None
        self.refusal: Refusal | None = None
        self.asks_clock = False            # whether its clock is to be read anew, quickly
        self._clock = OffsetFilter()
        self._read_ns: int | None = None   # when the newest exchange was sent
        self._whole_ns = 0                 # when a whole run, or a correction after sleep, came
        self._ask_run_ns: int | None = 0   # from when on the run is to be fetched; None: it is there
        self._name = b""                   # whose run it is, by a broker's field,
        self._heard_name = b""             # and who is heard there now
        self._others_state: State | None = None

    def take(self, heard: Iterable[Heard], now_ns: int) -> None:
        """Take what was heard."""
        for one in heard:
            if self.is_other and isinstance(one, Exchange | RunSoFar | RecordLine | State):
                self._take_others(one)
            match one:
                case KeeperName():
                    self._take_name(one.name, now_ns)
                case Exchange() | RunSoFar() | RecordLine() | State() if self.is_other:
                    pass                           # of another match, by another clock
                case Exchange():
                    self._take_exchange(one, now_ns)
                case RunSoFar():
                    self._take_run(one, now_ns)
                case RecordLine():
                    self._take_record(one, now_ns)
                case State():
                    self.state = one
                    if self.run is None or one.run != self.run.number:
                        self._ask_run(now_ns)
                case Refusal():
                    self.refusal = one

    @property
    def is_other(self) -> bool:
        """Whether another keeper is heard now than the one whose run this is."""
        return self._heard_name != self._name

    def go_over(self, now_ns: int) -> None:
        """Follow whoever is heard now: the run of the other one is over here."""
        self._name, self.asks_clock, self._ask_run_ns = self._heard_name, True, now_ns
        self.state = self._others_state or self.state
        self._clock.forget()

    def refuse(self, why: str, hint: str = "") -> None:
        """Note why its run cannot be played here."""
        self.refusal = Refusal(why, hint)

    def slept(self) -> None:
        """Take it that this laptop slept: nothing is known of the other's clock any more."""
        self._clock.forget()
        self.asks_clock = True

    def wants_run(self, now_ns: int) -> bool:
        """Return whether the run is to be fetched now; asked again after a while if it does not come."""
        if self._ask_run_ns is None or now_ns < self._ask_run_ns:
            return False
        self._ask_run_ns = now_ns + ASK_AGAIN_NS
        return True

    def offset(self, now_ns: int) -> Offset | None:
        """Return how far its clock lies ahead of this laptop's; None while that is not known for sure."""
        return self._clock.at(now_ns)

    @property
    def settled(self) -> bool:
        """Whether its clock was read after its run was fetched: no sleep of a laptop lies between the two."""
        return self._ask_run_ns is None and self._read_ns is not None and self._read_ns >= self._whole_ns

    def past(self, offset: Offset) -> Past:
        """Return the present run as a past one, by this laptop's clock. Raises BrokenRunError for records that
        contradict each other."""
        assert self.run is not None
        kept = shifted((self.run.header, *self.run.records), -offset.offset_ns)
        journal = Journal(path=Path(self.place), records=kept)
        with reckoning(journal):
            return past_of(journal)

    def _take_exchange(self, exchange: Exchange, now_ns: int) -> None:
        self._read_ns = exchange.sent_ns
        if self._clock.take(exchange):
            self._ask_run_ns, self.asks_clock = now_ns + JUMPED_NS, True

    def _take_name(self, name: bytes, now_ns: int) -> None:
        known, self._heard_name, self._others_state = self._name, name, None
        if not known:
            self._name = name
        elif self.is_other and self.run is not None and self.run.begun and not self.run.ended:
            self._ask_run_ns = now_ns              # it may be the same run, gone on with
        elif self.is_other:
            self.go_over(now_ns)

    def _take_others(self, one: Exchange | RunSoFar | RecordLine | State) -> None:
        """Take what another keeper says: it is the same one if it goes on with the same run."""
        if isinstance(one, State):
            self._others_state = one
        elif isinstance(one, RunSoFar):
            self._ask_run_ns = None
            if self.run is not None and one.run == self.run.number:
                self._name = self._heard_name
                self.state = self._others_state or self.state

    def _ask_run(self, now_ns: int) -> None:
        if self._ask_run_ns is None:
            self._ask_run_ns = now_ns

    def _take_run(self, so_far: RunSoFar, now_ns: int) -> None:
        if not so_far.records:
            return                                     # asked before its first was there
        try:
            journal = journal_of(Path(self.place), b"".join(bytes(line) + b"\n" for line in so_far.records))
        except BrokenRunError as error:
            self.refusal = Refusal(str(error), error.hint)
            return
        kept = tuple(record for record in journal.records if isinstance(record, _FOLLOWED))
        self._lines = {bytes(line) for line in so_far.records}
        self.run = KeeperRun(so_far.run, journal.header, kept[:MOST_RECORDS], len(self._lines))
        self.refusal, self._ask_run_ns, self._whole_ns, self.asks_clock = None, None, now_ns, True

    def _take_record(self, line: RecordLine, now_ns: int) -> None:
        run = self.run
        if run is None or line.run != run.number:
            self._ask_run(now_ns)
        if run is None or line.run != run.number or line.line in self._lines or run.count >= MOST_RECORDS:
            return
        self._lines.add(line.line)
        record = _record_of(line.line)
        kept = (*run.records, record) if isinstance(record, _FOLLOWED) else run.records
        self.run = KeeperRun(run.number, run.header, kept, run.count + 1)
        if isinstance(record, records.OriginRecord) and record.cause == "sleep":
            self._whole_ns, self.asks_clock = now_ns, True


def _record_of(line: bytes) -> records.Record | None:
    try:
        return records.decode(line)
    except msgspec.DecodeError:
        return None                                    # no record: nothing follows from it
