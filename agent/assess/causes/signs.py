"""Signs: how far each quantity of late has been from what is usual for the module, over its own scatter.

Only hours at like speed and in like weather are compared. What cannot be compared is unknown, with the
reason; it is not a sign that nothing has moved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import hypot, sqrt
from typing import NamedTuple

import numpy as np

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
from agent.assess.byhour.baseline import (
    FEWEST_HOURS,
    LIKE_AIR_K,
    LIKE_RATIO,
    LIKE_SPEED,
    SINCE_LEARNT,
    Baseline,
    outdoor_air,
)
from agent.assess.byhour.hours import Hour, Stats, total_speed
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.module import Module
from agent.piping import RETURN, RISE, Graph, Place

# Signs that are no quantity of an assessment; the first is followed by the valve's name.
OPENING, RUNNING_SHARE = "opening:", "running_share"
OF_A_COMPRESSOR = (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN, CURRENT)

DECIDED = 2.0  # times its scale, beyond which a deviation is a sign; design choice, no source
FEWEST = 6  # hours that a sign, and a verdict, take; design choice, no source
DEPENDENT = 4  # hours next to one another that tell no more than one; design choice, no source


class Kind(NamedTuple):
    """What a sign is called, and how small a change of it means nothing; design choices, no source."""

    label: str
    unit: str  # of a difference
    least: float  # in its unit
    least_share: float = 0.0  # of what is usual
    by_weather: bool = True  # so much that it is not compared where outdoor air is not known
    digits: int = 1
    factor: float = 1.0  # for people
    level_unit: str = ""  # of the value itself, where it is another one


KINDS: Mapping[str, Kind] = {
    SATURATED_SUCTION: Kind("saturated suction", "K", 0.3, level_unit="degC"),
    RETURN: Kind("return superheat", "K", 0.3, by_weather=False),
    SATURATED_CONDENSING: Kind("saturated condensing", "K", 0.3, level_unit="degC"),
    SUBCOOLING: Kind("subcooling", "K", 0.3, by_weather=False),
    DISCHARGE_TEMPERATURE: Kind("discharge temperature", "K", 0.5, level_unit="degC"),
    DISCHARGE_SUPERHEAT: Kind("discharge superheat", "K", 0.5),
    DISCHARGE_MARGIN: Kind("discharge margin", "K", 0.5),
    PRESSURE_RATIO: Kind("pressure ratio", "", 0.0, 0.02, digits=2),
    OPENING: Kind("valve opening", "points", 0.02, factor=100.0, digits=0, level_unit="%"),
    CURRENT: Kind("current", "A", 0.0, 0.03),
    RISE: Kind("oil-return rise", "K", 0.3, by_weather=False),
    RUNNING_SHARE: Kind("running share", "points", 0.05, factor=100.0, digits=0, level_unit="%"),
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
    """The kind of a sign, without which compressor or valve it is of."""
    kind, colon, _ = name.partition(":")
    return kind + colon


def label(name: str) -> str:
    """How a sign is called, for people."""
    kind = base(name)
    what, which = KINDS[kind].label, name.removeprefix(kind)
    if kind == OPENING and which:
        return f"{what} of {which}"
    return f"{what} of compressor {which}" if which else what


def is_above_air(name: str, mode: str) -> bool:
    """Whether it is counted from outdoor air: the saturation that belongs to the outdoor coil."""
    return (name, mode) in ((SATURATED_CONDENSING, "cooling"), (SATURATED_SUCTION, "heating"))


def signs(module: Module, baseline: Baseline, hours: Sequence[Hour], mode: str) -> dict[str, Sign]:
    """The signs of a module in a mode, by name. ``hours``: those settled in it, of late."""
    learnt = baseline.of(mode)
    pairs = _Pairs(mode, hours, learnt, alike(mode, hours, learnt))
    return {name: _sign(name, pairs) for name in _names(module, mode)}


def _names(module: Module, mode: str) -> Iterator[str]:
    layout = module.layout
    for kind in KINDS:
        if kind in OF_A_COMPRESSOR:
            yield from (kind + name for name in layout.compressors)
        elif kind == OPENING:
            yield from (kind + name for name in feeding(layout, mode))
        else:
            yield kind


def feeding(layout: Graph, mode: str) -> list[str]:
    """The expansions that feed what evaporates: their openings answer superheat, others' subcooling."""
    piping = layout.modes[mode]
    reached = [Place("coil", name) for name in sorted(piping.evaporators)]
    for place in reached:  # grows as it is walked
        if place.kind != "expansion":
            beside = {b for pair in layout.liquid if place in pair for b in pair}
            reached += sorted(b for b in beside if b not in reached and b.kind != "coil")
    return [place.name for place in reached if place.kind == "expansion" and place.name in piping.expands]


def alike(mode: str, hours: Sequence[Hour], learnt: Sequence[Hour]) -> BoolArray:
    """Which of the hours learnt (columns) are like each of late (rows), as `baseline.like` takes it.

    An hour that does not lie among those like it, but at the edge of what was learnt, has none.
    """
    of_late, of_old = _conditions(mode, hours), _conditions(mode, learnt)
    near = np.stack([LIKE_SPEED * of_late[0], np.full(len(hours), LIKE_AIR_K)])[:, :, None]
    apart = of_old[:, None, :] - of_late[:, :, None]  # NaN where either is not known
    found = ~(np.abs(apart) > near).any(axis=0)
    among = np.ones(len(hours), dtype=bool)
    for distance, margin in zip(apart, near[:, :, 0] / 4, strict=True):
        known = found & ~np.isnan(distance)
        least = np.where(known, distance, np.inf).min(axis=1, initial=np.inf)
        most = np.where(known, distance, -np.inf).max(axis=1, initial=-np.inf)
        among &= ~known.any(axis=1) | ((least <= margin) & (most >= -margin))
    return found & among[:, None]


