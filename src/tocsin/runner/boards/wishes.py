"""Take what boards wish: a wish goes the way of a key, under rules of its own.

It is of this very run and no older than three seconds, or later than now; it asks for one thing and not for a change;
what was asked for with the same id is done once. Marks wait on a phone while it is out of reach: those of a run that
has ended are written into its journal.
"""

from collections import OrderedDict
from collections.abc import Callable

from tocsin.journal.records import marks_of
from tocsin.model.mark import Mark, noted_error_ns, whose
from tocsin.runner.actions import Actions
from tocsin.runner.boards.late_marks import LateMarks, Written, written
from tocsin.runner.boards.offers import NEVER, SURE, is_action, known_name, labels, offers
from tocsin.runner.match.scribe import SPAN_NS, too_late
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.service.messages import OLDEST_NS, Answer, Marked, Offer, Wish
from tocsin.translation import tr
from tocsin.units import NS_PER_S

MOST_UNSURE_NS = NS_PER_S              # whose clock is less sure than this starts and corrects no other clock
MOST_IDS = 500
_TIMED = frozenset(["start", "begin", "sync"])


class Wishes:
    """Answers wishes and marks of boards. ``wake`` is called from a thread when an answer is there that took longer."""

    def __init__(self, stage: Stage, programme: Programme, actions: Actions, wake: Callable[[], None]) -> None:
        self._stage = stage
        self._programme = programme
        self._actions = actions
        self._late = LateMarks(wake)
        self._answers: OrderedDict[str, Answer | None] = OrderedDict()     # None: not written yet

    def take(self, message: Wish | Marked, now_ns: int) -> Answer | None:
        """Carry a wish or mark out, or say why not; return None for what ``answers`` will answer."""
        if message.id in self._answers:
            return self._answers[message.id]
        self._answers[message.id] = None
        if len(self._answers) > MOST_IDS:
            self._answers.popitem(last=False)
        outcome = self._wished(message, now_ns) if isinstance(message, Wish) else self._marked(message, now_ns)
        return None if outcome is None else self._answer(message.id, outcome)

    def answers(self) -> list[Answer]:
        """Return the answers that took longer than a turn."""
        return [self._take_late(late) for late in self._late.take()]

    def can(self) -> tuple[Offer, ...]:
        """Return what may be wished now."""
        return offers(self._stage, self._programme)

    def _answer(self, id: str, outcome: Outcome) -> Answer:
        match outcome:
            case Refused(why=why):
                answer = Answer(id=id, taken=False, text=why)
            case Done(told=told):
                answer = Answer(id=id, taken=True, text=told)
        self._answers[id] = answer
        return answer

    def _wished(self, wish: Wish, now_ns: int) -> Outcome:
        stage = self._stage
        if wish.action in NEVER:
            return Refused(tr("this is done at the laptop alone"))
        if wish.run != stage.wire_run:
            return Refused(tr("this was meant for another match: look what is on now"))
        if why := self._untimely(wish.at_ns, wish.error_ns, now_ns):
            return Refused(why)
        if wish.action in _TIMED and wish.error_ns > MOST_UNSURE_NS:
            return Refused(tr("this phone does not know the laptop's clock well enough yet: wait a moment"))
        if wish.action in SURE and not wish.sure:
            return Refused(tr("ask twice before a match is cancelled"))
        action = known_name(wish.action, self._programme, stage.match.lifecycle.phase)
        if not action or stage.wants_next:
            return Refused(tr("that is so already, or cannot be now"))
        if not is_action(action):
            return Refused(tr("there is no such action: {action}", action=wish.action))
        at_ns = min(wish.at_ns, now_ns)
        return self._actions.wish(
            action, at_ns, now_ns, wish.source, error_ns=max(wish.error_ns, 0), sure=wish.sure
        )

    def _untimely(self, at_ns: int, error_ns: int, now_ns: int) -> str:
        """Return what is wrong with the time of a wish, or nothing."""
        if at_ns < now_ns - OLDEST_NS:
            return tr("this came more than {oldest} s late and was not done", oldest=OLDEST_NS // NS_PER_S)
        return self._ahead(at_ns, error_ns, now_ns)

    def _ahead(self, at_ns: int, error_ns: int, now_ns: int) -> str:
        if at_ns > now_ns + max(error_ns, 0):
            return tr("this phone's clock is ahead of the laptop's: wait a moment")
        return ""

    def _marked(self, marked: Marked, now_ns: int) -> Outcome | None:
        """Note a mark, now or, of a run that has ended, in its journal; return None while that is being written."""
        stage = self._stage
        newest_ns = marked.begin_ns if marked.end_ns is None else marked.end_ns
        if why := self._ahead(newest_ns, marked.error_ns, now_ns):
            return Refused(why)
        if newest_ns < marked.begin_ns:
            return Refused(tr("a mark cannot end before it begins"))
        if marked.label not in labels(self._programme, stage):
            return Refused(tr("{label} is no mark of this match", label=marked.label))
        if marked.run == stage.wire_run and not stage.has_ended:
            return self._note(marked, now_ns)
        folder, write = stage.ended_runs.get(marked.run), self._programme.write_late
        if folder is None or write is None:
            return Refused(too_late(marked.label))
        mark = _late(marked)
        if marked.run != stage.wire_run:           # the next match may be on: nobody waits for a disk then
            self._late.want(marked.id, write, folder, mark)
            return None
        late = written(marked.id, write, folder, mark)
        self._judge(late)
        return late.outcome

    def _note(self, marked: Marked, now_ns: int) -> Outcome:
        known = marks_of(self._stage.match.record.kept)
        if any((one.source, one.begin_ns) == (marked.source, marked.begin_ns) for one in known):
            return Done()                          # sent again to a program that was started anew
        error_ns = max(marked.error_ns, 0)
        return self._actions.mark(marked.label, marked.begin_ns, marked.end_ns, now_ns, marked.source, error_ns)

    def _take_late(self, late: Written) -> Answer:
        self._judge(late)
        return self._answer(late.id, late.outcome)

    def _judge(self, late: Written) -> None:
        if isinstance(late.outcome, Done):
            self._programme.judge_late(self._stage, late.run)


def _late(marked: Marked) -> Mark:
    """Return a late mark, a point or a span by how long it was held down."""
    label, by = whose(marked.label)
    held_ns = 0 if marked.end_ns is None else marked.end_ns - marked.begin_ns
    return Mark(
        label=label, by=by, begin_ns=marked.begin_ns, end_ns=marked.end_ns if held_ns >= SPAN_NS else None,
        source=marked.source, pointlike=marked.end_ns is None, error_ns=noted_error_ns(marked.error_ns),
    )  # fmt: skip
