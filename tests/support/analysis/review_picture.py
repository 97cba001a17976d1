"""Draw the picture of the README: the page of an evening of the invented team that comes with Tocsin.

``python -m tests.support.analysis.review_picture hardware_notes/evening.png``; look at it before it is committed.
"""

import sys
from io import BytesIO
from pathlib import Path

from PIL import Image

from tocsin.features.records.example_season import example_rows
from tocsin.features.review.chosen import ReviewRequest, reviewed
from tocsin.features.review.pages import page_of


def main(path):
    """Write the picture."""
    (evening,) = reviewed(example_rows(), ReviewRequest())
    page = page_of(evening, ReviewRequest(), path, "a4", {}, example=True)
    Image.open(BytesIO(page)).convert("L").quantize(16).save(path, optimize=True)      # a quarter as large


if __name__ == "__main__":
    main(Path(sys.argv[1]))
