"""Two courses side by side: the figures are worked out by hand beside each check."""

import numpy as np
import pytest

from agent.assess.compared import Gathering, Words, compare, within_uncertainty

RETURN, LOW = "return_superheat", "superheat-low"
STEP = 60_000_000


def course(*parts):
    """Parts of (first grid time, mode, decided, probe, beyond, values)."""
    gathering = Gathering([RETURN], [LOW])
    for first, mode, decided, probe, beyond, values in parts:
        number = gathering.number(Words(mode, (decided,), (probe,), (beyond,)))
        grid_us = (first + np.arange(len(values))) * STEP
        figures = np.column_stack([values, np.full(len(values), 1.0), np.full(len(values), 2.0)])
        gathering.add(grid_us, np.full(len(values), number), figures)
    return gathering.course()


def cooling(first, values, probe="outlet", beyond=False):
    return first, "cooling", True, probe, beyond, values


def test_the_same_twice_differs_nowhere():
    one = course(cooling(0, [5.0, 6.0, 7.0]), (3, "off", False, "", False, [np.nan]))
    found = compare(one, course(cooling(0, [5.0, 6.0, 7.0]), (3, "off", False, "", False, [np.nan])))
    assert (found.recorded, found.replayed, found.unrecorded, found.changed) == (4, 4, 0, 0)
    assert found.quantities[RETURN].differ == (3, 0.0, 0.0)
    assert found.quantities[RETURN].recorded == found.quantities[RETURN].replayed


@pytest.mark.parametrize(
    "other",
    [
        cooling(0, [5.0, 6.0001, 7.0]),
        cooling(0, [5.0, 6.0, np.nan]),
        cooling(0, [5.0, 6.0, 7.0], probe="inlet"),
        cooling(0, [5.0, 6.0, 7.0], beyond=True),
        (0, "heating", True, "outlet", False, [5.0, 6.0, 7.0]),
        (0, "cooling", False, "outlet", False, [5.0, 6.0, 7.0]),
    ],
    ids=["a figure", "no figure", "the probe", "the condition", "the mode", "the verdict"],
)
def test_whatever_differs_is_counted(other):
    assert compare(course(cooling(0, [5.0, 6.0, 7.0])), course(other)).changed > 0


def test_of_each_mode_the_share_that_is_decided_and_the_figures_of_what_is():
    values = list(range(101))
    was = course(cooling(0, values), (101, "cooling", False, "outlet", True, [50.0] * 99))
    now = course(
        cooling(0, [v - 3.0 for v in values], "inlet"), (101, "off", False, "", False, [np.nan] * 99)
    )
    quantity = compare(was, now).quantities[RETURN]
    (in_cooling, off) = quantity.recorded
    assert in_cooling[:6] == ("cooling", 200, 101, 50.0, 5.0, 95.0)  # of 0..100
    assert in_cooling.probes == (("outlet", 101),)
    assert (in_cooling.below, in_cooling.above) == (1.0, 2.0)
    assert off == ("off", 0, 0, None, None, None, None, None, ())
    assert [each[:4] for each in quantity.replayed] == [("cooling", 101, 101, 47.0), ("off", 99, 0, None)]
    assert quantity.differ == (101, -3.0, -3.0)
    assert compare(was, now).beyond == {LOW: (99, 0)}


def test_only_what_both_have_is_compared_and_what_is_not_recorded_is_counted():
    found = compare(course(cooling(5, [4.0] * 5)), course(cooling(0, [4.0] * 10)))
    assert (found.recorded, found.replayed, found.unrecorded, found.changed) == (5, 10, 5, 0)


def test_nothing_recorded_at_all_is_no_error():
    found = compare(course(), course(cooling(0, [4.0] * 10)))
    assert (found.recorded, found.unrecorded, found.changed) == (0, 10, 0)
    assert found.quantities[RETURN].differ is None


def test_two_grids_of_which_one_is_finer_are_compared_where_they_meet():
    fine = Gathering([RETURN], [LOW])
    number = fine.number(Words("cooling", (True,), ("outlet",), (False,)))
    figures = np.column_stack([np.full(10, 4.0), np.full(10, 1.0), np.full(10, 2.0)])
    fine.add(np.arange(10) * STEP // 2, np.full(10, number), figures)
    found = compare(course(cooling(0, [5.0] * 5)), fine.course())
    assert found.quantities[RETURN].differ == (5, -1.0, -1.0)


def test_a_limit_within_u_of_a_decided_value():
    # -1 and +2 K about the value: 2.5 K is within of 1, 2 and 3 K, and outside of 0.4 and 3.6 K
    one = course(cooling(0, [0.4, 1.0, 2.0, 3.0, 3.6]), (5, "cooling", False, "outlet", False, [2.5]))
    assert within_uncertainty(one, RETURN, 2.5) == (3, 5)
