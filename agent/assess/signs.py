"""Signs: how far each quantity of late has been from what is usual for the module, over its own scatter.

Only hours at like speed and in like weather are compared. What cannot be compared is unknown, with the
reason; it is not a sign that nothing has moved.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import hypot, sqrt
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import SATURATED_SUCTION
from agent.assess.baseline import (
    FEWEST_HOURS,
    LIKE_AIR_K,
    LIKE_SPEED,
    Baseline,
    like,
    outdoor_air,
)
from agent.assess.hours import Hour, Stats, total_speed
from agent.assess.module import Module
from agent.piping import RETURN, RISE

CONDENSING, RATIO, SUBCOOLING = "saturated_condensing", "pressure_ratio", "subcooling"
DISCHARGE, DISCHARGE_SUPERHEAT, MARGIN = "discharge_temperature", "discharge_superheat", "discharge_margin"
CURRENT, OPENING, SHARE = "current", "opening", "running_share"
OF_A_COMPRESSOR = (DISCHARGE, DISCHARGE_SUPERHEAT, MARGIN, CURRENT)

DECIDED = 2.0  # times its scale, beyond which a deviation is a sign; design choice, no source
FEWEST = 6  # hours that a sign, and a verdict, take; design choice, no source
ALIKE = 4  # hours next to one another that tell no more than one; design choice, no source
DRIFT = 0.25  # of the expanded uncertainty: what does not cancel against the own past; design choice
LIKE_RATIO = 0.1  # relative, of the pressures, for a current to be compared; design choice, no source


class Kind(NamedTuple):
    """What a sign is called, and how small a change of it means nothing; design choices, no source."""

    label: str
    unit: str
    least: float  # in its unit
    least_share: float = 0.0  # of what is usual
    by_weather: bool = True  # so much that it is not compared where outdoor air is not known
    digits: int = 1
    factor: float = 1.0  # for people


KINDS: Mapping[str, Kind] = {
    SATURATED_SUCTION: Kind("saturated suction", "K", 0.3),
    RETURN: Kind("return superheat", "K", 0.3, by_weather=False),
    CONDENSING: Kind("saturated condensing", "K", 0.3),
    SUBCOOLING: Kind("subcooling", "K", 0.3, by_weather=False),
    DISCHARGE: Kind("discharge temperature", "K", 0.5),
    DISCHARGE_SUPERHEAT: Kind("discharge superheat", "K", 0.5),
    MARGIN: Kind("discharge margin", "K", 0.5),
    RATIO: Kind("pressure ratio", "", 0.0, 0.02, digits=2),
    OPENING: Kind("valve opening", "%", 0.02, factor=100.0, digits=0),
    CURRENT: Kind("current", "A", 0.0, 0.03),
    RISE: Kind("oil-return rise", "K", 0.3, by_weather=False),
    SHARE: Kind("running share", "%", 0.05, factor=100.0, digits=0),
}


class Sign(NamedTuple):
    """A quantity of late against what is usual. Unknown: ``why`` says so, and there are no figures."""

    name: str  # of the kind, and after a colon of which compressor or valve
    now: float = 0.0  # mean over the hours
    deviation: float = 0.0  # from the usual median at like speed and in like weather, mean over the hours
    scale: float = 1.0
    hours: int = 0
    why: str = ""

    @property
    def kind(self) -> Kind:
        return KINDS[base(self.name)]

    @property
    def strength(self) -> float:
        """The deviation in its scale; 0 where it is unknown."""
        return 0.0 if self.why else self.deviation / self.scale

    @property
    def direction(self) -> int | None:
        """1 above, -1 below, 0 not decided to have moved; None: unknown."""
        if self.why:
            return None
        return 0 if abs(self.strength) < DECIDED else 1 if self.deviation > 0 else -1


def base(name: str) -> str:
    return name.partition(":")[0]


def label(name: str) -> str:
    """How a sign is called, for people."""
    kind, _, which = name.partition(":")
    what = KINDS[kind].label
    if kind == OPENING and which:
        return f"{what} of {which}"
    return f"{what} of compressor {which}" if which else what


def is_above_air(name: str, mode: str) -> bool:
    """Whether it is counted from outdoor air: the saturation that belongs to the outdoor coil."""
    return (name, mode) in ((CONDENSING, "cooling"), (SATURATED_SUCTION, "heating"))


def signs(module: Module, baseline: Baseline, hours: Sequence[Hour], mode: str) -> dict[str, Sign]:
    """The signs of a module in a mode, by name. ``hours``: those settled in it, of late."""
    alike = [(hour, _alike(baseline, mode, hour)) for hour in hours]
    return {name: _sign(name, mode, alike) for name in _names(module, mode)}


def _names(module: Module, mode: str) -> Iterator[str]:
    layout = module.layout
    for kind in KINDS:
        if kind in OF_A_COMPRESSOR:
            yield from (f"{kind}:{name}" for name in layout.compressors)
        elif kind == OPENING:
            expands = layout.modes[mode].expands if mode in layout.modes else frozenset()
            yield from (f"{kind}:{name}" for name in sorted(expands))
        else:
            yield kind


def _alike(baseline: Baseline, mode: str, hour: Hour) -> list[Hour]:
    """The hours learnt that are like this one and lie around it; at the edge of them it is not compared."""
    speed_hz, air_c = total_speed(hour, mode), outdoor_air(hour, mode)
    found = like(baseline, mode, speed_hz, air_c)
    speeds, airs = ([of(each, mode) for each in found] for of in (total_speed, outdoor_air))
    is_among = _among(speeds, speed_hz, LIKE_SPEED * (speed_hz or 0) / 4) and _among(
        airs, air_c, LIKE_AIR_K / 4
    )
    return found if is_among else []


def _among(values: Iterable[float | None], value: float | None, margin: float) -> bool:
    known = [each for each in values if each is not None]
    return value is None or not known or min(known) - margin <= value <= max(known) + margin


def _sign(name: str, mode: str, alike: Sequence[tuple[Hour, Sequence[Hour]]]) -> Sign:
    seen = [(hour, others) for hour, others in alike if _stats(name, mode, hour) is not None]
    if len(seen) < FEWEST:
        return Sign(name, why=f"measured in {len(seen)} of {len(alike)} hours" if seen else "not measured")
    if _by_weather(name, mode):
        seen = [(hour, _with_air(others, mode)) for hour, others in seen if _with_air([hour], mode)]
        if len(seen) < FEWEST:
            return Sign(name, why="it goes by the weather, and outdoor air is not known")
    compared = [_compare(name, mode, hour, others) for hour, others in seen]
    counted = [each for each in compared if each is not None]
    if len(counted) < FEWEST:
        return Sign(name, why="never learnt at a speed and in weather like this")
    now, deviation, scatter, number, drift = np.array(counted).mean(axis=0).tolist()
    chance = scatter * sqrt(1 / max(1.0, len(counted) / ALIKE) + 1 / max(1.0, number / ALIKE))
    kind = KINDS[base(name)]
    least = max(kind.least, kind.least_share * abs(now - deviation))
    return Sign(name, now, deviation, hypot(chance, drift, least), len(counted))


def _by_weather(name: str, mode: str) -> bool:
    """Whether it goes by outdoor air so much that it is not compared where that is not known."""
    return KINDS[base(name)].by_weather and (name, mode) != (SATURATED_SUCTION, "cooling")


def _with_air(hours: Sequence[Hour], mode: str) -> list[Hour]:
    return [hour for hour in hours if outdoor_air(hour, mode) is not None]


def _compare(
    name: str, mode: str, hour: Hour, others: Sequence[Hour]
) -> tuple[float, float, float, int, float] | None:
    """An hour's mean, its deviation, the scatter and number of the like hours, and what may have drifted."""
    if base(name) == CURRENT:
        others = [each for each in others if _like_ratio(hour, each, mode)]
    usual = [stats.mean for each in others if (stats := _stats(name, mode, each)) is not None]
    found = _stats(name, mode, hour)
    if found is None or len(usual) < FEWEST_HOURS:
        return None
    # the smaller side: the larger one holds a pressure loss or a band that is what it was
    drift = DRIFT * min(found.below, found.above)
    deviation = found.mean - float(np.median(usual))
    return found.mean, deviation, float(np.std(usual, ddof=1)), len(usual), drift


def _like_ratio(hour: Hour, other: Hour, mode: str) -> bool:
    ratios = [each.parts[mode].quantities.get(RATIO) for each in (hour, other)]
    if ratios[0] is None or ratios[1] is None:
        return False
    return abs(ratios[1].mean - ratios[0].mean) <= LIKE_RATIO * ratios[0].mean


def _stats(name: str, mode: str, hour: Hour) -> Stats | None:
    """What a sign is made of in an hour; a saturation on the outdoor coil is counted from outdoor air."""
    part = hour.parts[mode]
    kind, _, which = name.partition(":")
    if kind == OPENING:
        return part.signals.get(which)
    if kind == SHARE:
        known = sum(hour.known.values())
        return Stats(known, sum(hour.running.values()) / known, 0.0, 1.0, 0.0) if known else None
    found, air_c = part.quantities.get(name), outdoor_air(hour, mode)
    if found is None or air_c is None or not is_above_air(name, mode):
        return found
    return found._replace(mean=found.mean - air_c)