def _conditions(mode: str, hours: Sequence[Hour]) -> FloatArray:
    """Total speed and outdoor air of hours, NaN where not known."""
    known = [[of(hour, mode) for hour in hours] for of in (total_speed, outdoor_air)]
    return np.array(known, dtype=float)


class _Pairs(NamedTuple):
    """Hours of late (rows) against hours learnt (columns)."""

    mode: str
    hours: Sequence[Hour]
    learnt: Sequence[Hour]
    alike: BoolArray

    def those_for(self, name: str) -> BoolArray:
        """Which pairs may be compared."""
        may = self.alike
        if base(name) == CURRENT:
            late, old = (_means(PRESSURE_RATIO, self.mode, hours) for hours in (self.hours, self.learnt))
            may = may & (np.abs(old - late[:, None]) <= LIKE_RATIO * late[:, None])
        if _by_weather(name, self.mode):
            late, old = (_conditions(self.mode, hours)[1] for hours in (self.hours, self.learnt))
            may = may & ~np.isnan(late)[:, None] & ~np.isnan(old)
        return may


def _sign(name: str, pairs: _Pairs) -> Sign:
    late, old = (_means(name, pairs.mode, hours) for hours in (pairs.hours, pairs.learnt))
    measured = int((~np.isnan(late)).sum())
    if measured < FEWEST:
        return Sign(name, why=f"measured in {measured} of {len(late)} hours" if measured else "not measured")
    counted = pairs.those_for(name) & ~np.isnan(late)[:, None] & ~np.isnan(old)
    number = counted.sum(axis=1)
    enough = number >= FEWEST_HOURS
    if enough.sum() < FEWEST:
        is_airless = _by_weather(name, pairs.mode) and np.isnan(_conditions(pairs.mode, pairs.hours)[1]).all()
        airless = "it goes by the weather, and outdoor air is not known"
        return Sign(name, why=airless if is_airless else "never learnt at a speed and in weather like this")
    now = late[enough]
    usual, scatter = _middle(old, counted[enough], number[enough])
    return _scaled(name, pairs, now, now - usual, scatter, number[enough])


def _middle(old: FloatArray, counted: BoolArray, number: IntArray) -> tuple[FloatArray, FloatArray]:
    """Median and standard deviation of the hours that each row counts; at least two."""
    ordered = np.sort(np.where(counted, old, np.inf), axis=1)
    rows = np.arange(len(number))
    median = (ordered[rows, (number - 1) // 2] + ordered[rows, number // 2]) / 2
    kept = np.where(counted, old, 0.0)
    mean = kept.sum(axis=1) / number
    squares = np.where(counted, (kept - mean[:, None]) ** 2, 0.0).sum(axis=1)
    return median, np.sqrt(squares / (number - 1))


def _scaled(
    name: str, pairs: _Pairs, now: FloatArray, apart: FloatArray, scatter: FloatArray, number: IntArray
) -> Sign:
    """The mean deviation, and its scale: chance, what may have drifted, and what means nothing anyway."""
    kind, deviation, mean = KINDS[base(name)], float(apart.mean()), float(now.mean())
    independent = (max(1.0, len(now) / DEPENDENT), max(1.0, float(number.mean()) / DEPENDENT))
    chance = float(scatter.mean()) * sqrt(sum(1 / each for each in independent))
    # the smaller side: the larger one holds a pressure loss or a band that is what it was
    sides = [
        min(stats.below, stats.above) for hour in pairs.hours if (stats := _stats(name, pairs.mode, hour))
    ]
    least = max(kind.least, kind.least_share * abs(mean - deviation))
    return Sign(name, mean, deviation, hypot(chance, SINCE_LEARNT * float(np.mean(sides)), least), len(now))


def _by_weather(name: str, mode: str) -> bool:
    """Whether it goes by outdoor air so much that it is not compared where that is not known."""
    return KINDS[base(name)].by_weather and (name, mode) != (SATURATED_SUCTION, "cooling")


def _means(name: str, mode: str, hours: Sequence[Hour]) -> FloatArray:
    """By hour, NaN where it has none."""
    found = [_stats(name, mode, hour) for hour in hours]
    return np.array([np.nan if stats is None else stats.mean for stats in found])


def _stats(name: str, mode: str, hour: Hour) -> Stats | None:
    """What a sign is made of in an hour; a saturation on the outdoor coil is counted from outdoor air."""
    part = hour.parts[mode]
    if base(name) == OPENING:
        return part.signals.get(name.removeprefix(OPENING))
    if name == RUNNING_SHARE:
        known = sum(hour.known.values())
        return Stats(known, sum(hour.running.values()) / known, 0.0, 1.0, 0.0) if known else None
    found, air_c = part.quantities.get(name), outdoor_air(hour, mode)
    if found is None or air_c is None or not is_above_air(name, mode):
        return found
    return found._replace(mean=found.mean - air_c)
