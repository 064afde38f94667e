"""An ordinary module in every situation and of every refrigerant, as its gateway sends it.

Mistakes are made on what it sends. Saturation of R-410A and R-32 is from the table that CoolProp 8.0.0 and,
independently, teqp 0.23.2 agree on to 0.02 K; of other refrigerants from the product's own tables, which are
checked in tests/published.
"""

from dataclasses import replace

import numpy as np

from agent.assess import SECOND, Signal, findings
from agent.settings import Conversion, take
from agent.thermo import REFRIGERANTS, bubble_temperature, dew_temperature
from agent.units import Dimension
from tests.assess.world import LATE, START_US, module

EVERY_US = 30 * SECOND
MODE_WORDS = {"off": 1.0, "cool": 3.0, "heat": 4.0, "defrost": 6.0}
ATMOSPHERE_KPA = 101.325

# kPa absolute to dew in degC; the middle column serves suction and rest, the last one discharge.
DEW = {
    "R-410A": {539: -11.74, 944: 5.38, 1654: 25.04, 2897: 47.59},
    "R-32": {547: -11.81, 962: 5.36, 1689: 24.99, 2968: 47.56},
}

PIPE = Signal(120 * SECOND, EVERY_US, 0.5, 0.1)
PRESSURE = Signal(120 * SECOND, EVERY_US, 10e3, 1e3)
STATE = Signal(120 * SECOND, EVERY_US)
TEMPERATURES = (
    "suction_pipe",
    "outdoor_coil_gas",
    "compressor_inlet",
    "liquid_line",
    "outdoor_air",
    "discharge_1",
    "discharge_2",
)
PRESSURES = ("suction_pressure", "discharge_pressure")
SPEEDS = ("compressor_1_speed", "compressor_2_speed")
SIGNALS = dict.fromkeys(TEMPERATURES, PIPE) | dict.fromkeys(PRESSURES, PRESSURE)
SIGNALS |= dict.fromkeys((*SPEEDS, "mode", "bypass_valve"), STATE)


def pressure_kpa(refrigerant, dew_c, saturation=dew_temperature):
    """Where a refrigerant has this dew or bubble temperature; dew from the table where it has the point."""
    for pressure, at_c in DEW.get(refrigerant, {}).items():
        if at_c == dew_c and saturation is dew_temperature:
            return float(pressure)
    grid = np.geomspace(20e3, 5e6, 4001)
    dew = saturation(refrigerant, grid)
    known = ~np.isnan(dew)
    return float(np.interp(dew_c, dew[known], grid[known])) / 1e3


def running(
    refrigerant="R-410A", mode="cool", superheat_k=6.0, suction_c=None, condensing_c=None, air_c=None
):
    """What the gateway sends of a module that runs: degC and kPa absolute."""
    points = list(DEW.get(refrigerant, {1: -11.7, 2: 5.4, 3: 25.0, 4: 47.6}).values())
    suction_c = suction_c if suction_c is not None else points[1] if mode == "cool" else points[0]
    condensing_c = condensing_c if condensing_c is not None else points[3]
    air_c = air_c if air_c is not None else 35.0 if mode == "cool" else -4.0
    hot_c, cold_c = condensing_c + 30.0, suction_c + superheat_k
    return {
        "mode": mode,
        "suction_pipe": cold_c if mode == "cool" else hot_c - 12.0,
        "outdoor_coil_gas": hot_c - 6.0 if mode == "cool" else cold_c,
        "compressor_inlet": cold_c + 2.5,
        "liquid_line": condensing_c - 7.0,
        "outdoor_air": air_c,
        "discharge_1": hot_c,
        "discharge_2": hot_c + 1.0,
        "suction_pressure": pressure_kpa(refrigerant, suction_c),
        "discharge_pressure": pressure_kpa(refrigerant, condensing_c),
        "compressor_1_speed": 55,
        "compressor_2_speed": 55,
        "bypass_valve": 0,
    }


