"""The sentence that matters and one picture, as large as a screen has room: what the end of a drill shows. Pure."""

from tocsin.analysis.review.answer import Review
from tocsin.analysis.review.headline import headline
from tocsin.export.drawing.flow import one_page
from tocsin.export.drawing.look import Look, Picture
from tocsin.export.drawing.shapes import Page, stacked
from tocsin.features.review.told import title
from tocsin.translation import tr

_SIZES = (1.0, 0.85, 0.7, 0.6)         # of the sentence


def screen_page(review: Review, picture: Picture | None, look: Look, *, example: bool) -> Page:
    """Return the page; a long sentence is smaller, so that the picture has room."""
    style = look.style
    about = tr("Invented: {title}", title=title(review)) if example else title(review)
    for size in _SIZES:
        said = look.text(headline(review), style.inner_mm, size * style.headline_em, "word", bold=True)
        blocks = [look.text(about, style.inner_mm, look.em_mm, "detail", lines=1), said]
        if picture is not None:
            used_mm = sum(block.height_mm + style.gap_mm for block in blocks) + picture.texts_mm(style.inner_mm, look)
            blocks.append(picture.drawn(style.inner_mm, style.height_mm - 2 * style.margin_mm - used_mm, look))
        page = one_page(stacked(blocks, style.gap_mm), look)
        if page.height_mm <= style.height_mm:
            break
    return page
