"""An hour is the sum of its assessments, whatever the pieces they came in."""

import numpy as np
import pytest

from agent.assess import CODE, SECOND, assess
from agent.assess.byhour.hours import HOUR_US, Hour, once_an_hour, total_speed
from agent.assess.byhour.summing import hours_of
from tests.assess.world import START_US, STEP_US, grid, mode_by, module, random_day, samples


def hours(of, minutes, given, first=0):
    at = grid(minutes)[first:]
    return hours_of(assess(of, at, given, STEP_US), STEP_US)


def test_only_whole_hours_count():
    of = module()
    given = samples(of, START_US + 3 * HOUR_US)
    found = hours(of, 150, given, first=3)  # the first hour lacks three grid times, the last half of them
    assert [hour.from_us for hour in found] == [START_US + HOUR_US]


def test_it_sums_up_what_is_decided_and_what_the_signals_were():
    of = module()
    (hour,) = hours(of, 60, samples(of, START_US + HOUR_US))
    part = hour.parts["cooling"]
    assert (part.count, part.settled) == (120, 120)
    stats = part.quantities["return_superheat"]
    assert stats.number == 120
    assert stats.mean == pytest.approx(8.0 - 0.1, abs=0.1)  # dew of R-410A at 800 kPa is near 0.1 degC
    assert stats.least <= stats.mean <= stats.most
    assert stats.below > stats.above > 0  # a loss that nobody stated widens downward only
    assert part.signals["compressor_inlet"].mean == pytest.approx(20.0, abs=0.1)
    assert total_speed(hour, "cooling") == pytest.approx(50.0)


def test_what_is_not_decided_is_absent_and_not_zero():
    of = module()
    (hour,) = hours(of, 60, samples(of, START_US + HOUR_US, suction_pipe=None))
    assert "return_superheat" not in hour.parts["cooling"].quantities
    assert "suction_pipe" not in hour.parts["cooling"].signals


def test_modes_starts_and_running_are_counted():
    of = module()
    given = samples(
        of,
        START_US + HOUR_US,
        mode=mode_by(30, "off", "cooling"),
        compressor_1_speed=lambda m: 0.0 if m < 30 else 50.0,
    )
    (hour,) = hours(of, 60, given)
    assert {mode: part.count for mode, part in hour.parts.items()} == {
        "off": 60,
        "starting": 6,
        "cooling": 54,
    }
    assert hour.entered == {"starting": 1, "cooling": 1}
    assert (hour.running, hour.known, hour.starts) == (
        {"1": 60, "2": 0},
        {"1": 120, "2": 120},
        {"1": 1, "2": 0},
    )


def test_it_comes_back_as_it_was_kept():
    of = module()
    (hour,) = hours(of, 60, samples(of, START_US + HOUR_US))
    assert Hour.load(hour.dump()) == hour


@pytest.mark.parametrize("seed", range(3))
def test_any_cutting_of_the_time_gives_the_same_hours(seed):
    of = module()
    given = random_day(of, np.random.default_rng(seed), minutes=360)
    at = grid(360)
    whole = hours_of(assess(of, at, given, STEP_US), STEP_US)
    assert len(whole) == 6
    for first in (0, 2, 4):
        piece = slice(first * 120, first * 120 + 240)
        part = hours_of(assess(of, at[piece], given, STEP_US), STEP_US)
        assert part == whole[first : first + 2]


def test_a_step_that_does_not_divide_the_hour():
    step_us = 37 * SECOND
    of = module()
    first = -(-START_US // step_us) * step_us
    at = first + step_us * np.arange(200)
    stretch = assess(of, at, samples(of, START_US + 3 * HOUR_US), step_us)
    found = hours_of(stretch, step_us)
    assert [hour.from_us for hour in found] == [START_US, START_US + HOUR_US]
    assert all(97 <= hour.parts["cooling"].count <= 98 for hour in found)
    assert CODE["cooling"] == 3


def test_what_is_worked_out_of_an_hour_is_kept_with_it_for_its_module():
    asked = []

    @once_an_hour
    def counted(module_, hour, mode):
        asked.append((module_, hour.from_us, mode))
        return hour.parts[mode].count

    of, other = module(), module()
    first, second = hours(of, 120, samples(of, START_US + 2 * HOUR_US))
    counts = [counted(of, each, "cooling") for each in (first, second, first, second)]
    assert counts == [first.parts["cooling"].count, second.parts["cooling"].count] * 2
    assert asked == [(of, first.from_us, "cooling"), (of, second.from_us, "cooling")]
    counted(other, first, "cooling")
    assert asked[2:] == [(other, first.from_us, "cooling")]
    assert Hour.load(first.dump()) == first
