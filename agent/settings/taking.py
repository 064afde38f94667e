"""From readings as received to what plausibility looks at: SI, and what else the values could have meant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from agent.assess import Other, Taken
from agent.settings.signals import Conversion, word
from agent.units import UNITS, Dimension, Unit, as_another

ATMOSPHERE_PA = 101_325.0
_TENTHS = Unit(Dimension.TEMPERATURE, 0.1)
_MEANT = {
    Dimension.TEMPERATURE: {f"in {name}": UNITS[name] for name in ("degC", "degF", "K")},
    Dimension.PRESSURE: {
        f"in {name}": UNITS[name] for name in ("bar", "psi", "kPa", "MPa", "Pa", "hPa", "kgf/cm2")
    },
}


def take(
    conversion: Conversion,
    sample_us: npt.NDArray[np.int64],
    values: Sequence[float | int | str],
    units: Sequence[str | None],
) -> Taken:
    """One signal's readings in time order. ``units``: as the payload states them, None where it does not."""
    samples = conversion.samples(sample_us, values, units)
    stated = next((unit for unit in reversed(units) if unit is not None), None)
    unit = stated if stated in UNITS else conversion.unit
    return Taken(
        time_us=samples.time_us,
        raw=values,
        value=samples.value,
        dimension=conversion.dimension or "",
        unit=shown_unit(conversion, unit),
        units=_other_units(conversion, unit, values),
        references=_other_references(conversion),
        words=frozenset(conversion.words) if conversion.words is not None else None,
        strange=_strange(conversion, values),
    )


def shown_unit(conversion: Conversion, unit: str | None) -> str:
    """A unit as a sentence shows it: a pressure says what it is counted from."""
    if conversion.dimension is not Dimension.PRESSURE:
        return unit or ""
    return f"{unit} {'gauge' if conversion.reference_pa else 'absolute'}"


def _other_units(
    conversion: Conversion, unit: str | None, values: Sequence[float | int | str]
) -> tuple[Other, ...]:
    meant = dict(_MEANT.get(conversion.dimension, {})) if conversion.dimension else {}
    if not meant or unit is None:
        return ()
    if conversion.dimension is Dimension.TEMPERATURE and not any(
        isinstance(v, float) and v % 1 for v in values
    ):
        meant["in tenths of degC"] = _TENTHS  # which come as whole numbers
    read = UNITS[unit]
    return tuple(
        Other(name, *as_another(unit, other, conversion.reference_pa))
        for name, other in meant.items()
        if (other.factor, other.offset) != (read.factor, read.offset)
    )


def _other_references(conversion: Conversion) -> tuple[Other, ...]:
    if conversion.dimension is not Dimension.PRESSURE:
        return ()
    if conversion.reference_pa:
        return (Other("as absolute", 1.0, -conversion.reference_pa),)
    return (Other("as gauge", 1.0, ATMOSPHERE_PA),)


def _strange(conversion: Conversion, values: Sequence[float | int | str]) -> tuple[str, ...]:
    """A state's values without a meaning, each once."""
    if conversion.dimension is not None:
        return ()
    found = {word(value): value for value in values}
    if conversion.words is not None:
        return tuple(each for each in found if each not in conversion.words)
    return tuple(each for each, value in found.items() if isinstance(value, str))
