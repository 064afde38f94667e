"""A module of the shipped late layout and readings for it, in SI; every test changes what it is about."""

from dataclasses import replace

import numpy as np

from agent.assess import CODE, SECOND, Module, Samples, Signal
from agent.piping import Layout
from tests.piping.layouts import shipped

STEP_US = 30 * SECOND
START_US = 1_699_999_200 * SECOND  # a whole hour
LATE = Layout.from_mapping(shipped("two-pipe-twin-late"))
EARLY = Layout.from_mapping(shipped("two-pipe-single-early"))

THERMISTOR = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND, half_width=0.5, step=0.1)
TRANSDUCER = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND, half_width=10e3, step=1e3)
STATE = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND)

# R-410A: dew at 800 kPa is near 0.1 degC
STEADY = {
    "mode": CODE["cooling"],
    "suction_pipe": 8.0,
    "outdoor_coil_gas": 40.0,
    "compressor_inlet": 20.0,
    "accumulator_outlet": 5.0,
    "suction_pressure": 800e3,
    "bypass_valve": 0.0,
    "compressor_1_speed": 50.0,
    "compressor_2_speed": 0.0,
    "discharge_pressure": 2500e3,  # dew near 41 degC
    "discharge_1": 75.0,
}
WIDE = {"suction_pressure": 60e3, "discharge_pressure": 150e3}


def module(layout=LATE, *, without=(), signals=None, **changes):
    named = dict.fromkeys(layout.suction_probes, THERMISTOR)
    named |= {layout.suction_transducer: TRANSDUCER, "mode": STATE}
    named |= dict.fromkeys(layout.valves, STATE)
    named |= {f"compressor_{name}_speed": STATE for name in layout.compressors}
    named |= signals or {}
    return Module(layout, "R-410A", {n: s for n, s in named.items() if n not in without}, **changes)


def grid(minutes, step_us=STEP_US, start_us=START_US):
    return start_us + step_us * np.arange(minutes * 60 * SECOND // step_us)


def samples(of, until_us, *, every_us=STEP_US, since_us=START_US - 7200 * SECOND, flickers=True, **values):
    """Readings of every signal of a module: constant unless a value or a function of minutes is given.

    A constant flickers as a measured one does: 6.5 minutes into every ten, for one sample, by one step. At
    whole minutes, and half a minute before a multiple of five, it is what was given. A function flickers only
    before the start.
    """
    time_us = np.arange(since_us, until_us + 1, every_us)
    minutes = (time_us - START_US) / (60 * SECOND)
    up = np.round(2 * minutes) % 20 == 13
    found = {}
    for name, signal in of.signals.items():
        value = values.get(name, STEADY.get(name, 10.0))
        if value is None:
            continue
        if callable(value):
            early = up & (minutes < 0) & flickers
            found[name] = Samples(time_us, np.array([value(m) for m in minutes], float) + signal.step * early)
        else:
            found[name] = Samples(time_us, value + signal.step * up * flickers)
    return found


def mode_by(minutes, before, after):
    return lambda m: CODE[before] if m < minutes else CODE[after]


def said(stretch, name, at=-1):
    """Status and cause of a quantity at a grid time, as words."""
    words = stretch.phrases[stretch.tracks[name].said[at]]
    return (str(words.status), str(words.cause))


def text(stretch, name, at=-1):
    return stretch.phrases[stretch.tracks[name].said[at]].text


def statuses(stretch, name):
    return [said(stretch, name, at) for at in range(len(stretch.grid_us))]


def modes(stretch):
    return [stretch.situations[number][0].mode for number in stretch.situation.tolist()]


def random_day(of, rng, minutes=720, *, every_us=20 * SECOND):
    """Readings of a restless day, without any order that a module would keep.

    Modes that change, drifts, noise, gaps, jitter in the sample times, figures that no suction line can have,
    pressures that meet, and a gateway that repeats itself.
    """
    found = {}
    start, length = START_US - 7200 * SECOND, (minutes * 60 + 7200) * SECOND
    count = length // every_us
    repeats = np.repeat(rng.random(1 + count // 240) < 0.15, 240)[:count]
    for name in of.signals:
        time_us = start + every_us * np.arange(count) + rng.integers(0, every_us // 2, count)
        phase = rng.random(count).cumsum() * every_us / (600 * SECOND)
        if name == "mode":
            blocks = rng.choice(["cooling", "cooling", "heating", "off", "defrost"], 1 + count // 180)
            value = np.repeat([CODE[block] for block in blocks], 180)[:count].astype(float)
        elif name.endswith("_speed"):
            value = np.repeat(rng.choice([0.0, 40.0, 60.0], 1 + count // 240), 240)[:count]
        elif name.endswith("_valve"):
            value = np.repeat(rng.choice([0.0, 0.0, 0.0, 1.0], 1 + count // 60), 60)[:count]
        else:
            calm = np.repeat(rng.choice([0.02, 0.1, 0.8], 1 + count // 150), 150)[:count]
            value = STEADY.get(name, 10.0) + WIDE.get(name, 4.0) * (
                np.sin(phase / 1.5) + calm * rng.standard_normal(count) / 4
            )
            odd = np.repeat(rng.random(1 + count // 120) < 0.1, 120)[:count]
            if name == "discharge_pressure":
                value = np.where(odd, 900e3, value)
            elif name != "suction_pressure":
                value = np.where(odd, value - 12.0, value)
            last_own = np.maximum.accumulate(np.where(repeats, 0, np.arange(count)))
            value = value[last_own]
        value = np.where(rng.random(count) < 0.002, np.nan, value)
        kept = rng.random(count) > 0.05
        for hole in rng.integers(0, count, 3):
            kept[hole : hole + rng.integers(5, 60)] = False
        found[name] = Samples(time_us[kept], value[kept])
    return found


def coarse(of):
    """The same module on a gateway that polls every two minutes."""
    slow = {
        name: replace(signal, interval_us=120 * SECOND, max_age_us=300 * SECOND)
        for name, signal in of.signals.items()
    }
    return replace(of, signals=slow)


def cut_to(given, first_us, last_us):
    """Only the readings of a stretch of time, as a store hands them out."""
    found = {}
    for name, (time_us, value) in given.items():
        kept = (time_us >= first_us) & (time_us <= last_us)
        found[name] = Samples(time_us[kept], value[kept])
    return found
