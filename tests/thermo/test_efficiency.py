"""What a dry discharge tells of its compressor: shapes and refusals; the numbers are in tests/published."""

import numpy as np
import pytest

from agent.thermo import REFRIGERANTS, dew_pressure, implied_efficiency, saturated_discharge_superheat

LOW, HIGH = 9e5, 27e5


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
def test_it_is_the_way_back_from_the_border(refrigerant):
    """Saturated suction at an efficiency makes the superheat that gives the efficiency back."""
    low, high = dew_pressure(refrigerant, 5.0), dew_pressure(refrigerant, 45.0)
    for efficiency in (0.45, 0.65, 0.9):
        hot_k = saturated_discharge_superheat(refrigerant, low, high, efficiency=efficiency, heat_loss=0.0)
        assert implied_efficiency(refrigerant, low, 0.0, high, hot_k) == pytest.approx(efficiency, abs=2e-3)


def test_none_and_half_a_kelvin_are_superheats_too():
    found = implied_efficiency(
        "R-410A", LOW, [0.0, 0.5, 0.0, 0.0], [HIGH, HIGH, 12e5, 12e5], [30.0, 30.0, 0.5, 0.0]
    )
    assert np.isfinite(found).all()
    assert np.isnan(implied_efficiency("R-410A", LOW, 0.0, 12e5, -0.1))
    assert found[0] < found[1]  # the less it warms, the better it compresses


def test_arrays_broadcast():
    found = implied_efficiency("R-32", LOW, [[2.0], [6.0]], HIGH, [50.0, 60.0, 70.0])
    assert found.shape == (2, 3)
    assert found[1, 2] == implied_efficiency("R-32", LOW, 6.0, HIGH, 70.0)


@pytest.mark.parametrize(
    ("low", "suction_k", "high", "discharge_k"),
    [
        (np.nan, 5.0, HIGH, 30.0),
        (LOW, np.nan, HIGH, 30.0),
        (LOW, 5.0, np.nan, 30.0),
        (LOW, 5.0, HIGH, np.nan),
        (1.0, 5.0, HIGH, 30.0),
        (LOW, 5.0, 1e8, 30.0),
        (LOW, -0.5, HIGH, 30.0),
        (LOW, 5.0, HIGH, -0.5),
        (HIGH, 5.0, LOW, 30.0),
        (LOW, 5.0, LOW, 30.0),  # nothing is compressed
        (LOW, 60.0, 1.01 * LOW, 0.0),  # it leaves colder than it came: no heat was gained
    ],
)
def test_what_is_no_compression_of_dry_gas_is_nan(low, suction_k, high, discharge_k):
    assert np.isnan(implied_efficiency("R-410A", low, suction_k, high, discharge_k))


def test_an_unknown_refrigerant_is_refused():
    with pytest.raises(ValueError, match="unknown refrigerant"):
        implied_efficiency("R-000", LOW, 5.0, HIGH, 30.0)
