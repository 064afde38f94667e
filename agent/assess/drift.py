"""Whether probes that share a body at rest have come apart since the module was learnt.

Only with the module at rest for hours and its pressures at rest too, since a sister that runs moves
refrigerant through the pipes that they share. A crankcase heater, or oil that drains, keeps a probe warm:
so what counts is how the offset of two probes has changed, not the offset. By day the sun warms what stands
outdoors: so only hours in which the air outdoors cools, or in which nothing moves.

The figures are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

import numpy as np

from agent.assess.baseline import Baseline, outdoor_air
from agent.assess.hours import Hour, Stats
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.assess.rest import OFF, at_rest, periods
from agent.piping import Body, bodies
from agent.thermo import dew_slope, dew_temperature

SPREAD_K = 0.3  # beyond the step, of a probe within an hour in which nothing moves
COOLING_SPREAD_K = 1.0  # the same, while the air outdoors cools
PRESSURE_SPREAD = 0.01  # of a pressure at rest, within an hour
PRESSURES_APART = 0.02  # of two pressures at rest, beyond their errors
FEWEST_LEARNT = 3  # hours of a pair
PERIODS = 2  # at rest, in each of which a pair must have come apart


class Shift(NamedTuple):
    """Two probes over one period at rest. K."""

    one: str
    other: str
    offset_k: float  # one minus the other, mean of the hours
    low_k: float  # what it was when learnt; for an absolute check 0
    high_k: float
    u_k: float  # expanded (k = 2), of the difference

    @property
    def shift_k(self) -> float:
        """By how much the offset lies outside of what was learnt."""
        return self.offset_k - min(max(self.offset_k, self.low_k), self.high_k)

    @property
    def beyond(self) -> bool:
        return abs(self.shift_k) > 2 * self.u_k


class Drift(NamedTuple):
    """What the periods at rest say, the last of them last."""

    pairs: tuple[tuple[Shift, ...], ...]  # per pair, over the last periods in which it could be told
    culprits: tuple[str | None, ...]  # per pair the one of the two that has moved; None: cannot be told
    lacking: str | None  # why no pair could be told; None: some could

    @property
    def beyond(self) -> list[tuple[Shift, str | None]]:
        """Pairs that came apart to the same side in each of the last periods, as last seen."""
        return [
            (shifts[-1], culprit)
            for shifts, culprit in zip(self.pairs, self.culprits, strict=True)
            if len(shifts) == PERIODS
            and all(shift.beyond for shift in shifts)
            and len({shift.shift_k > 0 for shift in shifts}) == 1
        ]


def drift(module: Module, baseline: Baseline, hours: Sequence[Hour]) -> Drift:
    """Compare the pairs that share a body, in the periods at rest among the hours, with what was learnt."""
    shared = [(body, pair) for body in bodies(module.layout) for pair in _pairs(module, body)]
    if not shared:
        return _untold("no two probes of this module share a body at rest")
    rests = periods([hour for hour in at_rest(hours) if pressures_rest(module, hour)])
    if not rests:
        return _untold("the module has not stood long enough with its pressures at rest in the last days")
    learnt = [hour for hour in baseline.of(OFF) if pressures_rest(module, hour)]
    found, culprits = [], []
    for body, (one, other) in shared:
        absolute = body.is_plain
        shifts = _over(module, learnt, rests, one, other, absolute)
        if shifts:
            found.append(tuple(shifts[-PERIODS:]))
            culprits.append(_culprit(module, learnt, rests, body, one, other))
    lacking = (
        baseline.lacking(OFF) or "in no hour at rest were probes that share a body free of sun and draught"
    )
    return Drift(tuple(found), tuple(culprits), None if found else lacking)


def pressures_rest(module: Module, hour: Hour) -> bool:
    """Suction and discharge pressure are steady, and equal within their errors."""
    steady = steady_pressures(module, hour)
    if not steady:
        return False
    means = list(steady.values())
    spread = 2 * float(np.hypot.reduce([uncertainty(module, name) for name in steady]))
    return max(means) - min(means) <= spread + PRESSURES_APART * max(means)


def steady_pressures(module: Module, hour: Hour) -> dict[str, float]:
    """Mean suction and discharge pressure of an hour off, those that are there [Pa]; empty: one moves."""
    names = [module.layout.suction_transducer, module.layout.discharge_transducer]
    measured = [name for name in names if name and name in module.signals]
    there = {name: stats for name in measured if (stats := _stats(hour, name))}
    for name, stats in there.items():
        if stats.spread > max(PRESSURE_SPREAD * stats.mean, 2 * module.signals[name].step):
            return {}
    return {name: stats.mean for name, stats in there.items()}


def _untold(text: str) -> Drift:
    return Drift((), (), text)


def _pairs(module: Module, body: Body) -> Iterator[tuple[str, str]]:
    return combinations([probe for probe in body.probes if probe in module.signals], 2)


def _over(
    module: Module,
    learnt: Sequence[Hour],
    rests: Sequence[Sequence[Hour]],
    one: str,
    other: str,
    absolute: bool,
) -> list[Shift]:
    """The pair in every period in which it could be told."""
    usual = _offsets(module, learnt, one, other)
    u_k = 2 * float(np.hypot(_u_k(module, one, learnt), _u_k(module, other, learnt)))
    if absolute:
        low, high = 0.0, 0.0
    elif len(usual) >= FEWEST_LEARNT:
        low, high = min(usual), max(usual)
    else:
        return []
    told = [_offsets(module, rest, one, other) for rest in rests]
    return [Shift(one, other, float(np.mean(each)), low, high, u_k) for each in told if each]


def _offsets(module: Module, hours: Sequence[Hour], one: str, other: str) -> list[float]:
    """One minus the other in each hour in which neither is warmed or cooled from outside."""
    found, before = [], None
    for hour in hours:
        cools = before is not None and before.to_us == hour.from_us and _cools(before, hour)
        if all(_is_still(module, hour, name, cools) for name in (one, other)):
            found.append(_kelvin(module, hour, one) - _kelvin(module, hour, other))
        before = hour
    return found


def _cools(before: Hour, hour: Hour) -> bool:
    then, now = outdoor_air(before, OFF), outdoor_air(hour, OFF)
    return then is not None and now is not None and now < then


def _is_still(module: Module, hour: Hour, name: str, cools: bool) -> bool:
    stats = _stats(hour, name)
    if stats is None:
        return False
    if name == module.layout.suction_transducer:
        return True  # that it is at rest has been seen
    return stats.spread < module.signals[name].step + (COOLING_SPREAD_K if cools else SPREAD_K)


def _kelvin(module: Module, hour: Hour, name: str) -> float:
    """A probe's temperature; of the transducer the saturation temperature [degC]."""
    stats = _stats(hour, name)
    assert stats is not None
    is_pressure = name == module.layout.suction_transducer
    return saturation_c(module.refrigerant, stats.mean) if is_pressure else stats.mean


