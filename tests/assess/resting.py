"""Hours of a module that runs by day and stands at night; an invented course. degC, Pa."""

from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats

STEP_US = 30_000_000
DAY_0 = 19_675 * 24 * HOUR_US
REST_PA = 800e3  # of R-410A: dew near 0.1 degC


def stats(mean, spread=0.1):
    return Stats(120, mean, mean - spread, mean + spread, spread)


def hour(number, mode="off", *, spreads=None, **signals):
    """An hour in one mode; ``spreads``: per signal its standard deviation, 0.1 otherwise."""
    spreads = spreads or {}
    shown = {
        name: stats(value, spreads.get(name, 500.0 if value > 1e4 else 0.1))
        for name, value in signals.items()
    }
    return Hour(
        DAY_0 + number * HOUR_US,
        STEP_US,
        {mode: Part(120, 120, {}, shown)},
        {},
        {"1": 0},
        {"1": 120},
        {"1": 0},
    )


def nights(first, count, *, begins=22, lasts=8, **signals):
    """Days in which the module runs, then stands: hours from the first day's midnight on."""
    found = []
    for day in range(first, first + count):
        found += [
            hour(24 * day + n, "cooling", suction_pressure=800e3) for n in range(begins - 24 + lasts, begins)
        ]
        values = {"suction_pressure": REST_PA, "discharge_pressure": REST_PA} | signals
        found += [hour(24 * day + n, **values) for n in range(begins, begins + lasts)]
    return found
