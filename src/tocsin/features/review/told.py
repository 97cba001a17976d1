"""Say reviews as lines for a terminal: first the sentence that matters, then a line an answer, what is not known yet,
and what was left out."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import PurePath

from tocsin.analysis.review.answer import LeftOut, Review
from tocsin.analysis.review.headline import flags, headline
from tocsin.analysis.review.rounds import MATCHES, rounds_of
from tocsin.analysis.review.words.answers import details, legend, line, not_yet_lines
from tocsin.analysis.seasons.row import Row
from tocsin.features.review.changes import change_texts
from tocsin.features.review.chosen import Chosen
from tocsin.translation import tr, trn


def lines_of(
    chosen: Chosen, names: Mapping[str, str], look: Iterable[str] = (), *, example: bool = False
) -> Iterator[str]:
    """Yield all that a review says; ``names`` are those of people by key that may be told, ``look`` what was asked for
    above all, ``example`` says that the team is invented."""
    review = chosen.review
    said = headline(review)
    yield said
    yield tr("An invented team: nobody drove these rounds.") if example else ""
    yield title(review)
    yield from look
    yield from (f"  {one}" for one in crews(chosen.rows, review, names))
    yield from (f"! {one}" for one in flags(review) if one != said)
    for answer in review.answers:
        yield from (f"  {one}" for one in (line(answer), *details(answer, chosen.rows)) if one)
    if review.scope == "season" and review.trusted:
        yield from (f"  {one}" for one in _changes(chosen))
    yield from (f"  {one}" for one in not_yet_lines(review.unknown))
    if review.left_out:
        yield tr("Left out:")
        yield from (f"  {left_out_words(one)}" for one in review.left_out)
    yield from legend()


def _changes(chosen: Chosen) -> Iterator[str]:
    """Yield what followed each change of the lead, the last one with what that cannot tell."""
    *texts, last = change_texts(rounds_of(chosen.rows, next(iter(chosen.review.drills), MATCHES))) or [""]
    yield from texts[:-1]
    yield " ".join((*texts[-1:], last))


def season_lines(review: Review) -> Iterator[str]:
    """Yield the season of an evening in three lines."""
    yield title(review)
    yield f"  {headline(review)}"
    more = tr("`tocsin review --season` tells all of it.")
    yield f"  {more}"


def title(review: Review) -> str:
    """Return what was reviewed: the drill or matches, and when they were played."""
    what = ", ".join(PurePath(drill).stem for drill in review.drills) or tr("Matches")
    if not review.evenings:
        return what
    first, last = _day(review.evenings[0]), _day(review.evenings[-1])
    if review.scope == "evening":
        return tr("{what}, evening of {day}", what=what, day=first)
    return trn(
        "{what}, {count} evening: {first}", "{what}, {count} evenings: {first} to {last}", len(review.evenings),
        what=what, first=first, last=last,
    )


def crews(rows: Sequence[Row], review: Review, names: Mapping[str, str]) -> Iterator[str]:
    """Yield who played in each crew of an evening, as far as names may be told: a crew's letter names somebody only
    there."""
    if review.scope != "evening" or not names:
        return
    found: dict[str, dict[str, None]] = {}
    for row in rows:
        known = (names[key] for key in row.people.values() if key in names)
        found.setdefault(row.crew, {}).update(dict.fromkeys(known))
    for crew, people in sorted(found.items()):
        if people:
            yield tr("crew {crew}: {people}", crew=crew or "-", people=", ".join(people))


def _day(evening: str) -> str:
    """Return an evening with its day of the week: ``Fri 2031-03-14.2`` for the second one of that date."""
    try:
        return f"{date.fromisoformat(evening[:10]):%a} {evening}"
    except ValueError:                                 # nobody can tell when it was
        return evening


def left_out_words(one: LeftOut) -> str:
    """Return how many rounds are left out, and why."""
    return trn("{count} round: {why}", "{count} rounds: {why}", one.rounds, why=one.why)
