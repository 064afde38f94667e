"""Each mistake in a mapping is found and named; an ordinary module, healthy or ill, gives none.

What the mistakes do to figures is computed, and stands beside each check.
"""

import re
from dataclasses import replace

import numpy as np
import pytest

from agent.assess import findings
from agent.settings import Conversion
from agent.thermo import REFRIGERANTS, dew_slope, dew_temperature
from agent.units import Dimension
from tests.assess.ordinary import (
    ATMOSPHERE_KPA,
    DEW,
    PRESSURES,
    TEMPERATURES,
    changed,
    conversions,
    every_situation,
    look,
    only,
    pressure_kpa,
    running,
    standing,
    swapped,
)
from tests.assess.world import EARLY, LATE, module

SITUATIONS = list(every_situation())
PSI_KPA = 6.894757293168  # exact by definition of the pound and the inch, NIST SP 811
GAUGE = Conversion(Dimension.PRESSURE, "kPa", ATMOSPHERE_KPA * 1e3)


def fahrenheit(value):
    return value * 1.8 + 32


@pytest.mark.parametrize(
    ("refrigerant", "values"),
    [(r, v) for r, _, v in SITUATIONS],
    ids=[f"{r} {name}" for r, name, _ in SITUATIONS],
)
def test_an_ordinary_module_gives_no_suspicion(refrigerant, values):
    assert look(values, refrigerant).suspicions == ()


@pytest.mark.parametrize("mode", ["cool", "heat"])
class TestUnits:
    def test_every_temperature_in_fahrenheit(self, mode):
        found = only(look(changed(running(mode=mode), TEMPERATURES, fahrenheit)))
        assert "if every temperature came in degF" in found.would
        assert set(found.signals) == set(TEMPERATURES)

    def test_every_temperature_in_kelvin(self, mode):
        found = only(look(changed(running(mode=mode), TEMPERATURES, lambda v: v + 273.15)))
        assert "if every temperature came in K" in found.would

    def test_every_temperature_in_tenths(self, mode):
        values = {
            k: [round(10 * v) + i for i in range(4)]
            for k, v in running(mode=mode).items()
            if k in TEMPERATURES
        }
        found = only(look(running(mode=mode) | values))
        assert "if every temperature came in tenths of degC" in found.would

    @pytest.mark.parametrize(
        ("unit", "factor"),
        [("bar", 1e-2), ("psi", 1 / PSI_KPA), ("MPa", 1e-3), ("Pa", 1e3), ("kgf/cm2", 1 / 98.0665)],
    )
    @pytest.mark.parametrize("reference", ["absolute", "gauge"])
    def test_the_pressures_in_another_unit(self, mode, unit, factor, reference):
        gauge = reference == "gauge"
        values = changed(running(mode=mode), PRESSURES, lambda v: (v - gauge * ATMOSPHERE_KPA) * factor)
        values |= {name: [values[name] * (1 + 1e-4 * i) for i in range(4)] for name in PRESSURES}
        found = only(look(values, converted=conversions(GAUGE if gauge else None)))
        assert f"the pressures came in {unit} " in found.would
        assert found.signals == PRESSURES

    def test_one_pressure_in_another_unit(self, mode):
        values = changed(running(mode=mode), ["discharge_pressure"], lambda v: v / PSI_KPA)
        found = only(look(values))
        assert found.would.startswith("it would be ordinary if discharge_pressure came in psi")


@pytest.mark.parametrize("name", ["suction_pipe", "discharge_1", "outdoor_air"])
def test_one_temperature_in_fahrenheit(name):
    found = only(look(changed(running(), [name], fahrenheit)))
    assert found.signals == (name,)
    then = re.search(rf"if {name} came in degF \(then (.*?) degC\)", found.would)
    assert then and float(then[1]) == pytest.approx(running()[name], abs=0.11)


def test_bar_and_technical_atmospheres_cannot_be_told_apart_and_both_are_named():
    """1 kgf/cm2 is 0.980665 bar: 2 % of pressure, 1.1 degF of saturation (computed)."""
    found = only(look(changed(running(), PRESSURES, lambda v: v / 100)))
    assert "in bar" in found.would and "in kgf/cm2" in found.would
    wrong_by_k = dew_temperature("R-410A", 0.980665 * 666e3) - dew_temperature("R-410A", 666e3)
    assert wrong_by_k * 1.8 == pytest.approx(-1.1, abs=0.1)
    assert look(changed(running(), PRESSURES, lambda v: v * 0.980665)).suspicions == ()


