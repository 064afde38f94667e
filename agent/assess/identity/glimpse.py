"""What one hour by itself shows of a module's piping. `seeing` puts the hours together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from agent.assess.byhour.hours import Hour, once_an_hour, total_speed
from agent.assess.byhour.rest import OFF, stands
from agent.assess.identity.seen import Level
from agent.assess.module import Module
from agent.assess.signals import OUTDOOR_AIR
from agent.piping import STEADY_MODES
from agent.thermo import dew_temperature

# Design choices, no source.
HOT, COLD = 0.85, 0.5  # of the way from saturation at suction to condensing
LEAST_LIFT_K = 15.0  # from saturation at suction to condensing; below it hot and cold lie too close
WARMEST_AIR_C, ABOVE_AIR_K = 30.0, 5.0  # a hot pipe is hotter than any air that gas returns from
BELOW_CONDENSING_K = 10.0  # at least, of a cold pipe
MOSTLY = 0.9  # of an hour that something was so

NOT_KNOWN = -1
CODE = {level: code for code, level in enumerate(Level)}


class Doing(NamedTuple):
    """What a module did throughout an hour."""

    mode: str  # a steady one
    valves: tuple[bool | None, ...]  # open, shut, or neither throughout
    running: frozenset[str] | None  # which compressors; None: not known


class Means(NamedTuple):
    """Means of the settled part of an hour; NaN: not known."""

    pipes: tuple[float, ...]  # of each temperature on the suction side [degC]
    air: float  # outdoors [degC]
    saturated: float  # dew temperature at suction pressure [degC]
    speed: float  # of all compressors together [Hz]


@dataclass(frozen=True, eq=False)
class Glimpse:
    """One hour of a module. Two are never the same one."""

    from_us: int
    to_us: int
    settled_mode: str | None
    doing: Doing | None  # None: not settled in a steady mode, or a compressor switched
    means: Means | None  # of that mode
    levels: tuple[int, ...]  # of each pipe in that mode: CODE of its Level, or NOT_KNOWN
    at_rest: tuple[float, ...] | None  # the pipes in an hour of standing [degC]; None: it did not stand
    told_of: frozenset[str]  # compressors that were heard of
    ran: frozenset[str]
    together: int  # compressors that ran at the same time at least


@once_an_hour
def glimpse(module: Module, hour: Hour, signals: tuple[str, ...], valves: tuple[str, ...]) -> Glimpse:
    """``signals``: temperatures on the suction side; ``valves``: those that make a difference."""
    doing = means = None
    levels: tuple[int, ...] = ()
    mode = hour.settled_mode
    if mode in STEADY_MODES and not _switches(hour):
        doing = Doing(mode, tuple(_state(hour, mode, valve) for valve in valves), _running(hour))
        means, levels = _measured(module, hour, mode, signals)
    return Glimpse(
        from_us=hour.from_us,
        to_us=hour.to_us,
        settled_mode=mode,
        doing=doing,
        means=means,
        levels=levels,
        at_rest=tuple(_mean(hour, OFF, name) for name in signals) if stands(hour) else None,
        told_of=frozenset(name for name, number in hour.known.items() if number),
        ran=frozenset(name for name, number in hour.running.items() if number),
        together=_together(hour),
    )


def _together(hour: Hour) -> int:
    """More running than there were grid times is more than one at a time."""
    grid = max(hour.known.values(), default=0)
    return -(-sum(hour.running.values()) // grid) if grid else 0


def _running(hour: Hour) -> frozenset[str] | None:
    if not hour.known or not all(hour.known.values()):
        return None
    return frozenset(name for name, number in hour.known.items() if 2 * hour.running[name] > number)


def _switches(hour: Hour) -> bool:
    """A compressor ran in a part of the hour only."""
    shares = [hour.running[name] / number for name, number in hour.known.items() if number]
    return any(1 - MOSTLY < share < MOSTLY for share in shares)


def _state(hour: Hour, mode: str, valve: str) -> bool | None:
    stats = hour.parts[mode].signals.get(valve)
    if stats is None or 1 - MOSTLY < stats.mean < MOSTLY:
        return None
    return stats.mean >= MOSTLY


def _mean(hour: Hour, mode: str, name: str | None) -> float:
    stats = hour.parts[mode].signals.get(name or "")
    return np.nan if stats is None else stats.mean


def _measured(
    module: Module, hour: Hour, mode: str, signals: tuple[str, ...]
) -> tuple[Means, tuple[int, ...]]:
    layout = module.layout
    pressures = [_mean(hour, mode, name) for name in (layout.suction_transducer, layout.discharge_transducer)]
    low, high = np.asarray(dew_temperature(module.refrigerant, np.array(pressures)))
    air = _mean(hour, mode, OUTDOOR_AIR)
    pipes = tuple(_mean(hour, mode, name) for name in signals)
    speed = total_speed(hour, mode) or np.nan
    warmest_air = np.fmax(air, WARMEST_AIR_C) + ABOVE_AIR_K
    levels = tuple(_level(pipe, float(low), float(high), float(warmest_air)) for pipe in pipes)
    return Means(pipes, air, float(low), speed), levels


def _level(pipe: float, low: float, high: float, warmest_air: float) -> int:
    """How warm a pipe is [degC], between saturation at suction and condensing."""
    lift = high - low
    if np.isnan(pipe) or np.isnan(lift):
        return NOT_KNOWN
    if lift < LEAST_LIFT_K:
        return CODE[Level.NEITHER]
    way = (pipe - low) / lift
    if way >= HOT and pipe >= warmest_air:
        return CODE[Level.HOT]
    if way <= COLD and pipe <= high - BELOW_CONDENSING_K:
        return CODE[Level.COLD]
    return CODE[Level.NEITHER]
