"""The load of alarms against ISA-18.2-2016 and IEC 62682:2014, whose figures were read second-hand: about 6
an hour acceptable and 12 the most, a flood above 10 in 10 minutes, low/medium/high about 80/15/5 %."""

from agent.alarms import Priority, Told, load
from agent.alarms.rates import (
    ACCEPTABLE_PER_HOUR,
    FLOOD_PER_TEN_MINUTES,
    HOUR_US,
    MOST_PER_HOUR,
    SHARES,
)

MINUTE_US = HOUR_US // 60


def told(*minutes, priority=Priority.LOW, what="superheat-low at one/m1"):
    return [Told(minute * MINUTE_US, priority, what) for minute in minutes]


def test_the_published_figures():
    assert (ACCEPTABLE_PER_HOUR, MOST_PER_HOUR, FLOOD_PER_TEN_MINUTES) == (6, 12, 10)
    assert SHARES == {Priority.LOW: 0.8, Priority.MEDIUM: 0.15, Priority.HIGH: 0.05}
    assert sum(SHARES.values()) == 1


def test_of_nothing():
    found = load([], 0, HOUR_US)
    assert (found.number, found.per_hour, found.worst, found.worst_us, found.most_often) == (
        0,
        0,
        0,
        None,
        None,
    )


def test_rate_shares_and_what_came_most_often():
    every = told(0, 10, 70) + told(5, priority=Priority.HIGH, what="feed-stale at one/m2") + told(130)
    found = load(every, 0, 2 * HOUR_US)
    assert (found.number, found.per_hour) == (4, 2.0)
    assert found.by_priority == {Priority.LOW: 3, Priority.MEDIUM: 0, Priority.HIGH: 1}
    assert found.most_often == ("superheat-low at one/m1", 3)


def test_ten_a_window_are_no_flood_and_eleven_are():
    ten = load(told(*range(30, 40)), 0, HOUR_US)
    assert (ten.worst, ten.worst_us, ten.is_flood) == (10, 30 * MINUTE_US, False)
    eleven = load(told(*range(30, 40), 39), 0, HOUR_US)
    assert (eleven.worst, eleven.is_flood) == (11, True)
    assert load(told(*range(30, 41)), 0, HOUR_US).worst == 10  # the eleventh comes 10 minutes after the first


def test_the_worst_ten_minutes_may_come_after_others_and_the_first_of_equals_is_named():
    found = load(told(0, 1, 30, 31, 32, 50, 51, 52), 0, HOUR_US)
    assert (found.worst, found.worst_us) == (3, 30 * MINUTE_US)


def test_both_ends_of_the_period_are_in_it_and_once_is_not_often():
    found = load(told(0) + told(60, what="feed-stale at one/m2") + told(61), 0, HOUR_US)
    assert (found.number, found.most_often) == (2, None)
