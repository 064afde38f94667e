"""An instrument's limits as a standard uncertainty: laws and refusals; the numbers are in tests/published."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.thermo import standard_uncertainty

sizes = st.floats(0, 1e6)


@settings(max_examples=100, deadline=None)
@given(half_width=sizes, step=sizes, more=sizes)
def test_it_never_shrinks_when_an_input_grows(half_width, step, more):
    before = standard_uncertainty(half_width, step) * (1 - 1e-15)  # a root of a sum of squares may round down
    assert standard_uncertainty(half_width + more, step) >= before
    assert standard_uncertainty(half_width, step + more) >= before


@settings(max_examples=100, deadline=None)
@given(half_width=sizes, step=sizes)
def test_it_scales_with_the_unit(half_width, step):
    kelvin = standard_uncertainty(half_width, step)
    assert standard_uncertainty(half_width * 1.8, step * 1.8) == pytest.approx(kelvin * 1.8)


def test_a_perfect_instrument_has_none():
    assert standard_uncertainty(0.0) == 0.0


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_a_senseless_size_is_refused_by_name(bad):
    with pytest.raises(ValueError, match="^half_width "):
        standard_uncertainty(bad)
    with pytest.raises(ValueError, match="^step "):
        standard_uncertainty(0.5, bad)