def standing(refrigerant="R-410A", rest_c=None, *, liquid=False):
    """A module that has come to rest: one temperature everywhere, one pressure on both sides.

    ``liquid``: most of it has condensed, so that a blend stands at its bubble pressure instead of dew.
    """
    rest_c = rest_c if rest_c is not None else list(DEW.get(refrigerant, {0: 0, 1: 5.4}).values())[1]
    pressure = pressure_kpa(refrigerant, rest_c, bubble_temperature if liquid else dew_temperature)
    return {
        **{name: rest_c + 0.3 * (i % 3 - 1) for i, name in enumerate(TEMPERATURES)},
        **dict.fromkeys(PRESSURES, pressure),
        **dict.fromkeys(SPEEDS, 0),
        "mode": "off",
        "bypass_valve": 0,
    }


def conversions(pressures=None, temperatures="degC"):
    pressures = pressures or Conversion(Dimension.PRESSURE, "kPa")
    found = dict.fromkeys(TEMPERATURES, Conversion(Dimension.TEMPERATURE, temperatures))
    found |= dict.fromkeys(PRESSURES, pressures)
    found |= dict.fromkeys(SPEEDS, Conversion(Dimension.FREQUENCY, "Hz"))
    return found | {
        "mode": Conversion(None, words=MODE_WORDS),
        "bypass_valve": Conversion(None, words={"0": 0.0, "1": 1.0}),
    }


def sent(values, samples=4, wobble=True):
    """Samples of what a gateway sends, a measured value with a little movement; a list is sent as it is."""
    rows = {}
    for number, (name, value) in enumerate(values.items()):
        if isinstance(value, list):
            rows[name] = value
        elif name in (*TEMPERATURES, *PRESSURES) and wobble:
            # 0, 1, 2, 1 tenths, and where that begins differs: fine values move, and never all at once
            rows[name] = [round(value + 0.1 * abs((i + number) % 4 - 2), 1) for i in range(samples)]
        else:
            rows[name] = [value] * samples
    return rows


def look(
    values, refrigerant="R-410A", *, converted=None, samples=4, layout=LATE, every_us=EVERY_US, **changes
):
    """Findings on what a gateway sends, read as configured."""
    of = replace(module(layout), refrigerant=refrigerant, signals=SIGNALS, **changes)
    converted = converted or conversions()
    times_us = START_US + every_us * np.arange(samples)
    taken = {
        name: take(converted[name], times_us[: len(row)], row, [None] * len(row))
        for name, row in sent(values, samples).items()
    }
    return findings(of, times_us, taken)


def every_situation():
    """Refrigerant, name and values of everything that is ordinary."""
    for refrigerant in REFRIGERANTS:
        for superheat_k in (
            0.0,
            2.0,
            6.0,
            11.0,
            20.0,
        ):  # wet to starved: the circuit's trouble, not the mapping's
            for mode in ("cool", "heat"):
                yield refrigerant, f"{mode} {superheat_k}", running(refrigerant, mode, superheat_k)
        yield (
            refrigerant,
            "cool in winter",
            running(refrigerant, air_c=-15.0, suction_c=2.0, condensing_c=18.0),
        )
        yield refrigerant, "heat in hard frost", running(refrigerant, "heat", suction_c=-32.0, air_c=-25.0)
        yield refrigerant, "cool in the desert", running(refrigerant, air_c=48.0, condensing_c=62.0)
        for rest_c in (-20.0, 5.4, 35.0):
            yield refrigerant, f"rest {rest_c}", standing(refrigerant, rest_c)
            yield refrigerant, f"rest {rest_c} with liquid", standing(refrigerant, rest_c, liquid=True)


def changed(values, names, change):
    return values | {name: change(values[name]) for name in names}


def swapped(values, first, second):
    return values | {first: values[second], second: values[first]}


def only(found):
    assert len(found.suspicions) == 1, found.suspicions
    return found.suspicions[0]