class TestGaugeOrAbsolute:
    """At 666 kPa of R-410A, dew -5.5 degC, gauge read as absolute makes superheat 8.7 degF too high, absolute
    read as gauge 7.8 degF too low (computed)."""

    def test_what_one_atmosphere_makes(self):
        dew = [
            dew_temperature("R-410A", (666.325 + shift) * 1e3)
            for shift in (-ATMOSPHERE_KPA, 0, ATMOSPHERE_KPA)
        ]
        assert dew[1] == pytest.approx(-5.536, abs=0.01)
        assert (dew[1] - dew[0]) * 1.8 == pytest.approx(8.7, abs=0.1)
        assert (dew[2] - dew[1]) * 1.8 == pytest.approx(7.8, abs=0.1)

    @pytest.mark.parametrize("refrigerant", REFRIGERANTS)
    def test_gauge_taken_for_absolute_shows_at_rest(self, refrigerant):
        values = changed(standing(refrigerant), PRESSURES, lambda v: v - ATMOSPHERE_KPA)
        found = only(look(values, refrigerant))
        assert (found.kind, found.signals) == ("rest", PRESSURES)
        assert "the pressures came as gauge" in found.would

    @pytest.mark.parametrize("refrigerant", REFRIGERANTS)
    def test_absolute_taken_for_gauge_shows_at_rest(self, refrigerant):
        found = only(look(standing(refrigerant, liquid=True), refrigerant, converted=conversions(GAUGE)))
        assert "the pressures came as absolute" in found.would

    def test_a_glide_wider_than_one_atmosphere_hides_it_and_that_is_said(self):
        """R-407C has a glide of 6.27 K at 0 degC (CoolProp 8.0.0); one atmosphere makes less of it here."""
        of = standing("R-407C", liquid=True)
        found = look(changed(of, PRESSURES, lambda v: v - ATMOSPHERE_KPA), "R-407C")
        assert found.suspicions == ()
        assert any("gauge or absolute: one atmosphere makes less" in each for each in found.cannot_tell)

    def test_absolute_taken_for_gauge_shows_as_negative_superheat_of_a_module_that_runs(self):
        values = running("R-410A", "heat", superheat_k=0.5, suction_c=-11.74, air_c=-4.0)
        found = only(look(values, converted=conversions(GAUGE)))
        assert "below saturated suction" in found.seen and "outdoor_coil_gas" in found.seen
        assert "the pressures came as absolute" in found.would

    @pytest.mark.parametrize("change", [ATMOSPHERE_KPA, -ATMOSPHERE_KPA])
    def test_at_usual_superheat_it_cannot_be_told_and_that_is_said(self, change):
        found = look(changed(running(), PRESSURES, lambda v: v + change))
        assert found.suspicions == ()
        assert any(
            "gauge or absolute" in sentence and "at rest" in sentence for sentence in found.cannot_tell
        )

    def test_at_rest_in_the_heat_it_cannot_be_told_either(self):
        found = look(changed(standing(rest_c=35.0), PRESSURES, lambda v: v + ATMOSPHERE_KPA))
        assert found.suspicions == ()
        assert any("gauge or absolute: one atmosphere makes less" in each for each in found.cannot_tell)
        slope = dew_slope("R-410A", pressure_kpa("R-410A", 35.0) * 1e3)
        assert slope * ATMOSPHERE_KPA * 1e3 < 2.5

    @pytest.mark.parametrize("refrigerant", REFRIGERANTS)
    @pytest.mark.parametrize("rest_c", [-15.0, 5.4, 35.0])
    @pytest.mark.parametrize("name", PRESSURES)
    def test_one_of_the_two_shows_at_rest_in_any_weather(self, refrigerant, rest_c, name):
        values = changed(standing(refrigerant, rest_c), [name], lambda v: v - ATMOSPHERE_KPA)
        found = only(look(values, refrigerant))
        assert "one atmosphere lies between" in found.seen
        assert f"if {name} came as gauge" in found.would

    def test_pressures_that_pass_one_atmosphere_while_they_come_together_are_left_alone(self):
        falling = [1200.0, 1100.0, 1045.0, 990.0]
        assert look(standing() | {"discharge_pressure": falling}).suspicions == ()

    @pytest.mark.parametrize("refrigerant", REFRIGERANTS)
    def test_a_room_that_is_colder_than_a_hot_roof_sets_the_pressure_and_is_no_suspicion(self, refrigerant):
        """Liquid gathers where it is coldest (physics); no room under 15 degC: common practice, no source."""
        values = standing(refrigerant, 35.0) | dict.fromkeys(PRESSURES, pressure_kpa(refrigerant, 18.0))
        found = look(values, refrigerant)
        assert found.suspicions == ()
        assert any("gauge or absolute: " in each for each in found.cannot_tell)

    @pytest.mark.parametrize("refrigerant", REFRIGERANTS)
    def test_less_than_any_room_makes_is_suspected_on_a_hot_roof_too(self, refrigerant):
        values = standing(refrigerant, 35.0) | dict.fromkeys(PRESSURES, pressure_kpa(refrigerant, 5.0))
        assert "below every pipe" in only(look(values, refrigerant)).seen

    @pytest.mark.parametrize(("value", "words"), [(0.0, "a vacuum"), (-40.0, "less than a vacuum")])
    def test_an_absolute_pressure_near_or_below_zero(self, value, words):
        found = only(look(running() | {"suction_pressure": [value] * 4}))
        assert found.signals == ("suction_pressure",) and words in found.seen
        assert "empty circuit" in found.would and "supply" in found.would

    def test_a_gauge_pressure_of_zero_is_what_the_open_air_has(self):
        values = changed(running(), PRESSURES, lambda v: v - ATMOSPHERE_KPA) | {"suction_pressure": [0.0] * 4}
        found = only(look(values, converted=conversions(GAUGE)))
        assert "what the open air has" in found.seen


