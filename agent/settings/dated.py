"""A module's layouts over time: one name, or several with the day from which each holds, who says so and why.

A correction never erases what was believed before: it is one more entry.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from agent.settings.names import Name

Text = Annotated[str, Field(min_length=1)]


def moment_us(text: str) -> int:
    """A day (its first instant in UTC) or a time with its offset, in us of UTC. Raises ValueError."""
    if "T" not in text and " " not in text:
        day = date.fromisoformat(text)
        found = datetime(day.year, day.month, day.day, tzinfo=UTC)
    else:
        found = datetime.fromisoformat(text)
        if found.tzinfo is None:
            raise ValueError(f"{text} states no offset")
    return round(found.timestamp() * 1e6)


def _moment(text: str) -> str:
    try:
        moment_us(text)
    except ValueError:
        right = "a day such as 2026-11-20, or a time with its offset such as 2026-11-20T14:00+01:00"
        raise PydanticCustomError("moment", right) from None
    return text


class DatedLayout(BaseModel):
    """A layout and from when on it holds."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    layout: Name = Field(description="name of a layout file, or unknown")
    valid_from: Annotated[str, AfterValidator(_moment)] | None = Field(
        None, description="a day in UTC or a time with its offset; the first entry has none"
    )
    by: Text | None = Field(None, description="who says so")
    why: Text | None = Field(None, description="what it rests on")
    signal_set: Name | None = Field(None, description="where the points are other signals under this layout")
    proven: dict[Name, Literal["ahead", "after"]] = Field(
        default_factory=dict,
        description="on which side of the inlets that the layout leaves open a probe was found to sit",
    )

    @property
    def from_us(self) -> int:
        """0 for the first entry: it holds since ever."""
        return 0 if self.valid_from is None else moment_us(self.valid_from)


def _listed(value: Any) -> Any:
    return [{"layout": value}] if isinstance(value, str) else value


def _in_order(entries: list[DatedLayout]) -> list[DatedLayout]:
    if not entries:
        raise PydanticCustomError("no_layout", "the name of a layout, or a list of at least one entry")
    if entries[0].valid_from is not None:
        raise PydanticCustomError("first", "a first entry without valid_from: it holds since ever")
    for before, after in zip(entries, entries[1:], strict=False):
        if after.valid_from is None or after.by is None or after.why is None:
            raise PydanticCustomError("undated", "valid_from, by and why in every entry after the first")
        if after.from_us <= before.from_us:
            raise PydanticCustomError(
                "order", "entries in the order of valid_from, each later than the one before"
            )
    return entries


DatedLayouts = Annotated[
    list[DatedLayout],
    AfterValidator(_in_order),
    BeforeValidator(_listed, json_schema_input_type=Name | list[DatedLayout]),
]
