"""Make the state of a run for the eyes of each right: once, however many look on."""

import msgspec

from tocsin.model.clock.origins import Phase
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.timeline.timeline import Timeline
from tocsin.readable import utf8_json
from tocsin.service import eyes
from tocsin.service.boards import Boards
from tocsin.service.bodies import State, You
from tocsin.service.messages import Away, Offer, Right, Show

_IN_MATCH: tuple[Phase, ...] = ("waiting", "running", "held")
_MARK = "mark."
_YOU = b'"you":'                       # the last key of a state


class Shown:
    """A state for one right. ``timeless`` tells it from another one, whenever that was."""

    def __init__(self, state: State) -> None:
        self.timeless = msgspec.structs.replace(state, now_ns=0)
        self._head, _, _ = utf8_json(state).rpartition(_YOU)

    def json(self, you: You) -> bytes:
        """Return the state as JSON for one of those who have its right."""
        return b"%s%s%s}" % (self._head, _YOU, utf8_json(you))


class States:
    """The run as it was shown last."""

    def __init__(self) -> None:
        self._maker: ViewModelMaker | None = None
        self._show: Show | None = None
        self._away = Away("")

    @property
    def can(self) -> tuple[Offer, ...]:
        """All that may be wished now."""
        return () if self._show is None else self._show.can

    def play(self, timeline: Timeline, *, anew: bool) -> None:
        """Take what is played from now on; ``anew`` is another run, which has to be shown first."""
        self._maker = ViewModelMaker(timeline)
        self._show = None if anew else self._show

    def show(self, show: Show) -> bool:
        """Take the newest status; return whether it is another one."""
        before, self._show = (self._show, self._away), show
        self._away = Away("")
        return before != (show, self._away)

    def leave(self, away: Away) -> None:
        """Take why nothing is played from now on, until something is shown again. The last word is kept."""
        self._away = self._away if self._away.ends else away

    def at(self, right: Right, boards: Boards, now_ns: int) -> Shown | None:
        """Return the state for all who have a right; None before the conductor has shown any."""
        if self._show is None or self._maker is None:
            return None
        status = eyes.status_for(self._show.status, right)
        return Shown(
            State(
                run=self._show.run, now_ns=now_ns, status=status, view=self._maker.at(status, now_ns),
                can=_offers(self._can, right), boards=boards.here,
                programs=boards.listening, away=self._away.text, you=You(number=0, right=right),
            )
        )  # fmt: skip

    @property
    def _can(self) -> tuple[Offer, ...]:
        """What may be wished: while nobody is there nothing, but marks of a match that was cut short wait for it."""
        if not self._away.text:
            return self.can
        cut_short = self._show is not None and self._show.status.phase in _IN_MATCH
        return tuple(offer for offer in self.can if cut_short and offer.action.startswith(_MARK))

    def stale_ns(self, now_ns: int) -> int | None:
        """Return when the words change by themselves."""
        if self._show is None or self._maker is None:
            return None
        return self._maker.at(self._show.status, now_ns).stale_ns


def _offers(offers: tuple[Offer, ...], right: Right) -> tuple[Offer, ...]:
    """Return what of all that may be wished somebody is offered."""
    if right == "steer":
        return offers
    if right == "watch":
        return ()
    return tuple(offer for offer in offers if offer.action == "undo" or offer.action.startswith(_MARK))
