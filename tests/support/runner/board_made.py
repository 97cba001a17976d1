"""A board at a desk: it wishes and marks as a phone does, without a phone, a network or a service."""

import itertools

from tocsin.runner.boards.wishes import Wishes
from tocsin.service.messages import Marked, Wish
from tocsin.units import NS_PER_S as S


class MadeBoard:
    """A board with a number at a desk; several share the desk's ``wishes``."""

    _ids = itertools.count()

    def __init__(self, desk, number=1, wishes=None):
        self.desk = desk
        self.source = f"board {number}"
        self.wishes = wishes or Wishes(desk.stage, desk.programme, desk.actions, lambda: None)

    def other(self, number):
        """Return another board at the same desk."""
        return MadeBoard(self.desk, number, self.wishes)

    @property
    def can(self):
        """What may be wished now, by its name."""
        return {offer.action: offer for offer in self.wishes.can()}

    def wish(self, action, *, ago_s=0.0, error_ms=5, sure=False, run=None, id=None):
        """Wish for an action; return the answer."""
        now_ns = self.desk.now_ns
        wish = Wish(
            id=id or f"{next(self._ids):032x}", run=self.desk.stage.wire_run if run is None else run, action=action,
            at_ns=now_ns - round(ago_s * S), error_ns=error_ms * 1_000_000, source=self.source, sure=sure,
        )  # fmt: skip
        return self.wishes.take(wish, now_ns)

    def mark(self, label, *, ago_s=0.0, held_s=0.1, error_ms=5, run=None, id=None):
        """Note a mark whose finger went up just now, or ``ago_s`` before; return the answer."""
        end_ns = self.desk.now_ns - round(ago_s * S)
        mark = Marked(
            id=id or f"{next(self._ids):032x}", run=self.desk.stage.wire_run if run is None else run, label=label,
            begin_ns=end_ns - round((held_s or 0) * S), end_ns=None if held_s is None else end_ns,
            error_ns=error_ms * 1_000_000, source=self.source,
        )  # fmt: skip
        return self.wishes.take(mark, self.desk.now_ns)
