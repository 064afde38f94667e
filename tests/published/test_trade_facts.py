"""What the trade reads off some arrangements, in its own degrees: common practice, no source.

A twin module whose second probe sits after the inlets shows 40 degF of superheat there, while its returning
gas has 11.8; the same figures on a module whose probe sits ahead of them say that liquid boils off in the
accumulator. In heating the coil is the evaporator, and neither of the two suction probes serves. What
the other shipped layouts rest on follows.
"""

from pathlib import Path

import numpy as np
import pytest
import yaml

from agent.assess import (
    AT_PROBE,
    CODE,
    SATURATED_SUCTION,
    SECOND,
    Module,
    Samples,
    Signal,
    assess,
    load_assessment,
)
from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Layout,
    Situation,
    subcooling_probes,
)
from agent.settings.signals import Conversion
from agent.thermo import dew_temperature
from agent.units import Dimension

LAYOUTS = Path(__file__).parents[2] / "config" / "layouts"
TOLERANCE_F = 1.0
GRID_US = 1_700_000_000 * SECOND + 30 * SECOND * np.arange(10)
TIMES_US = np.arange(GRID_US[0] - 3600 * SECOND, GRID_US[-1] + 1, 30 * SECOND)
SIGNAL = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND, half_width=0.5, step=0.1)
STATE = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND)
# What is measured flickers: a tenth of a degree up at one reading in twenty, not at the last ones.
FLICKER_F = 0.1 * (np.arange(len(TIMES_US))[::-1] % 20 == 13)


def shipped(name):
    return Layout.from_mapping(yaml.safe_load((LAYOUTS / f"{name}.yaml").read_text()))


def about_f(degrees):
    return pytest.approx(degrees, abs=TOLERANCE_F)


def difference_f(kelvin):
    """A difference: without the 32."""
    return kelvin * 1.8


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


def said(quantity):
    return (str(quantity.said.status), str(quantity.said.cause), quantity.said.probes)


def test_a_probe_after_the_inlets_shows_what_returning_gas_has_not():
    """Common practice, no source."""
    late = shipped("two-pipe-twin-late")
    quantities = assessment(
        late, "cooling", saturated_f=22.0, suction_pipe=33.8, compressor_inlet=62.0, outdoor_coil_gas=95.0
    ).quantities
    assert quantities[SATURATED_SUCTION].value * 1.8 + 32 == about_f(22.0)
    assert said(quantities[RETURN]) == ("decided", "", ("suction_pipe",))
    assert difference_f(quantities[RETURN].value) == about_f(11.8)
    assert difference_f(quantities[AT_PROBE + "compressor_inlet"].value) == about_f(40.0)
    assert difference_f(quantities[COMPRESSOR_INLET].value) == about_f(40.0)
    assert quantities[COMPRESSOR_INLET].said.standing == "upper_bound"
    assert said(quantities[RISE]) == ("decided", "", ("compressor_inlet", "suction_pipe"))
    assert difference_f(quantities[RISE].value) == about_f(28.2)
    assert quantities[RISE].value - quantities[RISE].below > 0


def test_a_probe_ahead_of_the_inlets_shows_what_the_accumulator_does():
    """Common practice, no source. Without a pressure there is no superheat, yet the change is there."""
    early = shipped("two-pipe-single-early")
    quantities = assessment(
        early, "cooling", suction_pipe=41.0, accumulator_outlet=35.6, outdoor_coil_gas=95.0
    ).quantities
    assert said(quantities[ACCUMULATOR_CHANGE]) == ("decided", "", ("accumulator_outlet", "suction_pipe"))
    assert difference_f(quantities[ACCUMULATOR_CHANGE].value) == about_f(-5.4)
    assert quantities[ACCUMULATOR_CHANGE].value + quantities[ACCUMULATOR_CHANGE].above < 0
    assert said(quantities[RETURN]) == ("missing", "reading", ("suction_pipe",))
    assert said(quantities[ACCUMULATOR_OUTLET]) == ("missing", "reading", ("accumulator_outlet",))
    assert said(quantities[RISE]) == ("not_measurable", "piping", ())
    for place in (RETURN, ACCUMULATOR_OUTLET, RISE):
        assert quantities[place].value is None
    with_pressure = assessment(
        early, "cooling", saturated_f=22.0, suction_pipe=41.0, accumulator_outlet=35.6, outdoor_coil_gas=95.0
    ).quantities[ACCUMULATOR_CHANGE]
    assert said(with_pressure) == ("decided", "", ("accumulator_outlet", "suction_pipe"))
    assert difference_f(with_pressure.value) == about_f(-5.4)
    assert with_pressure.value + with_pressure.above < 0  # more than a loss of pressure alone explains


