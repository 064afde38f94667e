"""Settled or not: spread and slope over a moving window against plain statistics, and the laws they keep."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.assess.steadiness import steadiness

LIMITS = {"spread_limit": 0.5, "slope_limit": 0.05, "step": 0.0, "present": 0.8}
law = settings(max_examples=100, deadline=None)


def judge(values, points=20, **changes):
    return steadiness(np.array(values, float), points, **(LIMITS | changes))


def last(values, points=20, **changes):
    found = judge(values, points, **changes)
    return [name for name in ("gaps", "spread", "slope") if getattr(found, name)[-1]]


def test_a_constant_is_settled():
    assert last([5.0] * 20) == []
    assert judge([5.0] * 20).settled[-1]


def test_noise():
    rng = np.random.default_rng(1087)
    assert last(rng.normal(5.0, 0.2, 200), 200) == []
    assert last(rng.normal(5.0, 1.0, 200), 200) == ["spread"]


def test_drift():
    assert last(0.04 * np.arange(20)) == []
    assert last(0.06 * np.arange(20)) == ["slope"]
    assert last(-0.06 * np.arange(20)) == ["slope"]
    assert last(0.2 * np.arange(20)) == ["spread", "slope"]


def test_the_limits_themselves_pass():
    # a standard deviation of exactly 0.5, and a slope of exactly the limit
    assert last([4.5, 5.5] * 10, slope_limit=1.0) == []
    assert last(0.05 * np.arange(20)) == []


def test_toggling_between_two_steps_is_settled():
    # a signal in whole degrees that sits on the border between two of them
    assert last([5.0, 6.0] * 10, spread_limit=0.0, slope_limit=0.0, step=1.0) == []
    assert last([5.0, 7.0] * 10, spread_limit=0.0, slope_limit=np.inf, step=1.0) == ["spread"]
    assert last([5.0] * 10 + [6.0] * 10, slope_limit=0.001, step=1.0) == []
    assert last([5.0] * 10 + [6.0] * 10, slope_limit=0.001, step=0.5) == ["slope"]


def test_too_few_values_are_gaps():
    assert last([np.nan] * 5 + [5.0] * 15) == ["gaps"]
    assert last([5.0] + [np.nan] * 4 + [5.0] * 15) == []
    assert last([5.0, 5.0], 2, present=0.0) == ["gaps"]  # two points have no slope worth the name
    assert last([5.0, 5.0, 5.0], 3, present=0.0) == []


def test_a_history_shorter_than_the_window():
    assert last([5.0] * 15) == ["gaps"]
    assert last([5.0] * 16) == []


def test_no_value_now_is_a_gap_whatever_came_before():
    assert last([5.0] * 30 + [np.nan]) == ["gaps"]
    assert not judge([np.nan] * 20).settled.any()


def test_what_left_the_window_is_forgotten():
    assert last([100.0] + [5.0] * 20) == []
    assert last([100.0] + [5.0] * 19) != []


def test_a_limit_may_differ_at_every_grid_time():
    values, limits = [4.0, 6.0] * 10, np.array([0.5] * 19 + [1.0])
    found = judge(values, 18, spread_limit=limits, slope_limit=np.inf)
    assert found.spread[-2:].tolist() == [True, False]


@law
@given(
    st.lists(st.none() | st.integers(-40, 40).map(lambda n: n / 4), min_size=15, max_size=40),
    st.integers(3, 15),
    st.sampled_from([0.0, 0.25, 1.0]),
)
def test_it_is_what_plain_statistics_say(values, points, step):
    found = judge(
        [np.nan if v is None else v for v in values], points, spread_limit=1.3, slope_limit=0.13, step=step
    )
    for index in range(len(values)):
        window = [(t, v) for t, v in enumerate(values[: index + 1]) if v is not None and t > index - points]
        gaps = values[index] is None or len(window) < max(3, 0.8 * points)
        assert found.gaps[index] == gaps
        if gaps:
            assert not found.spread[index] | found.slope[index]
            continue
        times, present = np.array(window).T
        assert found.spread[index] == (np.std(present) > np.hypot(1.3, step / 2))
        assert found.slope[index] == (abs(np.polyfit(times, present, 1)[0]) > 0.13 + 1.5 * step / points)


@law
@given(
    st.lists(st.none() | st.floats(-50, 50), min_size=30, max_size=60), st.integers(0, 18), st.integers(3, 12)
)
def test_a_window_gets_one_answer_however_the_history_was_cut(values, cut, points):
    """To the last bit: limits are set where a change of rounding would show."""
    given_values = np.array([np.nan if v is None else v for v in values])
    later = given_values[cut:]
    for limit in (0.0, 0.5, float(np.nanstd(later)) if not np.isnan(later).all() else 1.0):
        whole, part = (
            judge(v, points, spread_limit=limit, slope_limit=limit / 10) for v in (given_values, later)
        )
        for one, other in zip(whole, part, strict=True):
            np.testing.assert_array_equal(one[cut + points - 1 :], other[points - 1 :])


@pytest.mark.parametrize("offset", [0.0, 1e3, 1e6])
def test_a_large_offset_changes_nothing(offset):
    rng = np.random.default_rng(7)
    noise = rng.normal(0.0, 0.5, 300)
    near, far = judge(noise), judge(noise + offset)
    for one, other in zip(near, far, strict=True):
        np.testing.assert_array_equal(one, other)
