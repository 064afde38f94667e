"""Whether probes that share a body at rest have come apart since the module was learnt.

Only with the module at rest for hours and its pressures at rest too, since a sister that runs moves
refrigerant through the pipes that they share. A crankcase heater, or oil that drains, keeps a probe warm:
so what counts is how the offset of two probes has changed, not the offset. By day the sun warms what stands
outdoors: so only hours in which the air outdoors cools, or in which nothing moves.

The figures are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations
from statistics import fmean
from typing import NamedTuple

import numpy as np

from agent.assess.byhour.baseline import Baseline, outdoor_air
from agent.assess.byhour.hours import Hour, Stats, once_an_hour
from agent.assess.byhour.rest import OFF, at_rest, periods
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.piping import Body, bodies
from agent.thermo import dew_slope, dew_temperature

SPREAD_K = 0.3  # beyond the step, of a probe within an hour in which nothing moves
COOLING_SPREAD_K = 1.0  # the same, while the air outdoors cools
PRESSURE_SPREAD = 0.01  # of a pressure at rest, within an hour
PRESSURES_APART = 0.02  # of two pressures at rest, beyond their errors
FEWEST_LEARNT = 3  # hours of a pair
PERIODS = 2  # at rest, in each of which a pair must have come apart

_bodies = lru_cache(maxsize=64)(bodies)


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
    beyond: tuple[tuple[Shift, str | None], ...]  # pairs that came apart, and the one that has moved, if told
    lacking: str | None  # why no pair could be told; None: some could


def drift(module: Module, baseline: Baseline, hours: Sequence[Hour]) -> Drift:
    """Compare the pairs that share a body, in the periods at rest among the hours, with what was learnt."""
    shared = [(body, pair) for body in _bodies(module.layout) for pair in _pairs(module, body)]
    if not shared:
        return _untold("no two probes of this module share a body at rest")
    rests = periods([hour for hour in at_rest(hours) if pressures_rest(module, hour)])
    if not rests:
        return _untold("the module has not stood long enough with its pressures at rest in the last days")
    learnt = [hour for hour in baseline.of(OFF) if pressures_rest(module, hour)]
    stood = _Stood(module, learnt, rests)
    found, beyond = [], []
    for body, (one, other) in shared:
        shifts = stood.shifts(one, other, body.is_plain)[-PERIODS:]
        found += [tuple(shifts)] if shifts else []
        if _came_apart(shifts):
            beyond.append((shifts[-1], _culprit(stood, body, one, other)))
    lacking = (
        baseline.lacking(OFF) or "in no hour at rest were probes that share a body free of sun and draught"
    )
    return Drift(tuple(found), tuple(beyond), None if found else lacking)


def _came_apart(shifts: Sequence[Shift]) -> bool:
    """To the same side in each of the last periods."""
    same_side = len({shift.shift_k > 0 for shift in shifts}) == 1
    return len(shifts) == PERIODS and same_side and all(shift.beyond for shift in shifts)


@once_an_hour
def pressures_rest(module: Module, hour: Hour) -> bool:
    """Suction and discharge pressure are steady, and equal within their errors."""
    steady = steady_pressures(module, hour)
    if not steady:
        return False
    means = list(steady.values())
    spread = 2 * float(np.hypot.reduce([uncertainty(module, name) for name in steady]))
    return max(means) - min(means) <= spread + PRESSURES_APART * max(means)


@once_an_hour
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


class _Stood:
    """A module over the hours at rest that were learnt, and those of late, period by period."""

    def __init__(self, module: Module, learnt: Sequence[Hour], rests: Sequence[Sequence[Hour]]) -> None:
        self.module = module
        self._learnt = learnt
        self._usual = _undisturbed(module, learnt)
        self._told = [_undisturbed(module, rest) for rest in rests]
        self._known_u_k: dict[str, float] = {}

    def shifts(self, one: str, other: str, absolute: bool) -> list[Shift]:
        """A pair in every period in which it could be told."""
        low, high = 0.0, 0.0
        if not absolute:
            usual = _offsets(self._usual, one, other)
            if len(usual) < FEWEST_LEARNT:
                return []
            low, high = min(usual), max(usual)
        u_k = 2 * float(np.hypot(self._u_k(one), self._u_k(other)))
        told = [_offsets(rest, one, other) for rest in self._told]
        return [Shift(one, other, fmean(each), low, high, u_k) for each in told if each]

    def _u_k(self, name: str) -> float:
        """Standard uncertainty; of the transducer that of its saturation temperature, as learnt."""
        if name not in self._known_u_k:
            own = uncertainty(self.module, name)
            if name == self.module.layout.suction_transducer:
                pressures = [stats.mean for hour in self._learnt if (stats := _stats(hour, name))]
                slope = dew_slope(self.module.refrigerant, fmean(pressures)) if pressures else np.nan
                own *= float(slope)
            self._known_u_k[name] = own
        return self._known_u_k[name]


def _offsets(hours: Sequence[Mapping[str, float]], one: str, other: str) -> list[float]:
    """One minus the other in each hour in which neither is warmed or cooled from outside."""
    return [kelvin[one] - kelvin[other] for kelvin in hours if one in kelvin and other in kelvin]


def _undisturbed(module: Module, hours: Sequence[Hour]) -> list[Mapping[str, float]]:
    """Per hour the temperatures that nothing from outside moves [degC]."""
    found, before = [], None
    for hour in hours:
        cools = before is not None and before.to_us == hour.from_us and _cools(before, hour)
        found.append(_temperatures(module, hour, cools))
        before = hour
    return found


@once_an_hour
def _temperatures(module: Module, hour: Hour, cools: bool) -> Mapping[str, float]:
    """What stands still by signal [degC]; of the suction pressure, seen to be at rest, its saturation."""
    found = {}
    for name, stats in hour.parts[OFF].signals.items() if OFF in hour.parts else ():
        if name == module.layout.suction_transducer:
            found[name] = saturation_c(module.refrigerant, stats.mean)
        elif name in module.signals:
            still = stats.spread < module.signals[name].step + (COOLING_SPREAD_K if cools else SPREAD_K)
            found |= {name: stats.mean} if still else {}
    return found


def _cools(before: Hour, hour: Hour) -> bool:
    then, now = outdoor_air(before, OFF), outdoor_air(hour, OFF)
    return then is not None and now is not None and now < then


@lru_cache(maxsize=1024)  # the same hours are looked at hour after hour
def saturation_c(refrigerant: str, pressure_pa: float) -> float:
    """Saturation temperature [degC] at a mean pressure at rest [Pa]."""
    return float(dew_temperature(refrigerant, pressure_pa))


def _culprit(stood: _Stood, body: Body, one: str, other: str) -> str | None:
    """The one that has moved against a third that shares the body, or else against saturation at rest."""
    signals, transducer = stood.module.signals, stood.module.layout.suction_transducer
    thirds = [probe for probe in body.probes if probe in signals and probe not in (one, other)]
    for third in (*thirds, transducer):
        if third not in signals:
            continue
        absolute = body.is_plain and third in thirds
        moved = [shifts[-1].beyond if (shifts := stood.shifts(probe, third, absolute)) else None
                 for probe in (one, other)]  # fmt: skip
        if None not in moved and moved[0] != moved[1]:
            return one if moved[0] else other
    return None


def _stats(hour: Hour, name: str) -> Stats | None:
    part = hour.parts.get(OFF)
    return part.signals.get(name) if part else None
