"""The other explanation: the machine is as usual, and one sensor is off by the same amount all along.

Each sensor moves the signs that are made of it, and no other, each by as much as the figures say. It knows
only what the signs are made of, no limits and no faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from agent.assess.assessment import (
    CURRENT,
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
)
from agent.assess.causes.signs import DECIDED, Sign, is_above_air
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.assess.signals import OUTDOOR_AIR
from agent.assess.typical import CONDENSING_C, quiet_valves, typical_dew_c
from agent.piping import (
    RETURN,
    RISE,
    LiquidFitness,
    Situation,
    subcooling_probes,
)
from agent.thermo import COVERAGE_FACTOR, dew_pressure, dew_slope


class Offset(NamedTuple):
    """One sensor that reads too high by ``size_k``: which signs it explains, and which it does not."""

    sensor: str
    size_k: float  # of a pressure: in saturation temperature
    effects: Mapping[str, float]  # sign to what 1 K makes of it
    fits: frozenset[str]  # decided signs that have moved by as much as it would make them
    misfits: frozenset[str]  # signs that have not
    is_ordinary: bool  # no more than the sensor may be wrong by anyway


def offsets(module: Module, mode: str, signs: Mapping[str, Sign]) -> list[Offset]:
    """Every sensor that would explain at least one of the signs."""
    found = (_fitted(module, sensor, effects, signs) for sensor, effects in _effects(module, mode, signs))
    return [offset for offset in found if offset is not None]


def unclear(sensor: str, module: Module) -> tuple[str, ...]:
    """Kinds of signs that a sensor moves by an amount nobody knows: they say nothing of it."""
    layout = module.layout
    is_pressure = sensor in (layout.suction_transducer, layout.discharge_transducer)
    return (DISCHARGE_MARGIN, CURRENT) if is_pressure else ()


def _fitted(
    module: Module, sensor: str, effects: Mapping[str, float], signs: Mapping[str, Sign]
) -> Offset | None:
    known = {name: each for name, each in effects.items() if name in signs and not signs[name].why}
    weight = sum((each / signs[name].scale) ** 2 for name, each in known.items())
    if not weight:
        return None
    size_k = sum(each * signs[name].deviation / signs[name].scale ** 2 for name, each in known.items())
    size_k /= weight
    close = {
        name
        for name, each in known.items()
        if abs(signs[name].deviation - each * size_k) < DECIDED * signs[name].scale
    }
    fits = frozenset(name for name in close if signs[name].direction)
    if not fits:
        return None
    is_ordinary = abs(size_k) <= _limit_k(module, sensor)
    return Offset(sensor, size_k, effects, fits, frozenset(known) - close, is_ordinary)


def _limit_k(module: Module, sensor: str) -> float:
    """Expanded uncertainty of a sensor, that of a pressure in saturation temperature."""
    limit = COVERAGE_FACTOR * uncertainty(module, sensor)
    layout = module.layout
    if sensor not in (layout.suction_transducer, layout.discharge_transducer):
        return limit
    dew_c = typical_dew_c("cooling") if sensor == layout.suction_transducer else CONDENSING_C
    return limit * float(dew_slope(module.refrigerant, dew_pressure(module.refrigerant, dew_c)))


def _effects(
    module: Module, mode: str, signs: Mapping[str, Sign]
) -> Iterator[tuple[str, Mapping[str, float]]]:
    layout, given = module.layout, module.signals
    valves = quiet_valves(layout, mode)
    suction = {SATURATED_SUCTION: 1.0, RETURN: -1.0, PRESSURE_RATIO: -_ratio_per_k(module, mode, signs)}
    yield layout.suction_transducer, suction
    if layout.discharge_transducer:
        per_k = _ratio_per_k(module, mode, signs, condensing=True)
        effects = {SATURATED_CONDENSING: 1.0, SUBCOOLING: 1.0, PRESSURE_RATIO: per_k}
        effects |= {DISCHARGE_SUPERHEAT + name: -1.0 for name in layout.compressors}
        yield layout.discharge_transducer, effects
    places = layout.choose(mode, valves, layout.compressors, set(given)).places
    made = {probe: {RETURN: 1.0} for probe in places[RETURN].probes}
    late, *reference = places[RISE].probes or ("",)
    for probe in reference:
        made.setdefault(probe, {})[RISE] = -1.0
    if late:
        made.setdefault(late, {})[RISE] = 1.0
    situation = Situation.of(mode, valves, layout.compressors)
    liquid = subcooling_probes(layout, situation, set(given)) if layout.liquid else {}
    made |= {
        probe: {SUBCOOLING: -1.0} for probe, worth in liquid.items() if worth.verdict is LiquidFitness.FIT
    }
    for name in layout.compressors:
        own = layout.discharge_of(name)
        if own:
            kinds = (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN)
            made.setdefault(own, {}).update({kind + name: 1.0 for kind in kinds})
    saturations = (SATURATED_CONDENSING, SATURATED_SUCTION)
    made[OUTDOOR_AIR] = {name: -1.0 for name in saturations if is_above_air(name, mode)}
    yield from ((probe, effects) for probe, effects in made.items() if probe in given)


def _ratio_per_k(module: Module, mode: str, signs: Mapping[str, Sign], *, condensing: bool = False) -> float:
    """What 1 K of saturation on one side makes of the pressure ratio as it is usually."""
    ratio = signs[PRESSURE_RATIO]
    dew_c = CONDENSING_C if condensing else typical_dew_c(mode)  # the share per kelvin hardly differs near by
    share = dew_pressure(module.refrigerant, dew_c + 0.5) / dew_pressure(module.refrigerant, dew_c - 0.5) - 1
    return share * (ratio.now - ratio.deviation)