@pytest.mark.parametrize(("inlet_c", "suspected"), [(26.0, False), (45.0, True)])
def test_oil_lifts_a_mixed_stream_above_a_low_condensing_temperature(inlet_c, suspected):
    """Warm rooms cooled in cold weather: vapour of 17 degC, 9 K of oil, condensing at 22 degC."""
    values = running(superheat_k=6.0, suction_c=11.0, condensing_c=22.0, air_c=5.0)
    assert bool(look(values | {"compressor_inlet": inlet_c}).suspicions) is suspected


class TestSwapped:
    @pytest.mark.parametrize("mode", ["cool", "heat"])
    def test_suction_and_discharge_pressure(self, mode):
        found = only(look(swapped(running(mode=mode), *PRESSURES)))
        assert found.would == "it would be ordinary if suction_pressure and discharge_pressure were swapped"
        assert "while it runs" in found.seen

    def test_the_pressures_where_no_speed_says_that_it_runs(self):
        values = {k: v for k, v in swapped(running(), *PRESSURES).items() if not k.endswith("_speed")}
        assert "were swapped" in only(look(values)).would

    @pytest.mark.parametrize("suction", ["suction_pipe", "compressor_inlet"])
    def test_a_suction_and_a_discharge_probe(self, suction):
        found = only(look(swapped(running(), suction, "discharge_1")))
        assert found.would == f"it would be ordinary if {suction} and discharge_1 were swapped"
        assert f"{suction} reads" in found.seen and "above saturated condensing" in found.seen
        assert "discharge_1 reads" in found.seen and "below saturated condensing" in found.seen

    @pytest.mark.parametrize("mode", ["cool", "heat"])
    def test_two_pipes_that_change_sides_look_like_a_mode_that_says_the_other(self, mode):
        values = running(mode=mode)
        pipes = ("suction_pipe", "outdoor_coil_gas")
        found = only(look(swapped(values, *pipes)))
        other = only(look(values | {"mode": "heat" if mode == "cool" else "cool"}))
        for each in (found, other):
            assert "suction_pipe and outdoor_coil_gas were swapped" in each.would
            assert "the mode's values for cooling and heating were swapped" in each.would

    def test_a_probe_that_sits_elsewhere_is_told_where_its_value_would_be_ordinary(self):
        found = only(look(running() | {"suction_pipe": running()["discharge_1"] - 3.0}))
        assert found.signals == ("suction_pipe",)
        assert "it were the value of outdoor_coil_gas or discharge_1 or discharge_2" in found.would

    def test_a_discharge_probe_colder_than_suction(self):
        found = only(look(running() | {"discharge_2": 9.0}))
        assert found.signals == ("discharge_2",) and "where hot gas passes" in found.seen

    def test_two_mistakes_are_two_suspicions(self):
        values = swapped(running(), "suction_pipe", "discharge_1")
        found = look(changed(values, ["outdoor_air"], lambda v: fahrenheit(v)))
        assert {each.signals for each in found.suspicions} == {
            ("suction_pipe", "discharge_1"),
            ("outdoor_air",),
        }


