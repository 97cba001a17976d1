"""How long the way home takes from each set-up: a dot each, hollow where it is drawn towards the others. Pure."""

from tocsin.analysis.review.answer import Review
from tocsin.export.drawing.look import Picture
from tocsin.features.review.pictures.whiskers import Axis, WhiskerRow, plot_of, tall_of
from tocsin.translation import tr

_FAR_S = 30.0                          # where a limit that is longer is cut


def ways(review: Review) -> Picture | None:
    """Return the picture of the ways home; None if none is told."""
    answer = review.answer("home")
    figures = [figure for figure in answer.figures if figure.name == "way"] if answer else []
    rows = [
        WhiskerRow(
            figure.of, tr("{value:.1f} s", value=figure.value), figure.low, figure.value, min(figure.high, _FAR_S),
            filled=not figure.pooled,
        ) for figure in figures if figure.value is not None and figure.low is not None and figure.high is not None
    ]  # fmt: skip
    if not rows:
        return None
    axis = Axis(0.0, max(row.high for row in rows) * 1.05, tr("seconds home"))
    sentence = (
        tr("The longer the line, the less we know. Hollow: few rounds, so drawn towards the others.")
        if any(not row.filled for row in rows) else tr("The longer the line, the less we know.")
    )
    return Picture(tr("The way home, by set-up"), plot_of(rows, axis), sentence, tall_of(rows, axis))
