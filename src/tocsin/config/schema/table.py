"""Define the base class of all tables in all files."""

from typing import ClassVar

from pydantic import BaseModel, ConfigDict, Field

from tocsin.translation import tr


class Table(BaseModel):
    """A table of a file: an unknown key is a mistake, and so is a value of another type.

    Messages call it by its ``heading``.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True)
    heading: ClassVar[str] = tr("this table")


def needed(example: str, *, alias: str | None = None):  # type: ignore[no-untyped-def]  # pydantic's own Any
    """Return a required field; ``example`` is a value as TOML writes it."""
    return Field(examples=[example], alias=alias)
