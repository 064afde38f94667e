"""Settled hours of an invented module: what they come to is worked out here, not by the product.

Every quantity goes by outdoor air and speed, wavers from hour to hour as hours do that follow one another,
and is moved in the later hours by whatever a test is about.
"""

from dataclasses import replace

import numpy as np

from agent.assess.byhour.baseline import DAY_US, learn
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats
from tests.assess.world import LATE, STATE, THERMISTOR, TRANSDUCER, module

STEP_US = 30_000_000
DAY_0 = 19_675 * DAY_US
LEARNT, RECENT = 48, 24

ALL = {
    **dict.fromkeys(("outdoor_air", "discharge_1", "discharge_2", "liquid_line"), THERMISTOR),
    "discharge_pressure": TRANSDUCER,
    **dict.fromkeys(("compressor_1_current", "compressor_2_current", "indoor_expansion"), STATE),
}
MODULE = module(LATE, signals=ALL)

# Per quantity: at 30 degC outdoor air and 50 Hz, per kelvin of air, per hertz, waver from hour to hour,
# expanded uncertainty. Invented; sizes as such machines have them, common practice, no source.
WORLD = {
    "saturated_suction": (6.0, 0.05, -0.10, 0.3, 0.4),
    "return_superheat": (6.0, 0.0, 0.0, 0.5, 0.7),
    "saturated_condensing": (42.0, 1.0, 0.10, 0.4, 0.4),
    "subcooling": (5.0, 0.02, 0.0, 0.4, 0.7),
    "discharge_temperature:1": (75.0, 1.1, 0.2, 1.0, 0.6),
    "discharge_temperature:2": (74.0, 1.1, 0.2, 1.0, 0.6),
    "discharge_superheat:1": (33.0, 0.1, 0.1, 1.0, 0.7),
    "discharge_superheat:2": (32.0, 0.1, 0.1, 1.0, 0.7),
    "discharge_margin:1": (9.0, 0.0, 0.0, 1.0, 9.0),
    "discharge_margin:2": (8.0, 0.0, 0.0, 1.0, 9.0),
    "pressure_ratio": (2.65, 0.06, 0.01, 0.04, 0.05),
    "oil_return_rise": (4.0, 0.0, -0.02, 0.3, 0.8),
    "current:1": (9.0, 0.12, 0.15, 0.15, 0.1),
    "current:2": (9.2, 0.12, 0.15, 0.15, 0.1),
}
SIGNALS = {"indoor_expansion": (0.4, 0.002, 0.004, 0.012, 0.0)}
KEPT = 0.8  # of an hour's waver in the next one


def wavers(rng, count):
    """Hours in order, of unit spread, each like the one before."""
    found = [rng.standard_normal()]
    for _ in range(count - 1):
        found.append(KEPT * found[-1] + np.sqrt(1 - KEPT**2) * rng.standard_normal())
    return np.array(found)


def hours(
    rng,
    count=RECENT,
    first=0,
    mode="cooling",
    *,
    moved=None,
    without=(),
    settled=120,
    air_c=30.0,
    speed_hz=50.0,
):
    """``moved``: quantity or signal to what is added. ``without``: what there is not."""
    moved = moved or {}
    day = 2 * np.pi * np.arange(first, first + count) / 24
    air = air_c + 4 * np.sin(day) + wavers(rng, count)
    speed = speed_hz + 3 * wavers(rng, count)
    table = {
        name: level + per_k * (air - 30) + per_hz * (speed - 50) + moved.get(name, 0.0)
        + waver * wavers(rng, count)
        for name, (level, per_k, per_hz, waver, _) in (WORLD | SIGNALS).items()
    }  # fmt: skip
    share = np.clip(0.8 + moved.get("running_share", 0.0) + 0.05 * wavers(rng, count), 0, 1)

    def one(number):
        quantities = {
            name: stats(table[name][number], WORLD[name][4]) for name in WORLD if name not in without
        }
        signals = {
            "outdoor_air": stats(air[number]),
            "compressor_1_speed": stats(speed[number] / 2),
            "compressor_2_speed": stats(speed[number] / 2),
            "indoor_expansion": stats(table["indoor_expansion"][number]),
        }
        part = Part(120, settled, quantities, {n: s for n, s in signals.items() if n not in without})
        known = {"1": 120, "2": 120}
        running = dict.fromkeys(known, round(120 * share[number]))
        return Hour(DAY_0 + (first + number) * HOUR_US, STEP_US, {mode: part}, {}, running, known, {})

    return [one(number) for number in range(count)]


def stats(mean, u=0.0):
    return Stats(120, float(mean), float(mean), float(mean), 0.1, u, u)


def learnt(rng, mode="cooling", *, without=(), needed=LEARNT):
    """A baseline; the days that follow begin at hour LEARNT."""
    return learn(hours(rng, LEARNT, 0, mode, without=without), 0, needed)


def late(rng, mode="cooling", count=RECENT, **changes):
    return hours(rng, count, LEARNT, mode, **changes)


def as_heating(of):
    """The same module with its outdoor valve known, which feeds what evaporates in heating."""
    return replace(of, signals={**of.signals, "outdoor_expansion": STATE})
