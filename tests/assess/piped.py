"""Settled hours of a module with given pipe temperatures, made by hand."""

from agent.assess import Module, Signal
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats
from agent.piping import Layout
from agent.thermo import dew_pressure

SECOND = 1_000_000
THERMISTOR = Signal(300 * SECOND, 60 * SECOND, half_width=0.5, step=0.1)
TRANSDUCER = Signal(300 * SECOND, 60 * SECOND, half_width=10e3, step=1e3)
STATE = Signal(300 * SECOND, 60 * SECOND)
SUCTION_C, CONDENSING_C, AIR_C = 5.0, 45.0, 30.0
GRID = 120  # grid times in an hour
RESTING = {"suction_pipe": 20.0, "compressor_inlet": 23.0, "outdoor_coil_gas": 20.5}  # beside a warm shell
LATE = {"suction_pipe": 11.0, "compressor_inlet": 13.5, "outdoor_coil_gas": 65.0}


def stats(mean: float) -> Stats:
    return Stats(GRID, mean, mean, mean, 0.0)


def module(layout: Layout, signals, thermistor: Signal = THERMISTOR) -> Module:
    every = dict.fromkeys(signals, thermistor) | {"outdoor_air": thermistor}
    every |= dict.fromkeys((layout.suction_transducer, layout.discharge_transducer), TRANSDUCER)
    return Module(layout=layout, refrigerant="R-410A", signals=every)


def hours(
    pipes,
    mode="cooling",
    count=12,
    first=0,
    running=("1",),
    opened=None,
    air=AIR_C,
    suction_c=SUCTION_C,
    condensing_c=CONDENSING_C,
):
    """``pipes``: degC by signal, or a function of the number of the hour."""
    found = []
    for number in range(first, first + count):
        values = {name: value(number) if callable(value) else value for name, value in pipes.items()}
        values |= {"outdoor_air": air(number) if callable(air) else air}
        signals = {name: stats(value) for name, value in values.items()}
        signals["suction_pressure"] = stats(float(dew_pressure("R-410A", suction_c)))
        signals["discharge_pressure"] = stats(float(dew_pressure("R-410A", condensing_c)))
        runs = dict.fromkeys(running, GRID if mode != "off" else 0)
        part = Part(GRID, GRID, {}, signals, {}, opened or {})
        known = dict.fromkeys(running, GRID)
        found.append(Hour(number * HOUR_US, 30 * SECOND, {mode: part}, {}, runs, known, {}))
    return found


def night_and_day(pipes, first=0, running=("1", "2")):
    """Hours of standing, in which the late probe is warmed by a shell, and of running."""
    resting = {name: celsius for name, celsius in RESTING.items() if name in pipes}
    return hours(resting, "off", first=first, running=running) + hours(
        pipes, first=first + 12, running=running
    )
