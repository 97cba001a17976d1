"""Take what boards wish: a wish goes the way of a key, under rules of its own."""

from tocsin.runner.actions import Actions
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.service.messages import Answer, Marked, Offer, Wish
from tocsin.translation import tr


class Wishes:
    """Answers wishes and marks of boards."""

    def __init__(self, stage: Stage, programme: Programme, actions: Actions) -> None:
        self._stage = stage
        self._programme = programme
        self._actions = actions

    def take(self, message: Wish | Marked, now_ns: int) -> Answer:
        """Carry a wish or mark out, or say why not."""
        return Answer(id=message.id, taken=False, text=tr("boards only watch here"))

    def can(self) -> tuple[Offer, ...]:
        """Return what may be wished now."""
        return ()