def test_four_states_without_a_value_are_told_apart():
    """Common practice, no source: not measurable, missing, not decidable and not settled."""
    early = shipped("two-pipe-single-early")
    steady = {"suction_pipe": 41.0, "accumulator_outlet": 35.6, "outdoor_coil_gas": 95.0}
    climbing = steady | {"suction_pipe": np.linspace(5.0, 41.0, len(TIMES_US))}
    without_pressure = assessment(early, "cooling", **steady).quantities
    assert without_pressure[RISE].said.status == "not_measurable"
    assert without_pressure[RETURN].said.status == "missing"
    assert assessment(early, "defrost", 22.0, **steady).quantities[RETURN].said.status == "not_decidable"
    still_moving = assessment(early, "cooling", 22.0, **climbing).quantities[RETURN]
    assert still_moving.said.status == "not_settled"
    decided = assessment(early, "cooling", 22.0, **steady).quantities[RETURN]
    assert decided.said.status == "decided"
    assert difference_f(decided.value) == difference_f(still_moving.value) == about_f(19.0)


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


def test_in_heating_the_coils_own_probe_serves():
    """Common practice, no source: the suction pipe carries nothing, the compressor's inlet is mixed."""
    three_pipe = Layout.from_mapping(THREE_PIPE)
    found = assessment(
        three_pipe,
        "heating",
        saturated_f=22.0,
        suction_pipe=70.0,
        compressor_inlet=62.0,
        outdoor_coil_gas=33.8,
    )
    assert {probe: str(verdict) for probe, (verdict, _) in found.fitness.items()} == {
        "suction_pipe": "idle",
        "compressor_inlet": "mixed",
        "outdoor_coil_gas": "fit",
    }
    assert said(found.quantities[RETURN]) == ("decided", "", ("outdoor_coil_gas",))
    assert difference_f(found.quantities[RETURN].value) == about_f(11.8)
    assert said(found.quantities[RISE]) == ("decided", "", ("compressor_inlet", "outdoor_coil_gas"))
    in_cooling = three_pipe.choose("cooling").places[RETURN]
    assert (in_cooling.standing, in_cooling.probes) == ("fit", ("suction_pipe",))


def test_in_simultaneous_operation_both_streams_are_watched():
    """Common practice, no source: the lower of the two carries the verdict, never their mean."""
    found = assessment(
        Layout.from_mapping(THREE_PIPE),
        "simultaneous",
        saturated_f=22.0,
        suction_pipe=40.0,
        compressor_inlet=62.0,
        outdoor_coil_gas=24.0,
    )
    returned = found.quantities[RETURN]
    assert returned.said.standing == "covering"
    assert set(returned.said.probes) == {"suction_pipe", "outdoor_coil_gas"}
    assert difference_f(returned.value) == about_f(2.0)


def test_the_coil_of_a_three_pipe_module_evaporates_or_condenses_as_its_valve_tells():
    """Common practice, no source: while it condenses, its gas probe tells nothing of what returns."""
    three_pipe = shipped("three-pipe-twin-late")
    figures = {"saturated_f": 22.0, "suction_pipe": 40.0, "compressor_inlet": 62.0}
    condensing = assessment(three_pipe, "simultaneous", outdoor_coil_gas=150.0, **figures)
    assert str(condensing.fitness["outdoor_coil_gas"][0]) == "idle"
    assert said(condensing.quantities[RETURN]) == ("decided", "", ("suction_pipe",))
    assert difference_f(condensing.quantities[RETURN].value) == about_f(18.0)
    evaporating = assessment(
        three_pipe, "simultaneous", open_valves=["coil_valve"], outdoor_coil_gas=24.0, **figures
    ).quantities[RETURN]
    assert set(evaporating.said.probes) == {"suction_pipe", "outdoor_coil_gas"}
    assert difference_f(evaporating.value) == about_f(2.0)


