"""What all tables of all files have in common."""

from typing import ClassVar

from pydantic import BaseModel, ConfigDict, Field


class Table(BaseModel):
    """A table of a file: unknown keys are mistakes, and so are values of another type.

    ``heading`` is what a message calls it.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)
    heading: ClassVar[str] = "this table"


def needed(example: str, *, alias: str | None = None):  # type: ignore[no-untyped-def]  # pydantic's own Any
    """Return a field that must be given; ``example`` is a value as TOML writes it."""
    return Field(examples=[example], alias=alias)
