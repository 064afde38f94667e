"""What one receiver is told of one alarm: once a day, again while nobody has acknowledged it, once that it is
over; and what becomes of that at midnight, in quiet hours, and when it turns out not to have been.

The rule is a design choice without a source; ISA-18.2-2016 asks only that nobody be flooded.
"""

from hypothesis import given
from hypothesis import strategies as st

from agent.alarms import Moment, Priority, Repeat, Said, Telling
from agent.alarms.telling import Standing

LOW, MEDIUM, HIGH = Priority
STANDS, AGAIN, OVER = Telling
HOUR = 3_600_000_000
REPEAT = Repeat(most=3, every_us=4 * HOUR)
NIGHT = frozenset({HIGH})


class Receiver:
    """Is asked every hour, and notes what it is told; `story` says how the alarm stands."""

    def __init__(self, said=None):
        self.said, self.told = said or Said(), []

    def hear(self, hour, since=None, priority=MEDIUM, *, acknowledged=False, passing=frozenset(Priority)):
        """`hour` counts from a midnight of the site's clock; `since`: the hour since which it stands."""
        now = Standing(None if since is None else since * HOUR, priority, acknowledged)
        moment = Moment(hour * HOUR, int(hour // 24), passing)
        self.said, telling = self.said.then(now, moment, REPEAT)
        if telling:
            self.told.append((hour, telling))
        return telling

    def hours(self, from_hour, to_hour, since=None, **more):
        for hour in range(from_hour, to_hour):
            self.hear(hour, since, **more)
        return self.told


def test_told_once_said_again_three_times_and_once_that_it_is_over():
    crew = Receiver()
    crew.hours(1, 40, since=1)
    assert crew.told == [(1, STANDS), (5, AGAIN), (9, AGAIN), (13, AGAIN)]
    crew.hours(40, 48)
    assert crew.told[4:] == [(40, OVER)]


def test_whoever_acknowledges_it_ends_the_repeats_and_hears_that_it_is_over():
    crew = Receiver()
    crew.hours(1, 6, since=1)
    crew.hours(6, 20, since=1, acknowledged=True)
    crew.hours(20, 22)
    assert crew.told == [(1, STANDS), (5, AGAIN), (20, OVER)]


def test_what_comes_and_goes_all_day_is_told_once():
    """Each time for an hour, every other hour, acknowledged or not: one notice, and one that it is over."""
    crew = Receiver()
    for hour in range(8, 24, 2):
        crew.hear(hour, since=hour, acknowledged=True)
        crew.hear(hour + 1)
    assert crew.told == [(8, STANDS), (9, OVER)]


def test_what_came_again_and_stays_unacknowledged_is_said_again_and_then_that_it_is_over():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.hear(9)
    crew.hours(10, 14, since=10)
    crew.hours(14, 16)
    assert crew.told == [(8, STANDS), (9, OVER), (12, AGAIN), (14, OVER)]


def test_after_a_clock_that_ran_ahead_is_put_right_what_stands_is_said_again_and_what_comes_is_told():
    """Ten days ahead when it was told; each of those ten days is real afterwards."""
    crew = Receiver()
    crew.hear(241, since=1)
    crew.hours(2, 20, since=1)
    crew.hours(20, 21)
    crew.hear(21, since=21)  # as on the day on which it was told
    crew.hear(22)
    crew.hear(240, since=240)  # the day that the clock told then
    assert crew.told == [(241, STANDS), (6, AGAIN), (10, AGAIN), (14, AGAIN), (20, OVER), (240, STANDS)]


def test_what_came_again_unsaid_and_stands_is_told_on_the_next_day():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.hear(9)
    crew.hear(10, since=10)
    crew.hear(24, since=10)
    crew.hear(30)
    assert crew.told == [(8, STANDS), (9, OVER), (24, STANDS), (30, OVER)]


def test_what_came_again_unsaid_and_is_seen_to_wakes_nobody_at_midnight():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.hear(9)
    crew.hours(10, 30, since=10, acknowledged=True)
    crew.hear(30)
    assert crew.told == [(8, STANDS), (9, OVER)]


def test_over_midnight_what_people_know_as_standing_is_not_told_anew():
    crew = Receiver()
    crew.hours(22, 25, since=22)
    assert crew.told == [(22, STANDS)]
    crew.hear(25)
    crew.hear(26, since=26)
    assert crew.told[1:] == [(25, OVER), (26, STANDS)]  # of the new day


def test_a_higher_priority_is_told_at_once_and_a_lower_one_not():
    crew = Receiver()
    crew.hear(8, since=8, priority=LOW)
    crew.hear(9, since=8, priority=HIGH)
    crew.hear(10, since=8, priority=MEDIUM)
    crew.hear(11, since=8, priority=HIGH)
    assert crew.told == [(8, STANDS), (9, STANDS)]
    crew.hear(12)
    crew.hear(12.5, since=12.5, priority=HIGH)  # as high as was told: the same
    assert crew.told[2:] == [(12, OVER)]


def test_a_higher_priority_is_told_though_somebody_sees_to_it():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.hear(9, since=8, acknowledged=True)
    assert crew.hear(10, since=8, priority=HIGH, acknowledged=True) is STANDS


class TestQuietHours:
    def test_what_stands_after_them_is_told_and_what_is_over_is_not(self):
        crew, other = Receiver(), Receiver()
        for each in (crew, other):
            each.hours(22, 26, since=22, passing=NIGHT)
        crew.hours(26, 30, since=22, passing=NIGHT)
        crew.hear(30, since=22)
        other.hours(26, 30, passing=NIGHT)
        other.hear(30)
        assert (crew.told, other.told) == ([(30, STANDS)], [])

    def test_what_may_pass_passes_and_so_does_that_it_is_over(self):
        crew = Receiver()
        crew.hear(22, since=22, passing=NIGHT)
        crew.hear(23, since=22, priority=HIGH, passing=NIGHT)
        crew.hear(24, priority=LOW, passing=NIGHT)
        assert crew.told == [(23, STANDS), (24, OVER)]

    def test_that_what_was_told_before_is_over_waits_and_is_not_lost(self):
        crew = Receiver()
        crew.hear(21, since=21)
        crew.hours(22, 30, passing=NIGHT)
        crew.hear(30)
        assert crew.told == [(21, STANDS), (30, OVER)]

    def test_what_is_over_and_comes_again_within_them_is_the_same(self):
        crew = Receiver()
        crew.hear(21, since=21)
        crew.hear(22, passing=NIGHT)
        crew.hear(23, since=23, acknowledged=True, passing=NIGHT)
        crew.hear(23.5, since=23, acknowledged=True)
        assert crew.told == [(21, STANDS)]
        assert crew.hear(23.9) is OVER

    def test_repeats_wait_and_are_not_made_up_for(self):
        crew = Receiver()
        crew.hear(21, since=21)
        crew.hours(22, 36, since=21, passing=NIGHT)
        crew.hours(36, 39, since=21)
        assert crew.told == [(21, STANDS), (36, AGAIN)]


def test_after_a_day_without_the_agent_it_is_said_once():
    crew = Receiver()
    crew.hear(1, since=1)
    crew.hours(40, 43, since=1)
    assert crew.told == [(1, STANDS), (40, AGAIN)]


def test_what_turned_out_not_to_have_been_does_not_count_against_what_really_comes():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.said = crew.said.taken_back(8 * HOUR)
    crew.hear(9)
    assert crew.hear(10, since=10) is STANDS


def test_what_turned_out_not_to_have_been_yesterday_does_not_bring_today_twice():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.hear(9)
    crew.hear(32, since=32)
    crew.said = crew.said.taken_back(8 * HOUR)
    crew.hear(33)
    assert crew.hear(34, since=34) is None


def test_what_stands_is_not_told_anew_since_an_older_one_was_taken_back_but_its_rise_is():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.said = crew.said.taken_back(8 * HOUR)
    assert crew.hear(9, since=8) is None
    assert crew.hear(10, since=8, priority=HIGH) is STANDS


def test_another_beginning_is_the_same_alarm():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.said = crew.said.amended(8 * HOUR, 7 * HOUR)
    crew.hear(26, since=7, acknowledged=True)
    assert crew.told == [(8, STANDS)]


def test_a_hold_that_a_person_ends_has_it_told_once_more_on_the_same_day():
    crew = Receiver()
    crew.hear(8, since=8)
    crew.said = crew.said.to_tell_anew()
    assert crew.hear(9, since=8) is STANDS
    crew.said = crew.said.to_tell_anew()
    assert crew.hear(10) is OVER  # it is over by then


def test_a_clock_set_back_tells_nothing_twice():
    crew = Receiver()
    crew.hear(30, since=30)
    assert crew.hear(20, since=30) is None


DAYS = 4
STANDING = st.lists(
    st.tuples(st.booleans(), st.sampled_from(Priority), st.booleans(), st.booleans()),
    min_size=24 * DAYS,
    max_size=24 * DAYS,
)


@given(STANDING, st.integers(0, 5))
def test_whatever_happens_the_bounds_hold(hours, most):
    """A day brings no more than a notice, its rises in priority and the repeats; each end is told once."""
    said, since, told = Said(), None, []
    for hour, (stands, priority, acknowledged, quiet) in enumerate(hours):
        since = (since if since is not None else hour) if stands else None
        now = Standing(since, priority, acknowledged)
        moment = Moment(hour * HOUR, hour // 24, NIGHT if quiet else frozenset(Priority))
        said, telling = said.then(now, moment, Repeat(most, 4 * HOUR))
        told += [(hour // 24, telling)] if telling else []
    knows, repeats = False, 0
    for _, telling in told:
        assert telling is not OVER or knows  # what was not told is not said to be over
        knows = telling is not OVER
        repeats = 0 if telling is STANDS else repeats + (telling is AGAIN)
        assert repeats <= most
    for day in range(DAYS):
        assert told.count((day, STANDS)) <= 1 + 2  # two rises at most


def test_a_clock_that_ran_ahead_delays_nothing_beyond_now():
    """Said on day 3 by a clock that was wrong, heard on day 1: as if said now, and no day is made up."""
    ahead = Said(since_us=HOUR, day=3, of_us=HOUR, priority=MEDIUM, at_us=80 * HOUR)
    crew = Receiver(ahead)
    crew.hear(24, since=1)
    assert (crew.said.at_us, crew.said.day, crew.told) == (24 * HOUR, 1, [])
    crew.hours(25, 29, since=1)
    assert crew.told == [(28, AGAIN)]
    taken_back = Receiver(ahead._replace(day=None))
    assert taken_back.hear(24, since=1) is None and taken_back.said.day is None


def test_only_what_was_told_of_that_beginning_moves_with_it():
    """What stands began at 5 and not at 3; it was told of 3, or of another on that day."""
    of_it = Said(since_us=3, of_us=3).amended(3, 5)
    assert (of_it.since_us, of_it.of_us) == (5, 5)
    of_another = Said(since_us=3, of_us=1).amended(3, 5)
    assert (of_another.since_us, of_another.of_us) == (5, 1)
    assert Said(since_us=1, of_us=1).amended(3, 5) == Said(since_us=1, of_us=1)
