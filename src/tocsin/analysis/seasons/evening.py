"""Give evenings their dates: that which people had where the first run began, so what is played after midnight is of
it."""

from collections.abc import Mapping
from datetime import date, datetime

import msgspec

from tocsin.model.evening import is_same_evening


class Evening(msgspec.Struct, frozen=True):
    """An evening by the local date of its first run; ``number`` tells several of one date apart, from 1."""

    date: date
    number: int = 1

    @property
    def name(self) -> str:
        """The evening in files and options: its date, and a number behind the first of that date."""
        return self.date.isoformat() + (f".{self.number}" if self.number > 1 else "")


def evenings(begins: Mapping[str, datetime]) -> dict[str, Evening]:
    """Return the evening of each run, by whatever tells runs apart; ``begins`` are with their zones."""
    found: dict[str, Evening] = {}
    of_date: dict[date, int] = {}
    last: datetime | None = None
    for key, begin in sorted(begins.items(), key=lambda item: item[1]):
        if last is None or not is_same_evening(last.timestamp(), begin.timestamp()):
            day = begin.date()
            of_date[day] = of_date.get(day, 0) + 1
            evening = Evening(day, of_date[day])
        found[key], last = evening, begin
    return found
