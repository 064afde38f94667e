"""Whether suction and discharge pressure, that met at rest when the module was learnt, still meet.

At rest the refrigerant has one pressure throughout. Two transducers that are steady and yet apart in one
time of standing after the other do not agree any more. A valve that holds pressure tight, or a sister that
runs, keeps the discharge higher: so beyond the ratio that running is told by nothing is said, and a
difference that falls does not count.

The figures are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from agent.assess.byhour.baseline import Baseline
from agent.assess.byhour.drift import FEWEST_LEARNT, PERIODS, PRESSURE_SPREAD, saturation_c, steady_pressures
from agent.assess.byhour.drift import pressures_rest as meet
from agent.assess.byhour.hours import Hour, once_an_hour
from agent.assess.byhour.rest import OFF, at_rest, periods
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.assess.signals import OUTDOOR_AIR
from agent.thermo import dew_slope

FEWEST_STANDING = 2  # hours at rest of a period, so that a difference that falls is seen


class Apart(NamedTuple):
    """Suction pressure minus discharge pressure at rest, period by period, the last of them last. Pa."""

    suction: str
    discharge: str
    differences_pa: tuple[float, ...]
    u_pa: float  # expanded (k = 2), of the difference
    culprit: str | None = None  # of a pair beyond: which moved against the temperatures; None: not told

    @property
    def beyond(self) -> bool:
        """To the same side in each of the last periods."""
        last = self.differences_pa[-PERIODS:]
        same_side = len({each > 0 for each in last}) == 1
        return len(last) == PERIODS and same_side and all(map(self.is_apart, last))

    def is_apart(self, difference_pa: float) -> bool:
        return abs(difference_pa) > 2 * self.u_pa


def equalising(module: Module, baseline: Baseline, hours: Sequence[Hour]) -> Apart | None:
    """Compare the pressures in the periods at rest among the hours; None where that cannot be told.

    That takes a baseline in which they met in every hour in which they were steady.
    """
    suction, discharge = module.layout.suction_transducer, module.layout.discharge_transducer
    if discharge is None or discharge not in module.signals:
        return None
    learnt = [hour for hour in baseline.of(OFF) if len(steady_pressures(module, hour)) == 2]
    if len(learnt) < FEWEST_LEARNT or not all(meet(module, hour) for hour in learnt):
        return None
    resting = [hour for hour in at_rest(hours) if len(steady_pressures(module, hour)) == 2]
    told = [
        (period, float(np.mean(differences)))
        for period in periods(resting)
        if (differences := _differences(module, period, suction, discharge))
    ]
    if not told:
        return None
    u_pa = 2 * float(np.hypot(uncertainty(module, suction), uncertainty(module, discharge)))
    apart = Apart(suction, discharge, tuple(each for _, each in told), u_pa)
    if not apart.beyond:
        return apart
    return apart._replace(culprit=_culprit(module, learnt, told[-1][0], suction, discharge))


def _differences(module: Module, period: Sequence[Hour], suction: str, discharge: str) -> list[float]:
    """Suction minus discharge in each hour; none where they move or something else holds them apart."""
    shown = [steady_pressures(module, hour) for hour in period]
    found = [each[suction] - each[discharge] for each in shown]
    largest = max(max(each.values()) for each in shown)
    step = module.signals[suction].step + module.signals[discharge].step
    if len(found) < FEWEST_STANDING or max(found) - min(found) > max(PRESSURE_SPREAD * largest, step):
        return []
    held = any(each[discharge] > module.runs_above_ratio * each[suction] for each in shown)
    return [] if held else found


def _culprit(
    module: Module, learnt: Sequence[Hour], period: Sequence[Hour], suction: str, discharge: str
) -> str | None:
    """The one whose saturation temperature has moved against the coldest of what is around it at rest."""
    moved = [_has_moved(module, learnt, period, name) for name in (suction, discharge)]
    if None in moved or moved[0] == moved[1]:
        return None
    return suction if moved[0] else discharge


def _has_moved(module: Module, learnt: Sequence[Hour], period: Sequence[Hour], name: str) -> bool | None:
    """By more than twice its expanded uncertainty beyond what was learnt; None: nothing tells."""
    usual, now = ([_above_coldest(module, hour, name) for hour in hours] for hours in (learnt, period))
    then = [each for each in usual if each is not None]
    gaps = [each for each in now if each is not None]
    if len(then) < FEWEST_LEARNT or not gaps:
        return None
    gap_k = float(np.mean([gap for gap, _ in gaps]))
    u_k = 2 * max(u for _, u in gaps)
    low, high = min(gap for gap, _ in then), max(gap for gap, _ in then)
    return not low - 2 * u_k <= gap_k <= high + 2 * u_k


@once_an_hour
def _above_coldest(module: Module, hour: Hour, name: str) -> tuple[float, float] | None:
    """Saturation minus the coldest of suction probes and outdoor air, and its standard uncertainty [K].

    Liquid gathers where it is coldest, and the pressure is that of saturation there.
    """
    signals = hour.parts[OFF].signals
    around = [each for each in (*module.layout.suction_probes, OUTDOOR_AIR) if each in signals]
    if not around:
        return None
    coldest = min(around, key=lambda each: signals[each].mean)
    pressure_pa = signals[name].mean
    u_dew_k = float(dew_slope(module.refrigerant, pressure_pa)) * uncertainty(module, name)
    dew_c = saturation_c(module.refrigerant, pressure_pa)
    return dew_c - signals[coldest].mean, float(np.hypot(u_dew_k, uncertainty(module, coldest)))