def test_half_a_coil_is_defrosted_while_the_other_half_evaporates():
    """Common practice, no source: only the half that evaporates returns vapour."""
    split = shipped("two-pipe-split-coil")
    found = assessment(
        split,
        "heating",
        saturated_f=22.0,
        open_valves=["upper_coil_valve"],
        upper_coil_gas=31.0,
        lower_coil_gas=45.0,
        suction_pipe=150.0,
        compressor_inlet=62.0,
    )
    assert {probe: str(verdict) for probe, (verdict, _) in found.fitness.items()} == {
        "upper_coil_gas": "fit",
        "lower_coil_gas": "idle",
        "suction_pipe": "high_side",
        "compressor_inlet": "mixed",
        "discharge_1": "high_side",
        "discharge_2": "high_side",
    }
    assert said(found.quantities[RETURN]) == ("decided", "", ("upper_coil_gas",))
    assert difference_f(found.quantities[RETURN].value) == about_f(9.0)


def test_a_wet_subcooler_bypass_does_not_show_on_the_suction_pipe():
    """Common practice, no source: it comes back beside the pipe; the lower carries the verdict."""
    subcooled = shipped("two-pipe-single-late-subcooler")
    figures = {"saturated_f": 22.0, "suction_pipe": 40.0, "subcooler_gas": 23.0, "compressor_inlet": 62.0}
    opened = assessment(
        subcooled, "cooling", open_valves=["subcooler_valve"], outdoor_coil_gas=95.0, **figures
    ).quantities[RETURN]
    assert opened.said.standing == "covering"
    assert difference_f(opened.value) == about_f(1.0)
    shut = assessment(subcooled, "cooling", outdoor_coil_gas=95.0, **figures).quantities[RETURN]
    assert shut.said.probes == ("suction_pipe",)
    assert difference_f(shut.value) == about_f(18.0)


def test_where_the_oil_joins_ahead_of_the_accumulator_its_outlet_reads_warm():
    """Common practice, no source: the same place as elsewhere, and yet no place to read vapour quality at."""
    found = assessment(
        shipped("cooling-only-single-oil-ahead"),
        "cooling",
        saturated_f=22.0,
        suction_pipe=24.0,
        accumulator_outlet=45.0,
    ).quantities
    assert said(found[RETURN]) == ("decided", "", ("suction_pipe",))
    assert difference_f(found[RETURN].value) == about_f(2.0)
    assert said(found[ACCUMULATOR_OUTLET])[0] == "not_measurable"
    assert said(found[RISE]) == ("decided", "", ("accumulator_outlet", "suction_pipe"))


def test_a_bleed_from_the_accumulators_bottom_may_bring_liquid():
    """Common practice, no source: what is read after it is no upper bound on superheat."""
    three_pipe = shipped("three-pipe-twin-late")
    for bleed, standing in ((False, "upper_bound"), (True, "mixed")):
        places = three_pipe.choose("cooling", {"bleed_valve": bleed}, ["1", "2"]).places
        assert places[COMPRESSOR_INLET].standing == standing


def test_what_is_injected_does_not_come_back_through_the_suction_line():
    """Common practice, no source: no verdict on a suction probe changes with it."""
    file = LAYOUTS / "two-pipe-twin-both-injection.yaml"
    described = yaml.safe_load(file.read_text())
    with_it = Layout.from_mapping(described)
    without = Layout.from_mapping({key: body for key, body in described.items() if key != "injection"})
    assert with_it.injection.into == {"1", "2"}
    for mode in ("cooling", "heating"):
        assert with_it.fitness(mode) == without.fitness(mode)


def test_subcooling_is_read_where_liquid_leaves_what_condenses():
    """Common practice, no source: in cooling at the module, in heating at the rooms."""
    found = {}
    for mode in ("cooling", "heating"):
        situation = Situation.of(mode, {"bypass_valve": False, "subcooler_valve": False}, ["1"])
        found[mode] = subcooling_probes(shipped("two-pipe-single-late-subcooler"), situation)
    assert found["cooling"]["liquid_line"].verdict == "fit"
    assert found["cooling"]["liquid_line"].condensers == {"outdoor_coil"}
    assert {str(each.verdict) for each in found["heating"].values()} == {"expanded"}


def test_half_of_a_split_coil_shows_half_of_the_liquid():
    """Common practice, no source: where the liquids have joined, all of it is read."""
    found = subcooling_probes(shipped("three-pipe-split-coil"), Situation.of("cooling"))
    assert {probe: str(each.verdict) for probe, each in found.items()} == {
        "upper_coil_liquid": "partial",
        "lower_coil_liquid": "partial",
        "liquid_line": "fit",
    }
