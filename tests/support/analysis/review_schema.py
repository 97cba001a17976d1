"""Write the JSON Schema of reviews anew, by the types that make the document.

``python -m tests.support.analysis.review_schema``; look at what it changes: other programs read by it, and what they
cannot bear needs a new format.
"""

import json
from pathlib import Path

import msgspec

import tocsin.features.review
from tocsin.features.review.document import ReviewDocument

PATH = Path(tocsin.features.review.__file__).with_name("schema.json")


def written():
    """Return the schema as text, its parts in the order in which the document holds them."""
    (whole,), parts = msgspec.json.schema_components([ReviewDocument], ref_template="#/$defs/{name}")
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What Tocsin says of evenings (tocsin-review/1)", **whole, "$defs": dict(reversed(parts.items())),
    }  # fmt: skip
    return json.dumps(_plain(schema), indent=1) + "\n"


def _plain(value):
    """Return the schema with its descriptions in the words of JSON, each on one line."""
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if not isinstance(value, dict):
        return value
    return {
        key: " ".join(inner.replace("None", "null").split()) if key == "description" and isinstance(inner, str)
        else _plain(inner)
        for key, inner in value.items()
    }  # fmt: skip


if __name__ == "__main__":
    PATH.write_text(written(), "utf-8")
