"""What the assessment makes of a module in a quiet hour: every signal there, every inlet shut.

The readings are invented, and only as good as they need to be: what comes out is which probes speak, how
far they may be wrong, and what cannot be told. The judgement is the same that real readings get.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from agent.assess.assess import assess
from agent.assess.assessment import Assessment, load_assessment
from agent.assess.frames import Samples
from agent.assess.mode_codes import CODE
from agent.assess.module import SECOND, Module, Signal
from agent.assess.signals import FAN_SIGNALS, FLAGS, MODE_SIGNAL, REVERSING_VALVE, current_of, speed_of
from agent.piping import Layout
from agent.thermo import dew_pressure

DEW_C = {"heating": -5.0}  # typical dew temperature at suction pressure; design choice, no source
ELSE_DEW_C = 5.0
SUPERHEAT_K, CONDENSING_C, DISCHARGE_C = 6.0, 45.0, 75.0
STILL = 1e-3  # K or Pa to and fro, so that nothing counts as an old value repeated

_STEP_US = 30 * SECOND


def typical_dew_c(mode: str) -> float:
    """Dew temperature at suction pressure that is taken as typical of a mode [degC]."""
    return DEW_C.get(mode, ELSE_DEW_C)


def typical(module: Module, mode: str) -> Assessment:
    """An invented module like this one, steady in a mode for long enough."""
    stated = Signal(max_age_us=2 * _STEP_US, interval_us=_STEP_US)
    told = replace(module, signals={**module.signals, MODE_SIGNAL: stated})
    values = _values(module, mode)
    length_us = 2 * module.lookback_us
    samples = {
        name: _steady(values.get(name, typical_dew_c(mode)), signal, length_us)
        for name, signal in told.signals.items()
    }
    stretch = assess(told, np.array([0]), samples, _STEP_US)
    return load_assessment(0, 0, *next(stretch.records({}, ()))[1:])


def quiet_valves(layout: Layout, mode: str) -> dict[str, bool]:
    """Every inlet shut, and every coil evaporating that may in this mode."""
    roles = {coil.valve: False for coil in layout.coils.values()}
    roles |= {coil.valve: True for coil in layout.coils_by_valve(mode)}
    roles |= {
        layout.coils[name].valve: True for name in layout.modes[mode].evaporators if name in layout.coils
    }
    return dict.fromkeys(layout.inlet_valves, False) | roles


def _values(module: Module, mode: str) -> Mapping[str, float]:
    """What is not simply as cold as the evaporators."""
    layout, dew_c = module.layout, typical_dew_c(mode)
    values = {
        MODE_SIGNAL: float(CODE[mode]),
        layout.suction_transducer: dew_pressure(module.refrigerant, dew_c),
    }
    if layout.discharge_transducer:
        values[layout.discharge_transducer] = dew_pressure(module.refrigerant, CONDENSING_C)
    values |= dict.fromkeys(layout.suction_probes, dew_c + SUPERHEAT_K)
    values |= dict.fromkeys(layout.discharge_probes, DISCHARGE_C)
    values |= {name: float(state) for name, state in quiet_valves(layout, mode).items()}
    values |= {REVERSING_VALVE: float(mode == "heating")} | dict.fromkeys(FAN_SIGNALS, 1.0)
    values |= dict.fromkeys(FLAGS, 0.0)
    for compressor in layout.compressors:
        values[speed_of(compressor)] = 2 * module.runs_above_hz
        values[current_of(compressor)] = 2 * module.runs_above_a
    return values


def _steady(value: float, signal: Signal, length_us: int) -> Samples:
    """Readings every interval up to time 0."""
    every_us = max(signal.interval_us, _STEP_US)
    time_us = -np.arange(length_us // every_us, -1, -1) * every_us
    swing = STILL * (np.arange(len(time_us)) % 2) if signal.half_width else 0.0
    return Samples(time_us.astype(np.int64), value + swing + np.zeros(len(time_us)))