class TestRefrigerant:
    def test_another_one_is_no_more_than_a_possibility_at_rest(self, monkeypatch):
        """R-134a saturates at 4.53 degC at 344 kPa, R-410A at -24 degC (CoolProp 8.0.0)."""
        fluid = replace(REFRIGERANTS["R-410A"], fluid="R134a", lowest_c=-50.0, highest_c=80.0)
        known = {**REFRIGERANTS, "R-134a": fluid}
        monkeypatch.setattr("agent.thermo.saturation.REFRIGERANTS", known)
        monkeypatch.setattr("agent.assess.plausible.mistakes.REFRIGERANTS", known)
        found = only(look(standing(rest_c=4.53) | dict.fromkeys(PRESSURES, 344.0), "R-410A"))
        assert found.kind == "rest"
        assert "the circuit held R-134a and not R-410A (no more than a possibility)" in found.would
        assert "this alone proves nothing" in found.look
        found = only(look(standing("R-410A", 4.53), "R-134a"))
        assert "the circuit held R-410A and not R-134a (no more than a possibility)" in found.would
        assert "this alone proves nothing" in found.look

    def test_two_that_are_alike_are_not_told_apart(self):
        """R-32 taken for R-410A: about 1 degF (computed)."""
        both = [dew_temperature(name, 666e3) for name in ("R-410A", "R-32")]
        assert abs(both[1] - both[0]) * 1.8 == pytest.approx(1.0, abs=0.3)
        assert look(standing("R-410A"), "R-32").suspicions == ()
        assert look(running("R-410A"), "R-32").suspicions == ()

    def test_a_running_module_says_nothing_of_its_refrigerant(self):
        found = look(swapped(running(), *PRESSURES))
        assert not any("held" in each.would for each in found.suspicions)


class TestCannotTell:
    def test_without_suction_pressure_nothing_is_held_against_saturation(self):
        values = {k: v for k, v in running().items() if k != "suction_pressure"}
        found = look(values)
        assert found.suspicions == ()
        assert any("suction_pressure is not there" in each for each in found.cannot_tell)

    def test_a_module_that_stands_warm_says_little(self):
        values = standing() | {"discharge_1": 60.0, "suction_pipe": 18.0, "liquid_line": 25.0}
        found = look(changed(values, PRESSURES, lambda v: v + ATMOSPHERE_KPA))
        assert found.suspicions == ()
        assert any("while the module runs" in each for each in found.cannot_tell)

    @pytest.mark.parametrize("mode", ["defrost", "who knows"])
    def test_between_modes_nothing_is_said_of_probes(self, mode):
        found = look(swapped(running(), "suction_pipe", "discharge_1") | {"mode": mode})
        assert not any("swapped" in each.would for each in found.suspicions)
        assert any("not a steady one" in each for each in found.cannot_tell)

    def test_what_came_once_may_be_in_a_transient(self):
        found = look(swapped(running(), "suction_pipe", "discharge_1"), samples=1)
        assert found.suspicions == ()
        assert any("came once only: " in each for each in found.cannot_tell)

    def test_pipes_in_a_transient_are_left_alone(self):
        values = running()
        falling = [70.0, 64.0, 58.0, 52.0]  # hot gas leaves the pipe
        assert look(values | {"suction_pipe": falling}).suspicions == ()

    def test_one_odd_value_among_many_is_no_mapping(self):
        times = 40
        values = {k: v for k, v in running().items() if k != "suction_pipe"}
        pipe = [11.4 + 0.1 * (i % 3) for i in range(times)]
        pipe[20] = 80.0
        assert look(values | {"suction_pipe": pipe}, samples=times).suspicions == ()

    def test_nothing_heard_is_nothing_found(self):
        found = findings(module(LATE), np.array([0, 30_000_000]), {})
        assert (found.suspicions, found.cannot_tell) == ((), ())


def test_the_other_layout_too():
    values = {
        k: v for k, v in running(mode="heat").items() if not k.endswith("_2") and k != "compressor_2_speed"
    }
    del values["compressor_inlet"]
    assert look(values, layout=EARLY).suspicions == ()
    found = only(look(swapped(values, "outdoor_coil_gas", "discharge_1"), layout=EARLY))
    assert "outdoor_coil_gas and discharge_1 were swapped" in found.would


@pytest.mark.parametrize("refrigerant", DEW)
def test_the_table_that_these_modules_are_made_from_is_the_products_own(refrigerant):
    for pressure, dew_c in DEW[refrigerant].items():
        assert dew_temperature(refrigerant, pressure * 1e3) == pytest.approx(dew_c, abs=0.02)


def test_nothing_is_changed_by_looking():
    values = running()
    before = {k: list(v) if isinstance(v, list) else v for k, v in values.items()}
    look(swapped(values, *PRESSURES))
    assert values == before
