"""How far a quantity swings to and fro, against a plain count and against what is not hunting."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.assess.swing import swing

POINTS = 39
TIMES = np.arange(POINTS)


def last(values, points=POINTS):
    return swing(np.array(values, float), points)[-1]


def test_what_hunts_shows_its_height():
    for period in (2, 5, 13):
        assert last(4.0 + 3.0 * (TIMES % period < period / 2)) == 3.0


def test_a_step_and_a_peak_are_no_hunting():
    assert last(np.where(TIMES < 20, 0.0, 5.0)) == 0.0
    assert last(np.where(TIMES == 20, 5.0, 0.0)) == 0.0
    assert last(np.where(np.isin(TIMES, (5, 30)), 5.0, 0.0)) == 0.0


def test_two_peaks_and_a_border_between_thirds():
    """A peak in each third is a swing; a value belongs to one third alone."""
    assert last(np.where(np.isin(TIMES, (5, 20, 30)), 5.0, 0.0)) == 5.0
    assert last(np.where(TIMES < 26, 0.0, 5.0)) == 0.0
    assert last(np.where(np.isin(TIMES, (0, 13, 26)), 5.0, 0.0)) == 5.0
    assert last(np.where(np.isin(TIMES, (12, 25, 38)), 5.0, 0.0)) == 5.0
    assert last(np.where(np.isin(TIMES, (0, 12, 38)), 5.0, 0.0)) == 0.0


def test_a_drift_shows_a_third_of_itself():
    assert last(0.1 * TIMES) == pytest.approx(1.2)
    assert last(-0.1 * TIMES) == pytest.approx(1.2)


def test_the_calmest_third_decides():
    heights = np.repeat([4.0, 1.5, 3.0], 13)
    for order in ((0, 1, 2), (1, 0, 2), (2, 0, 1)):
        mixed = np.concatenate([heights[13 * n : 13 * n + 13] for n in order])
        assert last(mixed * (TIMES % 2)) == 1.5


def test_gaps():
    hunting = 2.0 * (TIMES % 2)
    assert last(np.where(TIMES % 13 < 2, hunting, np.nan)) == 2.0
    assert np.isnan(last(np.where((TIMES > 25) & (TIMES != 30), np.nan, hunting)))
    assert np.isnan(last(np.where((TIMES < 13) & (TIMES != 5), np.nan, hunting)))
    assert np.isnan(last([np.nan] * POINTS))


def test_a_history_shorter_than_the_window():
    hunting = 2.0 * (np.arange(80) % 2)
    found = swing(hunting, POINTS)
    assert np.isnan(found[:27]).all()  # the first third needs two values: 26 before it and itself
    assert (found[27:] == 2.0).all()
    assert np.isnan(swing(np.array([1.0]), POINTS)).all()


def test_a_window_that_does_not_divide_by_three_is_cut_down():
    values = np.where(np.arange(40) == 0, 9.0, np.arange(40) % 2)
    assert last(values, 40) == last(values, 41) == 1.0


def test_a_third_holds_two_values_at_least():
    assert last([0.0, 1.0, 0.0, 1.0, 0.0, 1.0], 3) == 1.0


@settings(max_examples=100, deadline=None)
@given(st.lists(st.none() | st.integers(-20, 20), min_size=1, max_size=40), st.integers(1, 20))
def test_it_is_what_a_plain_count_finds(values, points):
    found = swing(np.array([np.nan if v is None else v for v in values]), points)
    part = max(2, points // 3)
    for index in range(len(values)):
        spans = []
        for number in range(3):
            end = index + 1 - number * part
            third = [v for v in values[max(0, end - part) : max(0, end)] if v is not None]
            spans.append(max(third) - min(third) if len(third) >= 2 else None)
        np.testing.assert_equal(found[index], np.nan if None in spans else min(spans))
