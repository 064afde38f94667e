"""The border's tables: how far they reach, what is refused; the numbers are in tests/published."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.thermo import REFRIGERANTS, border_for, dew_pressure, saturated_discharge_superheat
from agent.thermo.compression import _bilinear, _tabulate

every_refrigerant = pytest.mark.parametrize("refrigerant", REFRIGERANTS)


def at(refrigerant, suction_c, condensing_c, **how):
    how = {"efficiency": 0.65, "heat_loss": 0.0} | how
    pressures = (dew_pressure(refrigerant, c) for c in (suction_c, condensing_c))
    return saturated_discharge_superheat(refrigerant, *pressures, **how)


@every_refrigerant
def test_it_reaches_from_minus_40_to_25_and_from_0_to_65_degc_and_no_farther(refrigerant):
    inside = [(-39.99, 30.0), (24.99, 50.0), (-20.0, 0.01), (20.0, 64.99), (-39.99, 0.01), (24.99, 64.99)]
    assert all(at(refrigerant, *pair) > 0 for pair in inside)
    outside = [(-40.01, 30.0), (25.01, 50.0), (-20.0, -0.01), (20.0, 65.01), (-40.01, 66.0), (-41.0, -1.0)]
    assert all(math.isnan(at(refrigerant, *pair)) for pair in outside)


@every_refrigerant
def test_the_ends_belong_to_it_and_are_no_corner(refrigerant):
    """Across a node and at the ends it goes on as it went."""
    for suction_c in np.arange(-39.0, 25.0, 8.0):
        before, here, after = (at(refrigerant, suction_c + shift, 50.0) for shift in (-0.5, 0.0, 0.5))
        assert here == pytest.approx((before + after) / 2, abs=0.02)
        assert before > here > after
    for condensing_c in np.arange(31.0, 65.0, 3.5):
        before, here, after = (at(refrigerant, -5.0, condensing_c + shift) for shift in (-0.5, 0.0, 0.5))
        assert here == pytest.approx((before + after) / 2, abs=0.03)


def test_gas_that_comes_out_wet_is_as_hot_as_its_dew_temperature():
    """The first law: where 30 % of the work is lost as heat, R-134a ends below the enthalpy of its dew."""
    p1, p2 = (dew_pressure("R-134a", c) for c in (5.0, 45.0))
    h1, s1 = (PropsSI(what, "P", p1, "Q", 1, "R134a") for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", p2, "S", s1, "R134a") - h1) * (1 - 0.3)
    assert h2 < PropsSI("H", "P", p2, "Q", 1, "R134a")
    assert at("R-134a", 5.0, 45.0, efficiency=1.0, heat_loss=0.3) == 0.0


def test_gas_hotter_than_the_table_is_not_known():
    assert math.isnan(at("R-32", -40.0, 60.0, efficiency=0.3))


def test_more_loss_of_heat_and_more_efficiency_leave_less():
    assert at("R-410A", 5.0, 45.0, heat_loss=0.1) < at("R-410A", 5.0, 45.0)
    assert at("R-410A", 5.0, 45.0, efficiency=0.7) < at("R-410A", 5.0, 45.0)
    same = at("R-410A", 5.0, 45.0, efficiency=0.8, heat_loss=0.15)
    assert same == pytest.approx(at("R-410A", 5.0, 45.0, efficiency=0.8 / 0.85))  # lumped


def test_scalars_give_floats_and_arrays_arrays():
    low, high = dew_pressure("R-410A", 5.0), dew_pressure("R-410A", 45.0)
    how = {"efficiency": 0.65, "heat_loss": 0.0}
    one = saturated_discharge_superheat("R-410A", low, high, **how)
    assert type(one) is float
    for pair in ((np.array([low]), np.array([high])), (np.array([low]), high), (low, np.array([high]))):
        found = saturated_discharge_superheat("R-410A", *pair, **how)
        assert isinstance(found, np.ndarray)
        assert found.tolist() == [one]


def test_missing_and_not_compressed_are_nan():
    low = np.array([9e5, np.nan, 9e5, 12e5, 10.0])
    high = np.array([np.nan, 25e5, 9e5, 9e5, 25e5])
    assert np.isnan(saturated_discharge_superheat("R-410A", low, high, efficiency=0.65, heat_loss=0.0)).all()


def test_an_unknown_refrigerant_is_named_with_the_known_ones():
    text = r"unknown refrigerant 'R-000'; known are R-134a, R-32, R-407C, R-410A, R-454B"
    with pytest.raises(ValueError, match=text):
        border_for("R-000", 8e5, 25e5, 0.5, 0.8)


class TestBorderFor:
    """A range of lumped efficiency."""

    def test_ends_move_outward_to_the_next_half_per_cent(self):
        low, high = 9e5, 27e5
        inner = border_for("R-410A", low, high, 0.6499, 0.6501)
        assert inner == border_for("R-410A", low, high, 0.645, 0.655)
        least, most = (
            saturated_discharge_superheat("R-410A", low, high, efficiency=each, heat_loss=0.0)
            for each in (0.655, 0.645)
        )
        assert inner == (least, most)

    @pytest.mark.parametrize("end", [0.5, 0.555, 0.57, 0.65, 0.94, 1.11, 1.2])
    def test_an_end_on_a_half_per_cent_stays(self, end):
        assert border_for("R-410A", 9e5, 27e5, end, end) == (at_pressures(end), at_pressures(end))

    def test_an_efficiency_near_zero_is_a_discharge_too_hot_to_be_known(self):
        least, most = border_for("R-410A", 9e5, 27e5, 0.001, 0.5)
        assert least == at_pressures(0.5)
        assert math.isnan(most)

    @pytest.mark.parametrize("ends", [(0.0, 0.5), (-0.1, 0.5), (0.7, 0.6), (0.5, 1.21), (math.nan, 0.5)])
    def test_what_is_no_range_is_refused(self, ends):
        with pytest.raises(ValueError, match=r"are not in order within 0\.\.1\.2"):
            border_for("R-410A", 9e5, 27e5, *ends)


def at_pressures(efficiency):
    return saturated_discharge_superheat("R-410A", 9e5, 27e5, efficiency=efficiency, heat_loss=0.0)


class TestTable:
    """An ideal gas of 1 kJ/(kg K), which rises as it should, and ways in which one may not."""

    def gas(self, pressure_pa, temperature_c):
        return 1000.0 * temperature_c, 1000.0 * math.log(temperature_c + 273.15)

    def test_a_sound_one_is_built(self):
        vapour = _tabulate(lambda c: 1e5 + c, self.gas)
        assert vapour.suction_c.tolist() == np.arange(-40.0, 25.1, 2.5).tolist()
        assert vapour.condensing_c.tolist() == np.arange(0.0, 65.1, 2.5).tolist()
        assert vapour.above_dew_k.tolist() == np.arange(0.0, 250.1, 2.5).tolist()
        assert vapour.gas_enthalpy[2, 4] == 1000.0 * (5.0 + 10.0)
        assert vapour.enthalpy[-1] == 25_000.0
        assert vapour.entropy[-1] == 1000.0 * math.log(298.15)

    @pytest.mark.parametrize("value", [math.nan, math.inf, 0.0])
    @pytest.mark.parametrize("part", [0, 1])
    def test_a_node_that_does_not_rise_refuses_it(self, value, part):
        def gas(pressure_pa, temperature_c):
            found = list(self.gas(pressure_pa, temperature_c))
            if temperature_c == 60.0:
                found[part] = value
            return tuple(found)

        with pytest.raises(RuntimeError, match="gas table: enthalpy and entropy must be finite and rise"):
            _tabulate(lambda c: 1e5 + c, gas)

    def test_a_node_as_good_as_the_one_before_refuses_it(self):
        def gas(pressure_pa, temperature_c):
            return self.gas(pressure_pa, min(temperature_c, 60.0))

        with pytest.raises(RuntimeError, match="rise with temperature"):
            _tabulate(lambda c: 1e5 + c, gas)

    @pytest.mark.parametrize("part", [0, 1])
    def test_suction_without_a_value_refuses_it(self, part):
        def gas(pressure_pa, temperature_c):
            found = list(self.gas(pressure_pa, temperature_c))
            if temperature_c == -40.0:
                found[part] = math.nan
            return tuple(found)

        with pytest.raises(RuntimeError, match="gas table"):
            _tabulate(lambda c: 1e5 + c, gas)


def test_between_nodes_a_twisted_plane_is_met_exactly():
    rows, columns = np.array([-40.0, -37.5, -35.0]), np.array([0.0, 2.5, 5.0, 7.5])

    def plane(row, column):
        return 3.0 + 2.0 * row - column + 0.5 * row * column

    row, column = np.meshgrid([-40.0, -38.1, -37.5, -35.2, -35.0], [0.0, 0.3, 2.5, 7.4, 7.5])
    found = _bilinear(plane(rows[:, None], columns), rows, columns, row, column)
    assert found == pytest.approx(plane(row, column))
    outside = [(-40.1, 1.0), (-34.9, 1.0), (-38.0, -0.1), (-38.0, 7.6)]
    assert all(np.isnan(_bilinear(plane(rows[:, None], columns), rows, columns, *pair)) for pair in outside)
