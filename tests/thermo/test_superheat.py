"""Superheat, subcooling and difference: the laws they keep; the numbers are in tests/published."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import agent.thermo
from agent.thermo import (
    REFRIGERANTS,
    bubble_slope,
    dew_slope,
    dew_temperature,
    difference,
    subcooling,
    superheat,
)

law = settings(max_examples=100, deadline=None)
refrigerants = st.sampled_from(sorted(REFRIGERANTS))
pressures_pa = st.floats(2e5, 3.4e6)
temperatures_c = st.floats(-40, 80)
small = st.floats(0, 5)  # K
losses_pa = st.floats(0, 1e5)
spreads = st.fixed_dictionaries(
    {"u_temperature_k": small, "u_pressure_pa": st.floats(0, 5e4), "u_model_fraction": st.floats(0, 0.01)}
)


def test_the_example_of_the_package_runs():
    outcome = doctest.testmod(agent.thermo)
    assert outcome.attempted > 0
    assert outcome.failed == 0


@law
@given(refrigerants, temperatures_c, pressures_pa, st.floats(1.0, 1e5))
def test_superheat_falls_and_subcooling_rises_with_pressure(refrigerant, temperature_c, pressure_pa, more_pa):
    before, after = (
        superheat(refrigerant, temperature_c, p).value for p in (pressure_pa, pressure_pa + more_pa)
    )
    assert after < before
    before, after = (
        subcooling(refrigerant, temperature_c, p).value for p in (pressure_pa, pressure_pa + more_pa)
    )
    assert after > before


@law
@given(refrigerants, temperatures_c, pressures_pa, small)
def test_they_follow_the_temperature_one_to_one(refrigerant, temperature_c, pressure_pa, warmer_k):
    cold, warm = (
        superheat(refrigerant, t, pressure_pa).value for t in (temperature_c, temperature_c + warmer_k)
    )
    assert warm - cold == pytest.approx(warmer_k, abs=1e-9)
    cold, warm = (
        subcooling(refrigerant, t, pressure_pa).value for t in (temperature_c, temperature_c + warmer_k)
    )
    assert cold - warm == pytest.approx(warmer_k, abs=1e-9)


@pytest.mark.parametrize("quantity", [superheat, subcooling])
@law
@given(refrigerants, temperatures_c, pressures_pa, spreads, spreads)
def test_uncertainty_never_shrinks_when_an_input_grows(
    quantity, refrigerant, temperature_c, pressure_pa, spread, more
):
    before = quantity(refrigerant, temperature_c, pressure_pa, **spread)
    assert before.below == before.above >= 0
    for name in spread:
        grown = quantity(
            refrigerant, temperature_c, pressure_pa, **{**spread, name: spread[name] + more[name]}
        )
        assert grown.value == before.value
        assert grown.below >= before.below - 1e-12  # a root of a sum of squares may round down
        assert grown.above >= before.above - 1e-12


@law
@given(refrigerants, temperatures_c, pressures_pa, spreads, losses_pa)
def test_an_unknown_loss_widens_one_side_only(refrigerant, temperature_c, pressure_pa, spread, loss_pa):
    without = superheat(refrigerant, temperature_c, pressure_pa, **spread)
    down = superheat(refrigerant, temperature_c, pressure_pa, **spread, loss_pa=(0.0, loss_pa))
    up = superheat(refrigerant, temperature_c, pressure_pa, **spread, loss_pa=(-loss_pa, 0.0))
    assert down.value == up.value == without.value
    assert down.above == without.above
    assert up.below == without.below
    dew, higher, lower = (
        dew_temperature(refrigerant, pressure_pa + shift) for shift in (0, loss_pa, -loss_pa)
    )
    assert down.below - without.below == pytest.approx(higher - dew, abs=1e-9)
    assert up.above - without.above == pytest.approx(dew - lower, abs=1e-9)


@pytest.mark.parametrize("quantity", [superheat, subcooling])
@law
@given(refrigerants, temperatures_c, pressures_pa, spreads, st.floats(-1e5, 1e5))
def test_a_known_loss_is_a_corrected_pressure(
    quantity, refrigerant, temperature_c, pressure_pa, spread, loss_pa
):
    told = quantity(refrigerant, temperature_c, pressure_pa, **spread, loss_pa=(loss_pa, loss_pa))
    corrected = quantity(refrigerant, temperature_c, pressure_pa + loss_pa, **spread)
    assert told == pytest.approx(corrected)


@pytest.mark.parametrize(
    ("loss_pa", "taken_pa"),
    [((5e3, 20e3), 5e3), ((-20e3, -5e3), -5e3), ((-5e3, 20e3), 0.0), ((0.0, 20e3), 0.0), ((-5e3, 0.0), 0.0)],
)
@pytest.mark.parametrize(("quantity", "ends"), [(superheat, (1, 0)), (subcooling, (0, 1))])
def test_a_loss_between_bounds_is_taken_nearest_to_zero(quantity, ends, loss_pa, taken_pa):
    """More pressure at the probe means less superheat and more subcooling."""
    measured = quantity("R-410A", 10.0, 8e5, loss_pa=loss_pa)
    lowest, highest = (quantity("R-410A", 10.0, 8e5 + loss_pa[end]).value for end in ends)
    assert measured.value == quantity("R-410A", 10.0, 8e5 + taken_pa).value
    assert measured.value - measured.below == pytest.approx(lowest)
    assert measured.value + measured.above == pytest.approx(highest)


@law
@given(temperatures_c, temperatures_c, small, small, st.floats(-1, 1))
def test_a_difference_turned_round_changes_sign_and_keeps_its_uncertainty(
    later, earlier, u_later, u_earlier, r
):
    there = difference(later, earlier, u_later_k=u_later, u_earlier_k=u_earlier, correlation=r)
    back = difference(earlier, later, u_later_k=u_earlier, u_earlier_k=u_later, correlation=r)
    assert there.value == -back.value
    assert there.below == there.above == pytest.approx(back.below)
    assert 2 * abs(u_later - u_earlier) - 1e-9 <= there.below <= 2 * (u_later + u_earlier) + 1e-9


@law
@given(st.floats(0, 3), st.floats(0, 3))
def test_errors_that_go_together_cancel(u_k, correlation_step):
    apart = difference(18.0, 12.0, u_later_k=u_k, u_earlier_k=u_k, correlation=0.0)
    together = difference(18.0, 12.0, u_later_k=u_k, u_earlier_k=u_k, correlation=1.0)
    partly = difference(18.0, 12.0, u_later_k=u_k, u_earlier_k=u_k, correlation=correlation_step / 3)
    assert together.below == 0.0 <= partly.below <= apart.below


def test_each_line_brings_its_own_slope():
    dew = superheat("R-410A", 10.0, 25e5, u_pressure_pa=1e4).below
    bubble = subcooling("R-410A", 35.0, 25e5, u_pressure_pa=1e4).below
    assert dew == pytest.approx(2 * 1e4 * dew_slope("R-410A", 25e5), rel=1e-9)
    assert bubble == pytest.approx(2 * 1e4 * bubble_slope("R-410A", 25e5), rel=1e-9)
    assert abs(dew / bubble - 1) > 1e-5


def test_scalars_give_floats():
    for measured in (
        superheat("R-410A", 10.0, 8e5, u_temperature_k=0.3, u_pressure_pa=5e3, loss_pa=(0.0, 1e4)),
        superheat("R-410A", np.float64(10), np.array(8e5)),
        superheat("R-410A", math.nan, 8e5),
        subcooling("R-410A", 35, 2_500_000),
        difference(18, 12.0, u_later_k=0.3),
    ):
        assert [type(part) for part in measured] == [float, float, float]


def test_arrays_broadcast_and_equal_their_scalars():
    temperatures, pressures = np.array([[5.0], [10.0]]), np.array([7e5, 8e5, 9e5])
    u_pressures = np.array([0.0, 5e3, 1e4])
    measured = superheat("R-32", temperatures, pressures, u_temperature_k=0.3, u_pressure_pa=u_pressures)
    assert [part.shape for part in measured] == [(2, 3)] * 3
    for row, column in np.ndindex(2, 3):
        alone = superheat(
            "R-32",
            float(temperatures[row, 0]),
            float(pressures[column]),
            u_temperature_k=0.3,
            u_pressure_pa=float(u_pressures[column]),
        )
        assert alone == pytest.approx(tuple(part[row, column] for part in measured))
    assert subcooling("R-32", 30.0, pressures).below.shape == (3,)
    assert difference(temperatures, 3.0, u_later_k=u_pressures).above.shape == (2, 3)


@pytest.mark.parametrize("unusable", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_temperature_or_pressure_stays_nan_in_every_part(unusable):
    for measured in (
        superheat("R-410A", unusable, 8e5, u_temperature_k=0.3),
        superheat("R-410A", 10.0, unusable, u_pressure_pa=5e3, loss_pa=(-1e4, 1e4)),
        subcooling("R-410A", unusable, 2.5e6),
        subcooling("R-410A", 35.0, unusable, u_model_fraction=0.0025),
        difference(unusable, 12.0, u_later_k=0.3),
        difference(unusable, unusable),
    ):
        assert np.isnan(measured).all()


def test_one_nan_leaves_its_neighbours_alone():
    measured = superheat(
        "R-410A", np.array([10.0, math.nan, 10.0, 10.0]), np.array([8e5, 8e5, math.nan, 8e5])
    )
    for part in measured:
        assert np.isnan(part).tolist() == [False, True, True, False]


def test_no_value_stands_without_its_uncertainty():
    top_pa = 4.75e6  # near the end of the table: the value is inside, the far end of the loss is not
    assert not math.isnan(superheat("R-410A", 80.0, top_pa).value)
    assert np.isnan(superheat("R-410A", 80.0, top_pa, loss_pa=(0.0, 1e5))).all()
    low_pa = 4e4  # and near its beginning
    assert not math.isnan(superheat("R-410A", 0.0, low_pa).value)
    assert np.isnan(superheat("R-410A", 0.0, low_pa, loss_pa=(-2e4, 0.0))).all()
    assert np.isnan(superheat("R-410A", 10.0, 8e5, u_temperature_k=math.nan)).all()


@pytest.mark.parametrize(
    "loss_pa", [(1e4, 0.0), (math.nan, 0.0), (0.0, math.nan), (0.0, math.inf), (-math.inf, 0.0)]
)
def test_a_loss_that_is_no_range_is_refused(loss_pa):
    with pytest.raises(ValueError, match=r"loss_pa .* must be \(lowest, highest\), both finite"):
        superheat("R-410A", 10.0, 8e5, loss_pa=loss_pa)


@pytest.mark.parametrize("name", ["u_temperature_k", "u_pressure_pa", "u_model_fraction"])
def test_a_negative_uncertainty_is_refused_by_name(name):
    for quantity in (superheat, subcooling):
        with pytest.raises(ValueError, match=rf"^{name} is .* cannot be negative: -0\.1$"):
            quantity("R-410A", 10.0, 8e5, **{name: np.array([0.1, -0.1])})


def test_a_difference_refuses_what_cannot_be():
    for name in ("u_later_k", "u_earlier_k"):
        with pytest.raises(ValueError, match=f"^{name} is"):
            difference(18.0, 12.0, **{name: -0.1})
    for correlation in (1.01, -1.01, math.nan):
        with pytest.raises(ValueError, match=r"outside -1\.\.1"):
            difference(18.0, 12.0, correlation=correlation)


def test_errors_that_go_against_each_other_add_up():
    """JCGM 100:2008, 5.2.2 note 1: with a coefficient of -1 or +1 the sum is linear."""
    assert difference(18.0, 12.0, u_later_k=0.3, u_earlier_k=0.1, correlation=-1.0).below == pytest.approx(
        0.8
    )
    assert difference(18.0, 12.0, u_later_k=0.3, u_earlier_k=0.1, correlation=1.0).below == pytest.approx(0.4)


def test_an_unknown_refrigerant_is_refused():
    for quantity in (superheat, subcooling):
        with pytest.raises(ValueError, match="unknown refrigerant 'R-22'"):
            quantity("R-22", 10.0, 8e5)
