"""Describe the service for programs (OpenAPI 3.1), made from its types."""

from functools import cache
from typing import Any

import msgspec

from tocsin.service import bodies

_TYPES = (
    bodies.ClockBody, bodies.ClockReading, bodies.MarkBody, bodies.Problem, bodies.Rights, bodies.RightsBody,
    bodies.RunSoFar, bodies.State, bodies.Taken, bodies.WishBody,
)  # fmt: skip


@cache
def description(version: str) -> bytes:
    """Return the description as JSON."""
    _, schemas = msgspec.json.schema_components(_TYPES, ref_template="#/components/schemas/{name}")
    value: dict[str, Any] = {
        "openapi": "3.1.0",
        "info": {"title": "Tocsin", "version": version},
        "paths": {},
        "components": {"schemas": schemas},
    }
    return msgspec.json.encode(value, order="sorted")
