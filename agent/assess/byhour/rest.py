"""A module at rest: hours in which it has stood for so long that its pipes have come to one temperature.

The figures are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from agent.assess.byhour.hours import HOUR_US, Hour

OFF = "off"
REST_AFTER = 4  # whole hours of standing before an hour counts


def stands(hour: Hour) -> bool:
    return len(hour.parts) == 1 and OFF in hour.parts


def at_rest(hours: Sequence[Hour]) -> list[Hour]:
    """Of ascending hours those before which the module stood for long enough, without a hole."""
    found, stood, goes_on_us = [], 0, None
    for hour in hours:
        if not stands(hour):
            stood, goes_on_us = 0, None
            continue
        stood = stood + 1 if hour.from_us == goes_on_us else 1
        goes_on_us = hour.to_us
        if stood > REST_AFTER:
            found.append(hour)
    return found


def periods(resting: Sequence[Hour]) -> list[list[Hour]]:
    """Hours at rest, period by period: between two of them it ran."""
    found: list[list[Hour]] = []
    for hour in resting:
        if found and hour.from_us <= found[-1][-1].to_us + REST_AFTER * HOUR_US:
            found[-1].append(hour)
        else:
            found.append([hour])
    return found
