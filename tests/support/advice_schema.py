"""Make the JSON Schema of advice from its types: ``python -m tests.support.advice_schema`` writes it anew."""

import json
from pathlib import Path
from typing import Any

import msgspec

import tocsin.features.advice
from tocsin.features.advice.answer import AdviceDocument

FILE = Path(tocsin.features.advice.__file__).with_name("schema.json")


def schema() -> dict[str, Any]:
    """Return the schema; every field is written, so every field is required."""
    found = msgspec.json.schema(AdviceDocument)
    for one in found["$defs"].values():
        if one.get("type") == "object" and "properties" in one:
            one["required"] = list(one["properties"])
            for field in one["properties"].values():
                field.pop("default", None)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What Tocsin says of a plan's leads (tocsin-advice/1)", **found,
    }  # fmt: skip


def written() -> str:
    """Return the schema as it stands in its file."""
    return json.dumps(schema(), indent=1) + "\n"


if __name__ == "__main__":
    FILE.write_text(written(), "utf-8")
