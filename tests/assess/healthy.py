"""Days of a healthy module as its gateway sends them: an invented course with everything that moves a probe.

Starts with a dip of the suction, steady running with some hunting, oil recovery, defrost and its reversal, a
change of mode, standing at night with a warm compressor shell, rooms that switch in and out. Saturation is
R-410A's, from the product's own table.
"""

import numpy as np

from agent.assess import CODE, SECOND, Samples
from agent.thermo import dew_temperature
from tests.assess.world import START_US

_PRESSURES = np.geomspace(50e3, 4.7e6, 4000)
_DEW_C = dew_temperature("R-410A", _PRESSURES)
EVERY_US = 5 * SECOND
# minutes, mode: a working day; what follows a stop starts, and the reversals throw hot gas into the coil
COURSE = (
    (60, "off"), (95, "heating"), (6, "defrost"), (50, "heating"), (5, "oil_recovery"), (40, "heating"),
    (20, "off"), (70, "cooling"), (5, "oil_recovery"), (80, "cooling"), (12, "off"), (90, "cooling"),
    (45, "heating"), (9, "defrost"), (60, "heating"), (75, "off"),
)  # fmt: skip


def pressure_pa(dew_c):
    return np.interp(dew_c, _DEW_C, _PRESSURES)


def course(rng):
    """The mode at every step, each part a little longer or shorter."""
    parts = [(mode, int(rng.uniform(0.85, 1.15) * minutes * 12)) for minutes, mode in COURSE]
    return np.concatenate([[mode] * steps for mode, steps in parts])


def lagged(values, lag_s):
    """What a pipe with a probe makes of it: a first-order lag."""
    keep, found = np.exp(-EVERY_US / SECOND / lag_s), np.empty(len(values))
    now = values[0]
    for index, value in enumerate(values):
        now = value + (now - value) * keep
        found[index] = now
    return found


def truth(of, rng):
    """Every signal of the module at every step, without rounding."""
    modes = course(rng)
    count = len(modes)
    minutes = np.arange(count) * EVERY_US / SECOND / 60
    on = modes != "off"
    hot_outside = modes == "cooling"
    began = np.maximum.accumulate(np.where(np.concatenate(([True], modes[1:] != modes[:-1])), minutes, 0.0))
    since_min = minutes - began
    air = 8 + 6 * np.sin(minutes / 110) + 0.2 * np.sin(minutes / 3)
    load = np.repeat(rng.uniform(-1, 1, 1 + count // 480), 480)[:count]  # rooms come and go every 40 min
    dip = 12 * np.exp(-since_min / 1.5)
    suction = np.select(
        [modes == "off", hot_outside, modes == "defrost"],
        [air + 2, 4 + 2 * load, -18 + 0 * air],
        -8 + 2 * load,
    ) - np.where(on, dip, 0)
    condensing = np.select([modes == "off", modes == "defrost"], [air + 2, 12 + 0 * air], 40 + 4 * load)
    suction, condensing = lagged(suction, 50), lagged(condensing, 80)
    superheat = 6 + 3 * load + 0.3 * np.sin(minutes * 2 * np.pi / 4) + 8 * np.exp(-since_min / 3)
    superheat = np.where(modes == "oil_recovery", 0.5, np.where(modes == "defrost", 0.2, superheat))
    gas = suction + superheat
    discharge = np.where(on, condensing + 34 + 4 * load, air + 8)
    warm = {
        name: np.where(on, discharge, air + 8 * np.exp(-since_min / 40))
        for name in of.layout.discharge_probes
    }
    found = {"outdoor_air": air, "liquid_line": np.where(on, condensing - 7, air)}
    for number, probe in enumerate(of.layout.suction_probes):
        late = "inlet" in probe or "second" in probe
        pipe = gas + (9 + 2 * load if late else 0.3 * number)
        if "coil" in probe:
            pipe = np.where(np.isin(modes, ["heating", "oil_recovery"]), gas, discharge - 8)
            pipe = np.where(hot_outside | (modes == "defrost"), discharge - 8, pipe)
        if probe == "suction_pipe":
            pipe = np.where(np.isin(modes, ["heating"]), discharge - 12, gas)
        found[probe] = lagged(np.where(on, pipe, air + (5 if late else 0)), 25 + 15 * rng.random())
    for probe in of.layout.liquid_probes:
        found[probe] = lagged(np.where(on, condensing - 6, air), 30)
    found |= {name: lagged(each, 90) for name, each in warm.items()}
    found[of.layout.suction_transducer] = pressure_pa(suction)
    if of.layout.discharge_transducer:
        found[of.layout.discharge_transducer] = pressure_pa(np.maximum(condensing, suction))
    for compressor in of.layout.compressors:
        alone = np.repeat(rng.random(1 + count // 720) < 0.4, 720)[:count]
        stands = alone & (compressor != of.layout.compressors[0])
        speed = np.where(on & ~stands, 45 + 15 * load, 0.0)
        found[f"compressor_{compressor}_speed"] = speed
        own = of.layout.discharge_of(compressor)
        if own:
            found[own] = lagged(np.where(on & ~stands, found[own], air + 12), 120)
    for valve in of.layout.valves:
        found[valve] = ((modes == "defrost") | (on & (since_min < 3))).astype(float)
    found["mode"] = np.array([CODE[mode] for mode in modes.tolist()], float)
    return found


def day(of, rng, *, every_s=30, noise_k=0.05, jitter_s=3.0):
    """Readings as a gateway polls and rounds them; a signal is rounded to its step."""
    whole = truth(of, rng)
    found = {}
    for name, signal in of.signals.items():
        value = whole[name]
        count = len(value) * EVERY_US // SECOND // every_s - 2
        at_s = (
            every_s * np.arange(count)
            + np.maximum(rng.uniform(0, jitter_s, count), 0)
            + rng.uniform(0, every_s)
        )
        read = np.interp(at_s, np.arange(len(value)) * EVERY_US / SECOND, value)
        if not signal.half_width:
            read = value[(at_s * SECOND // EVERY_US).astype(int)]
        elif value.max() > 1e4:
            read = read + rng.normal(0, 1e3, count)
        else:
            read = read + rng.normal(0, noise_k, count)
        if signal.step:
            read = np.round(read / signal.step) * signal.step
        kept = rng.random(count) > 0.01
        if signal.on_change:
            kept = np.concatenate(([True], read[1:] != read[:-1]))
        found[name] = Samples(START_US + (at_s[kept] * SECOND).astype(np.int64), read[kept])
    return found


def span_us(readings):
    return min(int(each.time_us[0]) for each in readings.values()), max(
        int(each.time_us[-1]) for each in readings.values()
    )
