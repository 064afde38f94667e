"""What the trade reads off some arrangements, in its own degrees: common practice, no source.

A twin module whose second probe sits after the inlets shows 40 degF of superheat there, while its returning
gas has 11.8; the same figures on a module whose probe sits ahead of them say that liquid boils off in the
accumulator. In heating the coil is the evaporator, and neither of the two suction probes serves. What
the other shipped layouts rest on follows.
"""

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import yaml

from agent.assess import AT_PROBE, SATURATED_SUCTION, Assessment
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
from tests.published.arrangements import (
    LAYOUTS,
    THREE_PIPE,
    TIMES_US,
    assessment,
    half_defrosting,
    oil_ahead,
    shipped,
    single_early,
    subcooler,
    three_pipe_heating,
    three_pipe_simultaneous,
    three_pipe_twin,
    twin_late,
)
from tests.published.rows import Row, agrees, each_of

TOLERANCE_F = 1.0
COMMON = "common practice, no source"


def difference_f(kelvin):
    """A difference: without the 32."""
    return kelvin * 1.8


def said(quantity):
    return (str(quantity.said.status), str(quantity.said.cause), quantity.said.probes)


def test_a_probe_after_the_inlets_shows_what_returning_gas_has_not():
    """Common practice, no source."""
    quantities = twin_late().quantities
    assert said(quantities[RETURN]) == ("decided", "", ("suction_pipe",))
    assert quantities[COMPRESSOR_INLET].said.standing == "upper_bound"
    assert said(quantities[RISE]) == ("decided", "", ("compressor_inlet", "suction_pipe"))
    assert quantities[RISE].value - quantities[RISE].below > 0


def test_a_probe_ahead_of_the_inlets_shows_what_the_accumulator_does():
    """Common practice, no source. Without a pressure there is no superheat, yet the change is there."""
    quantities = single_early().quantities
    assert said(quantities[ACCUMULATOR_CHANGE]) == ("decided", "", ("accumulator_outlet", "suction_pipe"))
    assert quantities[ACCUMULATOR_CHANGE].value + quantities[ACCUMULATOR_CHANGE].above < 0
    assert said(quantities[RETURN]) == ("missing", "reading", ("suction_pipe",))
    assert said(quantities[ACCUMULATOR_OUTLET]) == ("missing", "reading", ("accumulator_outlet",))
    assert said(quantities[RISE]) == ("not_measurable", "piping", ())
    for place in (RETURN, ACCUMULATOR_OUTLET, RISE):
        assert quantities[place].value is None
    with_pressure = single_early(22.0).quantities[ACCUMULATOR_CHANGE]
    assert said(with_pressure) == ("decided", "", ("accumulator_outlet", "suction_pipe"))
    assert with_pressure.value + with_pressure.above < 0  # more than a loss of pressure alone explains


def test_four_states_without_a_value_are_told_apart():
    """Common practice, no source: not measurable, missing, not decidable and not settled."""
    early = shipped("two-pipe-single-early")
    steady = {"suction_pipe": 41.0, "accumulator_outlet": 35.6, "outdoor_coil_gas": 95.0}
    climbing = steady | {"suction_pipe": np.linspace(5.0, 41.0, len(TIMES_US))}
    assert single_early().quantities[RISE].said.status == "not_measurable"
    assert single_early().quantities[RETURN].said.status == "missing"
    assert assessment(early, "defrost", 22.0, **steady).quantities[RETURN].said.status == "not_decidable"
    still_moving = assessment(early, "cooling", 22.0, **climbing).quantities[RETURN]
    assert still_moving.said.status == "not_settled"
    decided = single_early(22.0).quantities[RETURN]
    assert decided.said.status == "decided"
    assert decided.value == still_moving.value


def test_in_heating_the_coils_own_probe_serves():
    """Common practice, no source: the suction pipe carries nothing, the compressor's inlet is mixed."""
    found = three_pipe_heating()
    assert {probe: str(verdict) for probe, (verdict, _) in found.fitness.items()} == {
        "suction_pipe": "idle",
        "compressor_inlet": "mixed",
        "outdoor_coil_gas": "fit",
    }
    assert said(found.quantities[RETURN]) == ("decided", "", ("outdoor_coil_gas",))
    assert said(found.quantities[RISE]) == ("decided", "", ("compressor_inlet", "outdoor_coil_gas"))
    in_cooling = Layout.from_mapping(THREE_PIPE).choose("cooling").places[RETURN]
    assert (in_cooling.standing, in_cooling.probes) == ("fit", ("suction_pipe",))


