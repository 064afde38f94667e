"""Occurrences side by side, and how often they come."""

import pytest

from agent.alarms import Fate, Occurrence, compare_occurrences, rate
from agent.alarms.compared import WEEK_US

HOUR = 3_600_000_000


def occurrence(since, until, after=0.25):
    """In hours; raised a while after it began."""
    cleared = None if until is None else round(until * HOUR)
    return Occurrence(round(since * HOUR), round((since + after) * HOUR), cleared)


def fates(recorded, replayed):
    return [each.fate for each in compare_occurrences(recorded, replayed)]


@pytest.mark.parametrize(
    ("recorded", "replayed", "expected"),
    [
        ([], [], []),
        ([(1, 3)], [(1, 3)], [Fate.ALIKE]),
        ([(1, 3)], [(1.5, 2.5)], [Fate.ALIKE]),
        ([(1, 3)], [], [Fate.WITHDRAWN]),
        ([], [(1, 3)], [Fate.FOUND]),
        ([(1, 3)], [(4, 5)], [Fate.WITHDRAWN, Fate.FOUND]),
        ([(4, None)], [(1, 2), (5, 6)], [Fate.FOUND, Fate.ALIKE]),
        ([(1, 2), (3, 4)], [(1, 4)], [Fate.ALIKE, Fate.ALIKE]),  # two have become one
        ([(1, 4)], [(1, 2), (3, 4)], [Fate.ALIKE]),  # and one has become two
        ([(1, 2), (6, 7)], [(3, 4)], [Fate.WITHDRAWN, Fate.FOUND, Fate.WITHDRAWN]),
    ],
)
def test_what_overlaps_is_the_same_occurrence(recorded, replayed, expected):
    assert fates([occurrence(*e) for e in recorded], [occurrence(*e) for e in replayed]) == expected


def test_a_rate_counts_what_was_raised_in_the_time_and_how_long_it_stood():
    found = [occurrence(-2, 1), occurrence(2, 3), occurrence(160, None)]
    once = rate(found, 0, WEEK_US)
    assert (once.raised, once.per_week) == (2, 2.0)
    # from 0 to 1, from 2.25 to 3 and from 160.25 to the end of the week's 168 hours
    assert once.stands_us == round((1 + 0.75 + 7.75) * HOUR)
    assert rate(found, 0, WEEK_US // 2).per_week == 2.0
    assert rate([], 0, 0) == (0, 0.0, 0)


def test_of_one_that_has_become_two_the_first_stands_beside_it():
    (found,) = compare_occurrences([occurrence(1, 4)], [occurrence(1, 2), occurrence(3, 4)])
    assert found.replayed == occurrence(1, 2)


def test_what_is_raised_at_either_end_of_the_time_counts():
    found = [occurrence(1, 2, after=0), occurrence(3, 4, after=0), occurrence(5, 6, after=0)]
    once = rate(found, 1 * HOUR, 3 * HOUR)
    assert (once.raised, once.stands_us) == (2, HOUR)
    assert once.per_week == pytest.approx(2 / (2 * HOUR / WEEK_US))
