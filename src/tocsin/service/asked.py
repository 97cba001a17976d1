"""Keep what boards asked for by its id, with the first answer that it got: asked again, nothing is done twice."""

from collections import OrderedDict

from tornado.concurrent import Future

from tocsin.service.bodies import MarkBody, WishBody
from tocsin.service.messages import Answer

MOST_KEPT = 500
Asking = tuple[str, WishBody | MarkBody]     # whose, and what


class Asked:
    """The last things that were asked for."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, tuple[Asking, Future[Answer]]] = OrderedDict()

    def find(self, asking: Asking) -> Future[Answer] | None:
        """Return the answer, to come or there, of what was asked before by the same one with the same id and words.

        Raises ValueError if the id was used for something else.
        """
        kept = self._kept.get(asking[1].id)
        if kept is None:
            return None
        if kept[0] != asking:
            raise ValueError(asking[1].id)
        return kept[1]

    def add(self, asking: Asking) -> Future[Answer]:
        """Return the answer to come of something new."""
        answer: Future[Answer] = Future()
        self._kept[asking[1].id] = (asking, answer)
        if len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)
        return answer

    def answer(self, answer: Answer) -> None:
        """Take what the conductor said; only the first answer counts."""
        kept = self._kept.get(answer.id)
        if kept is not None and not kept[1].done():
            kept[1].set_result(answer)
