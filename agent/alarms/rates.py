"""How heavily alarms load whoever receives them, against the figures that are published for operators.

The figures are of ISA-18.2-2016 and IEC 62682:2014, read second-hand: about 6 alarms an hour are acceptable
and 12 the most; more than 10 in 10 minutes are a flood; of all alarms about 80 % low, 15 % medium, 5 % high.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from agent.alarms.entry import Priority
from agent.assess.byhour.hours import HOUR_US

ACCEPTABLE_PER_HOUR, MOST_PER_HOUR = 6.0, 12.0
FLOOD_PER_TEN_MINUTES = 10
SHARES: Mapping[Priority, float] = {Priority.LOW: 0.80, Priority.MEDIUM: 0.15, Priority.HIGH: 0.05}
TEN_MINUTES_US = 600 * 10**6


class Told(NamedTuple):
    """An alarm that somebody was told of."""

    at_us: int
    priority: Priority
    what: str  # alarm and module


class Load(NamedTuple):
    """The load over a period."""

    number: int
    per_hour: float
    by_priority: Mapping[Priority, int]
    worst: int  # most in any 10 minutes
    worst_us: int | None  # when those began
    most_often: tuple[str, int] | None  # what came more than once, and how often

    @property
    def is_flood(self) -> bool:
        return self.worst > FLOOD_PER_TEN_MINUTES


def load(told: Iterable[Told], from_us: int, to_us: int) -> Load:
    """The load of what was told in a period, both ends in it; ``to_us`` lies after ``from_us``."""
    within = sorted(each for each in told if from_us <= each.at_us <= to_us)
    worst, worst_us, first = 0, None, 0
    for last, each in enumerate(within):
        while each.at_us - within[first].at_us >= TEN_MINUTES_US:
            first += 1
        if last - first + 1 > worst:
            worst, worst_us = last - first + 1, within[first].at_us
    often = Counter(each.what for each in within).most_common(1)
    return Load(
        number=len(within),
        per_hour=len(within) * HOUR_US / (to_us - from_us),
        by_priority={p: sum(each.priority == p for each in within) for p in Priority},
        worst=worst,
        worst_us=worst_us,
        most_often=often[0] if often and often[0][1] > 1 else None,
    )
