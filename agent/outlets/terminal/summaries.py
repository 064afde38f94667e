"""What signals came to by the quarter of an hour, as a table, CSV or JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from agent.outlets.shown import Display
from agent.outlets.times import iso
from agent.units import Dimension

_SI = {
    Dimension.TEMPERATURE: "degC",
    Dimension.PRESSURE: "Pa",
    Dimension.DIFFERENCE: "K",
    Dimension.FREQUENCY: "Hz",
    Dimension.CURRENT: "A",
    Dimension.RATIO: "/",
}
_DECIMALS = 6


class Summed(NamedTuple):
    """A signal's numbers in a quarter of an hour: SI where the dimension is known, else as received."""

    from_us: int
    signal: str
    figures: tuple[float, float, float]  # the least, the mean, the most
    dimension: Dimension | None
    unit: str | None  # as received, where the dimension is not known
    number: int  # how many readings


class Counted(NamedTuple):
    """How often a signal had a value that is no number, in a quarter of an hour."""

    from_us: int
    signal: str
    value: float | int | str
    number: int


def summary_rows(
    found: Iterable[Summed | Counted], display: Display | None = None
) -> Iterator[dict[str, Any]]:
    """One row for each quarter, signal and unit, or value. ``display``: of people; None: SI, for programs."""
    for each in found:
        least, mean, most, unit, value = None, None, None, None, None
        if isinstance(each, Counted):
            value = each.value
        else:
            (least, mean, most), unit = _figures(each, display)
        yield {
            "time": iso(each.from_us),
            "signal": each.signal,
            "least": least,
            "mean": mean,
            "most": most,
            "unit": unit,
            "value": value,
            "readings": each.number,
        }


def _figures(each: Summed, display: Display | None) -> tuple[list[Any], str | None]:
    unit = each.unit if each.dimension is None else _SI[each.dimension]
    if display is None:
        return [round(figure, _DECIMALS) for figure in each.figures], unit
    match each.dimension:
        case Dimension.TEMPERATURE:
            return [f"{display.temperature(figure):.1f}" for figure in each.figures], display.temperature_unit
        case Dimension.DIFFERENCE:
            return [f"{display.difference(figure):.1f}" for figure in each.figures], display.difference_unit
        case Dimension.PRESSURE:
            decimals = 2 if display.pressure_unit == "bar" else 1
            told = [f"{display.pressure(figure):.{decimals}f}" for figure in each.figures]
            return told, f"{display.pressure_unit} absolute"
    return [f"{round(figure, 3):g}" for figure in each.figures], unit
