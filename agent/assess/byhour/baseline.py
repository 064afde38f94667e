"""A module's own settled history: learnt once, then held, so that a slow drift is not taken for usual.

An hour in which liquid may have come back is not learnt: what is usual is not on that account healthy, and a
fault that was there from the first hour on is taken for usual all the same.

It counts from the UTC day after it was complete, mode by mode. Later readings do not move it; a person can
have it learnt anew from a time on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import DISCHARGE_MARGIN
from agent.assess.byhour.hours import HOUR_US, Hour, Stats, settled_in, total_speed
from agent.assess.byhour.rest import OFF, REST_AFTER, at_rest
from agent.assess.signals import OUTDOOR_AIR
from agent.piping import RETURN, STEADY_MODES

DAY_US = 24 * HOUR_US
LIKE_SPEED = 0.15  # relative; the rise goes as one over suction flow; design choice, no source
LIKE_AIR_K = 6.0  # of outdoor air; design choice, no source
LIKE_RATIO = 0.1  # of the pressures, relative; design choice, no source
FEWEST_HOURS = 4  # at like speed, to call something usual; design choice, no source
# Of an expanded uncertainty, what does not cancel between two times of the same instruments: their drift.
SINCE_LEARNT = 0.25  # design choice, no source
LEARNT_MODES = (*STEADY_MODES, OFF)
SPARE = 4  # times as many hours as are needed are looked at, as some may be wet; design choice, no source
REST_HOURS = 8  # at rest, that teach how probes stand to each other then; design choice, no source
REST_SOUGHT = 240  # hours of standing, the first, among which these are looked for


@dataclass(frozen=True)
class Baseline:
    """Per mode the settled hours that were learnt, from when on they count, and how many it takes."""

    from_us: Mapping[str, int] = field(default_factory=dict)  # only of complete ones
    hours: Mapping[str, tuple[Hour, ...]] = field(default_factory=dict)  # complete or not
    needed: int = 0

    def of(self, mode: str) -> tuple[Hour, ...]:
        """The hours of a mode; none before they are complete."""
        return self.hours[mode] if mode in self.from_us else ()

    def lacking(self, mode: str) -> str | None:
        """What is missing until a mode is learnt; None: nothing."""
        if mode in self.from_us:
            return None
        known = len(self.hours.get(mode, ()))
        if mode == OFF:
            stood = f"after standing for {REST_AFTER} h"
            return f"learning what is usual at rest: {known} of {REST_HOURS} hours {stood}"
        return f"learning what is usual: {known} of {self.needed} settled hours"


class Usual(NamedTuple):
    """What a quantity usually is at like speed and, where known, like outdoor air."""

    median: float
    low: float  # of the hours' means
    high: float
    hours: int
    uncertainty: float  # of the instruments, k = 2


def learn(
    hours: Sequence[Hour],
    since_us: int,
    needed: int,
    until_us: int | None = None,
    before: Baseline | None = None,
) -> Baseline:
    """What a module's hours, ascending, teach of it.

    ``since_us``: what lies before was another piping, or another unit. ``needed``: settled hours of a mode.
    ``until_us``: a baseline is given only where it counts by then; None: whenever that is. ``before``: what
    earlier hours since then have taught; what counts of that stays, and of its modes no hours are asked for.
    """
    from_us, learnt = {}, {}
    later = [hour for hour in hours if hour.from_us >= since_us]
    for mode in LEARNT_MODES:
        if before is not None and mode in before.from_us:
            from_us[mode], learnt[mode] = before.from_us[mode], before.hours[mode]
            continue
        of_mode = settled_in(later, mode)
        if mode == OFF:
            found = tuple(at_rest(of_mode[:REST_SOUGHT])[:REST_HOURS])
        else:
            found = tuple([hour for hour in of_mode if not wet(hour)][:needed])
        if found:
            learnt[mode] = found
        if len(found) == (REST_HOURS if mode == OFF else needed):
            counts_us = -(-found[-1].to_us // DAY_US) * DAY_US
            if until_us is None or counts_us <= until_us:
                from_us[mode] = counts_us
    return Baseline(from_us, learnt, needed)


def sought(mode: str, needed: int) -> int:
    """How many settled hours of a mode to look at, the first ones; some of them are not learnt."""
    return REST_SOUGHT if mode == OFF else SPARE * needed


def wet(hour: Hour) -> bool:
    """Whether liquid may have come back in the mode that it was settled in.

    Its return superheat does not clear its instruments, or a discharge lies below what any compressor makes
    of saturated gas.
    """
    mode = hour.settled_mode
    quantities = hour.parts[mode].quantities if mode is not None else {}
    returned = quantities.get(RETURN)
    if returned is not None and returned.mean - instruments_only(returned) <= 0:
        return True
    margins = [each for name, each in quantities.items() if name.startswith(DISCHARGE_MARGIN)]
    return any(each.mean + each.above < 0 for each in margins)


def like(baseline: Baseline, mode: str, speed_hz: float | None, outdoor_c: float | None = None) -> list[Hour]:
    """The hours learnt at like total speed and like outdoor air, where these are known."""
    found = list(baseline.of(mode))
    if speed_hz is not None:
        speeds = {hour.from_us: total_speed(hour, mode) for hour in found}
        found = [
            hour
            for hour in found
            if (speed := speeds[hour.from_us]) is None or abs(speed - speed_hz) <= LIKE_SPEED * speed_hz
        ]
    if outdoor_c is not None:
        found = [hour for hour in found if _near(hour, mode, outdoor_c)]
    return found


def usual(
    baseline: Baseline, mode: str, quantity: str, speed_hz: float | None, outdoor_c: float | None = None
) -> Usual | None:
    """What a quantity usually is; None where too few like hours were learnt."""
    stats = [
        hour.parts[mode].quantities[quantity]
        for hour in like(baseline, mode, speed_hz, outdoor_c)
        if quantity in hour.parts[mode].quantities
    ]
    if len(stats) < FEWEST_HOURS:
        return None
    means = np.array([each.mean for each in stats])
    uncertainty = float(np.mean([instruments_only(each) for each in stats]))
    return Usual(float(np.median(means)), float(means.min()), float(means.max()), len(stats), uncertainty)


def instruments_only(stats: Stats) -> float:
    """Expanded uncertainty without what widens one side alone: a loss was the same when it was learnt."""
    return min(stats.below, stats.above)


def outdoor_air(hour: Hour, mode: str) -> float | None:
    """Mean outdoor air over the settled part of a mode [degC]; None: not known."""
    part = hour.parts.get(mode)
    return part.signals[OUTDOOR_AIR].mean if part and OUTDOOR_AIR in part.signals else None


def _near(hour: Hour, mode: str, outdoor_c: float) -> bool:
    air_c = outdoor_air(hour, mode)
    return air_c is None or abs(air_c - outdoor_c) <= LIKE_AIR_K