def test_in_simultaneous_operation_both_streams_are_watched():
    """Common practice, no source: the lower of the two carries the verdict, never their mean."""
    returned = three_pipe_simultaneous().quantities[RETURN]
    assert returned.said.standing == "covering"
    assert set(returned.said.probes) == {"suction_pipe", "outdoor_coil_gas"}


def test_the_coil_of_a_three_pipe_module_evaporates_or_condenses_as_its_valve_tells():
    """Common practice, no source: while it condenses, its gas probe tells nothing of what returns."""
    condensing = three_pipe_twin(coil_evaporates=False)
    assert str(condensing.fitness["outdoor_coil_gas"][0]) == "idle"
    assert said(condensing.quantities[RETURN]) == ("decided", "", ("suction_pipe",))
    evaporating = three_pipe_twin(coil_evaporates=True).quantities[RETURN]
    assert set(evaporating.said.probes) == {"suction_pipe", "outdoor_coil_gas"}


def test_half_a_coil_is_defrosted_while_the_other_half_evaporates():
    """Common practice, no source: only the half that evaporates returns vapour."""
    found = half_defrosting()
    assert {probe: str(verdict) for probe, (verdict, _) in found.fitness.items()} == {
        "upper_coil_gas": "fit",
        "lower_coil_gas": "idle",
        "suction_pipe": "high_side",
        "compressor_inlet": "mixed",
        "discharge_1": "high_side",
        "discharge_2": "high_side",
    }
    assert said(found.quantities[RETURN]) == ("decided", "", ("upper_coil_gas",))


def test_a_wet_subcooler_bypass_does_not_show_on_the_suction_pipe():
    """Common practice, no source: it comes back beside the pipe; the lower carries the verdict."""
    assert subcooler(is_open=True).quantities[RETURN].said.standing == "covering"
    assert subcooler(is_open=False).quantities[RETURN].said.probes == ("suction_pipe",)


def test_where_the_oil_joins_ahead_of_the_accumulator_its_outlet_reads_warm():
    """Common practice, no source: the same place as elsewhere, and yet no place to read vapour quality at."""
    found = oil_ahead().quantities
    assert said(found[RETURN]) == ("decided", "", ("suction_pipe",))
    assert said(found[ACCUMULATOR_OUTLET])[0] == "not_measurable"
    assert said(found[RISE]) == ("decided", "", ("accumulator_outlet", "suction_pipe"))


def row(what: str, degrees_f: float, found: Callable[[], Assessment], quantity: str) -> Row:
    def ours() -> float:
        return difference_f(found().quantities[quantity].value)

    return Row(what, degrees_f, "degF", TOLERANCE_F, COMMON, ours)


def rows() -> Iterator[Row]:
    what = "twin, second probe after the inlets"

    def saturated_f() -> float:
        return twin_late().quantities[SATURATED_SUCTION].value * 1.8 + 32

    yield Row(f"{what}: saturated suction", 22.0, "degF", TOLERANCE_F, COMMON, saturated_f)
    yield row(f"{what}: superheat of the returning gas", 11.8, twin_late, RETURN)
    yield row(f"{what}: superheat there", 40.0, twin_late, AT_PROBE + "compressor_inlet")
    yield row(f"{what}: superheat at the compressor's inlet", 40.0, twin_late, COMPRESSOR_INLET)
    yield row(f"{what}: rise over the oil return", 28.2, twin_late, RISE)
    what = "second probe ahead of the inlets"
    yield row(f"{what}: change over the accumulator", -5.4, single_early, ACCUMULATOR_CHANGE)
    early = partial(single_early, 22.0)
    yield row(f"{what}, pressure known: change over the accumulator", -5.4, early, ACCUMULATOR_CHANGE)
    yield row(f"{what}, pressure known: superheat of the returning gas", 19.0, early, RETURN)
    yield row("three pipes, heating: superheat at the coil's gas pipe", 11.8, three_pipe_heating, RETURN)
    what = "three pipes, simultaneous: the lower of two streams"
    yield row(what, 2.0, three_pipe_simultaneous, RETURN)
    for evaporates, degrees_f in ((False, 18.0), (True, 2.0)):
        what = f"three pipes, simultaneous, coil {'evaporates' if evaporates else 'condenses'}: superheat"
        yield row(what, degrees_f, partial(three_pipe_twin, evaporates), RETURN)
    yield row("half a coil defrosted: superheat of the other half", 9.0, half_defrosting, RETURN)
    for is_open, degrees_f in ((True, 1.0), (False, 18.0)):
        what = f"subcooler bypass {'open and wet' if is_open else 'shut'}: superheat that carries the verdict"
        yield row(what, degrees_f, partial(subcooler, is_open), RETURN)
    yield row("oil joins ahead of the accumulator: superheat ahead of it", 2.0, oil_ahead, RETURN)


ROWS = list(rows())


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


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
