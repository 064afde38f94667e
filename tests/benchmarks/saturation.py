"""What a saturation temperature and a superheat take for a value, against CoolProp.

It is asked in three ways, in turns with ours: ``PropsSI`` for each value, ``PropsSI`` for an array, and
``AbstractState.update`` for each value; the ratio is to the second. Of a pure fluid CoolProp has a short cut,
of a blend it solves for every value. Pressures come as a module's do, drifting in time; the last row of each
refrigerant has them at random, so that every one is searched for anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from importlib import import_module
from statistics import median
from typing import Any

from tests.benchmarks.rows import Row, cpu_s

ASKED = 200  # values that CoolProp is asked for in a run; what one takes does not hang on their number
LEAST_VALUES = 100_000  # that ours is asked for in a run, over again where the array is shorter


def report(quick: bool) -> Iterator[Row]:
    for what, name in (("agent.thermo, with numpy", "agent.thermo"), ("CoolProp", "CoolProp.CoolProp")):
        yield Row(f"import of {what}", f"{cpu_s(partial(import_module, name)) * 1e3:.0f} ms")
    thermo = import_module("agent.thermo")
    for name in thermo.REFRIGERANTS:
        tables_s = cpu_s(lambda name=name: (thermo.dew_slope(name, 8e5), thermo.bubble_slope(name, 8e5)))  # type: ignore[misc]
        yield Row(f"{name}, first call: both tables", f"{tables_s * 1e3:.1f} ms")
    for name, known in thermo.REFRIGERANTS.items():
        asked = partial(beside, fluid=known.fluid, runs=3 if quick else 9)
        dew = partial(thermo.dew_temperature, name)
        yield asked(f"{name}, dew, one value", dew, float(drifting(1)[0]))
        yield asked(f"{name}, dew, 1,000 values", dew, drifting(1_000))
        yield asked(f"{name}, dew, 100,000 values", dew, drifting(100_000))
        yield asked(f"{name}, dew, 100,000 at random", dew, at_random(100_000))
        yield asked(
            f"{name}, bubble, 1,000 values",
            partial(thermo.bubble_temperature, name),
            drifting(1_000),
            quality=0,
        )
        yield asked(
            f"{name}, superheat with its uncertainty, 1,000 values", superheat(thermo, name), drifting(1_000)
        )


def superheat(thermo: Any, name: str) -> Callable[[Any], object]:
    """As it is asked for a probe upstream of its transducer."""
    spreads = {"u_temperature_k": 0.3, "u_pressure_pa": 5e3, "u_model_fraction": 0.0025}
    return lambda pressure_pa: thermo.superheat(name, 10.0, pressure_pa, **spreads, loss_pa=(0.0, 2e4))


def drifting(size: int) -> Any:
    """Absolute pressures [Pa] about 800 kPa, a slow swing with noise."""
    numpy = import_module("numpy")
    noise = numpy.random.default_rng(1).normal(0.0, 1e3, size)
    return 8e5 + 1e5 * numpy.sin(numpy.arange(size) / 300) + noise


def at_random(size: int) -> Any:
    return import_module("numpy").random.default_rng(2).uniform(3e5, 3e6, size)


def beside(
    what: str, ours: Callable[[Any], object], pressure_pa: Any, *, fluid: str, runs: int, quality: int = 1
) -> Row:
    numpy, coolprop = import_module("numpy"), import_module("CoolProp.CoolProp")
    size = numpy.size(pressure_pa)
    times = max(1, LEAST_VALUES // size // (1 if size > 1 else 50))
    asked = numpy.resize(pressure_pa, ASKED)
    state = coolprop.AbstractState("HEOS", fluid)
    ways: dict[str, tuple[Callable[[], object], int]] = {
        "ours": (lambda: [ours(pressure_pa) for _ in range(times)], size * times),
        "each": (lambda: [coolprop.PropsSI("T", "P", p, "Q", quality, fluid) for p in asked.tolist()], ASKED),
        "array": (lambda: coolprop.PropsSI("T", "P", asked, "Q", quality, fluid), ASKED),
        "state": (lambda: [state.update(coolprop.PQ_INPUTS, p, quality) for p in asked.tolist()], ASKED),
    }
    took: dict[str, list[float]] = {way: [] for way in ways}
    for _ in range(runs):
        for way, (do, values) in ways.items():
            took[way].append(cpu_s(do) / values)
    us = {way: median(seconds) * 1e6 for way, seconds in took.items()}
    floor = f"PropsSI {us['array']:.3g} µs of an array, {us['each']:.3g} µs each; "
    floor += f"AbstractState {us['state']:.3g} µs"
    aim = "500 times faster" if size > 1 else ""
    return Row(what, f"{us['ours']:.3g} µs", floor, us["array"] / us["ours"], aim)