@lru_cache(maxsize=1024)  # the same hours are looked at hour after hour
def saturation_c(refrigerant: str, pressure_pa: float) -> float:
    """Saturation temperature [degC] at a mean pressure at rest [Pa]."""
    return float(dew_temperature(refrigerant, pressure_pa))


def _u_k(module: Module, name: str, hours: Sequence[Hour]) -> float:
    own = uncertainty(module, name)
    if name != module.layout.suction_transducer:
        return own
    pressures = [stats.mean for hour in hours if (stats := _stats(hour, name))]
    return float(dew_slope(module.refrigerant, float(np.mean(pressures)))) * own if pressures else np.nan


def _culprit(
    module: Module,
    learnt: Sequence[Hour],
    rests: Sequence[Sequence[Hour]],
    body: Body,
    one: str,
    other: str,
) -> str | None:
    """The one that has moved against a third that shares the body, or else against saturation at rest."""
    thirds = [probe for probe in body.probes if probe in module.signals and probe not in (one, other)]
    for third in (*thirds, module.layout.suction_transducer):
        if third not in module.signals:
            continue
        moved = []
        for probe in (one, other):
            shifts = _over(module, learnt, rests, probe, third, body.is_plain and third in thirds)
            moved.append(shifts[-1].beyond if shifts else None)
        if None not in moved and moved[0] != moved[1]:
            return one if moved[0] else other
    return None


def _stats(hour: Hour, name: str) -> Stats | None:
    part = hour.parts.get(OFF)
    return part.signals.get(name) if part else None
