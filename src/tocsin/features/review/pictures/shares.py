"""Shares as dots with whiskers: contact, home, what was still on; matches beside practice. Pure."""

from tocsin.analysis.review.answer import Figure, Review
from tocsin.export.drawing.look import Picture
from tocsin.features.review.pictures.whiskers import Axis, WhiskerRow, plot_of, tall_of
from tocsin.translation import tr

_NAMES: dict[str, str] = {
    "contact": tr("contact"), "home_full": tr("home"), "home_half": tr("half home"), "home_none": tr("not home"),
    "on_at_lead": tr("still pushing as the window began"),
}  # fmt: skip
_MATCH = "match"
_PLACES: dict[str, str] = {
    "contact practice": tr("contact in practice, push on at the call"),
    f"contact {_MATCH}": tr("contact in matches, push on at the call (diamond)"),
}
_ONLY_IF_ANY = ("home_half", "home_none")
_AXIS = Axis(0.0, 100.0)


def shares(review: Review) -> Picture | None:
    """Return the picture of all shares that are told; None if there is none."""
    rows = [row for figure in _figures(review) if (row := _row(figure)) is not None]
    if not rows:
        return None
    sentence = tr("The longer the line, the less we know.")
    return Picture(tr("How many of 100"), plot_of(rows, _AXIS), sentence, tall_of(rows, _AXIS))


def _figures(review: Review) -> list[Figure]:
    """Return the shares in the order of the questions, behind all contacts those of practice and matches; nothing of
    what never was."""
    answers = sorted(
        (answer for answer in review.answers if answer.question not in ("trust", "better")),
        key=lambda answer: answer.question not in ("contact", "matches"),
    )
    found = [figure for answer in answers for figure in answer.figures if figure.unit == "share"]
    return [
        figure for figure in found if not (figure.name in _ONLY_IF_ANY and not figure.value and not figure.at_most)
    ]


def _key(figure: Figure) -> str:
    return f"{figure.name} {figure.of}".rstrip()


def _row(figure: Figure) -> WhiskerRow | None:
    name = _NAMES.get(figure.name) if not figure.of else _PLACES.get(_key(figure))
    if name is None or figure.value is None or figure.low is None or figure.high is None:
        return None
    told = tr("{count} of {rounds}", count=figure.count, rounds=figure.rounds) if figure.count is not None else ""
    return WhiskerRow(
        name, told, 100 * figure.low, 100 * figure.value, 100 * figure.high, diamond=figure.of == _MATCH
    )
