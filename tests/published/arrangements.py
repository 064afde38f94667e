"""Modules with the figures that the trade reads on them, in degF: common practice, no source."""

from functools import cache
from pathlib import Path

import numpy as np
import yaml

from agent.assess import CODE, SECOND, Module, Samples, Signal, assess, load_assessment
from agent.piping import Layout
from agent.settings.signals import Conversion
from agent.thermo import dew_temperature
from agent.units import Dimension

LAYOUTS = Path(__file__).parents[2] / "config" / "layouts"
GRID_US = 1_700_000_000 * SECOND + 30 * SECOND * np.arange(10)
TIMES_US = np.arange(GRID_US[0] - 3600 * SECOND, GRID_US[-1] + 1, 30 * SECOND)
SIGNAL = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND, half_width=0.5, step=0.1)
STATE = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND)
# What is measured flickers: a tenth of a degree up at one reading in twenty, not at the last ones.
FLICKER_F = 0.1 * (np.arange(len(TIMES_US))[::-1] % 20 == 13)


def shipped(name):
    return Layout.from_mapping(yaml.safe_load((LAYOUTS / f"{name}.yaml").read_text()))


def pressure_pa(saturated_f):
    """The pressure at which R-410A has this dew temperature."""
    low_pa, high_pa = 1e5, 3e6
    while high_pa - low_pa > 0.1:
        middle_pa = (low_pa + high_pa) / 2
        too_low = dew_temperature("R-410A", middle_pa) < (saturated_f - 32) / 1.8
        low_pa, high_pa = (middle_pa, high_pa) if too_low else (low_pa, middle_pa)
    return low_pa


def assessment(layout, mode, saturated_f=None, open_valves=(), **temperatures_f):
    """A running module's last assessment as it is kept. Temperatures in degF, one or one per sample.

    ``open_valves``: inlets that are open, coils that evaporate; the others are known not to.
    """
    fahrenheit = Conversion(Dimension.TEMPERATURE, "degF")
    found = {
        name: fahrenheit.samples(
            TIMES_US, (np.broadcast_to(value, TIMES_US.shape) + FLICKER_F).tolist(), [None] * len(TIMES_US)
        )
        for name, value in temperatures_f.items()
    }
    found["mode"] = Samples(TIMES_US, np.full(TIMES_US.shape, float(CODE[mode])))
    found |= {
        valve: Samples(TIMES_US, np.full(TIMES_US.shape, float(valve in open_valves)))
        for valve in layout.valves
    }
    speeds = [f"compressor_{name}_speed" for name in layout.compressors]
    found |= {speed: Samples(TIMES_US, np.full(TIMES_US.shape, 50.0)) for speed in speeds}
    if saturated_f is not None:
        pascal = Conversion(Dimension.PRESSURE, "Pa")
        value = pressure_pa(saturated_f)
        values = (value + 100.0 * np.sign(FLICKER_F)).tolist()  # a measured one never stands still
        found["suction_pressure"] = pascal.samples(TIMES_US, values, [None] * len(TIMES_US))
    signals = dict.fromkeys([*layout.suction_probes, "suction_pressure"], SIGNAL)
    signals |= dict.fromkeys(["mode", *layout.valves, *speeds], STATE)
    stretch = assess(Module(layout, "R-410A", signals), GRID_US, found, 30 * SECOND)
    (grid_us, basis, figures) = list(stretch.records({}, ()))[-1]
    return load_assessment(grid_us, 1, basis, figures)


THREE_PIPE = {
    "layout": "three-pipe-for-a-test",
    "about": "Three pipes: the indoor branch of the low side has a pipe of its own, which never reverses.",
    "suction_side": [
        [
            {"evaporator": "indoor_units"},
            {"segment": "low_pressure_gas_pipe"},
            {"probe": "suction_pipe"},
            {"junction": "low_side"},
        ],
        [{"evaporator": "outdoor_coil"}, {"probe": "outdoor_coil_gas"}, {"junction": "low_side"}],
        [
            {"junction": "low_side"},
            {"vessel": "accumulator"},
            {"inlet": "oil_return"},
            {"inlet": "hot_gas_bypass"},
            {"probe": "compressor_inlet"},
            {"transducer": "suction_pressure"},
            {"compressor": 1},
        ],
    ],
    "inlets": {
        "oil_return": {"effect": "warms"},
        "hot_gas_bypass": {"effect": "warms", "valve": "bypass_valve"},
    },
    "modes": {
        "cooling": {"evaporators": ["indoor_units"]},
        "heating": {"evaporators": ["outdoor_coil"]},
        "simultaneous": {"evaporators": ["indoor_units", "outdoor_coil"]},
    },
}


@cache
def twin_late():
    figures = {"suction_pipe": 33.8, "compressor_inlet": 62.0, "outdoor_coil_gas": 95.0}
    return assessment(shipped("two-pipe-twin-late"), "cooling", saturated_f=22.0, **figures)


@cache
def single_early(saturated_f=None):
    figures = {"suction_pipe": 41.0, "accumulator_outlet": 35.6, "outdoor_coil_gas": 95.0}
    early = shipped("two-pipe-single-early")
    return assessment(early, "cooling", saturated_f=saturated_f, **figures)


@cache
def subcooler(is_open):
    """The suction pipe has 18 degF of superheat, what comes back from the subcooler 1 degF."""
    figures = {
        "suction_pipe": 40.0,
        "subcooler_gas": 23.0,
        "compressor_inlet": 62.0,
        "outdoor_coil_gas": 95.0,
    }
    valves = ["subcooler_valve"] if is_open else []
    layout = shipped("two-pipe-single-late-subcooler")
    return assessment(layout, "cooling", saturated_f=22.0, open_valves=valves, **figures)


@cache
def three_pipe_twin(coil_evaporates):
    figures = {"suction_pipe": 40.0, "compressor_inlet": 62.0}
    figures["outdoor_coil_gas"] = 24.0 if coil_evaporates else 150.0
    valves = ["coil_valve"] if coil_evaporates else []
    layout = shipped("three-pipe-twin-late")
    return assessment(layout, "simultaneous", saturated_f=22.0, open_valves=valves, **figures)


@cache
def half_defrosting():
    return assessment(
        shipped("two-pipe-split-coil"),
        "heating",
        saturated_f=22.0,
        open_valves=["upper_coil_valve"],
        upper_coil_gas=31.0,
        lower_coil_gas=45.0,
        suction_pipe=150.0,
        compressor_inlet=62.0,
    )


@cache
def oil_ahead():
    figures = {"suction_pipe": 24.0, "accumulator_outlet": 45.0}
    layout = shipped("cooling-only-single-oil-ahead")
    return assessment(layout, "cooling", saturated_f=22.0, **figures)


@cache
def three_pipe_heating():
    figures = {"suction_pipe": 70.0, "compressor_inlet": 62.0, "outdoor_coil_gas": 33.8}
    return assessment(Layout.from_mapping(THREE_PIPE), "heating", saturated_f=22.0, **figures)


@cache
def three_pipe_simultaneous():
    figures = {"suction_pipe": 40.0, "compressor_inlet": 62.0, "outdoor_coil_gas": 24.0}
    return assessment(Layout.from_mapping(THREE_PIPE), "simultaneous", saturated_f=22.0, **figures)
