"""How far back a judgement reaches, from the signals' own habits."""

from dataclasses import replace

from agent.assess import SECOND, Settling
from tests.assess.world import STATE, THERMISTOR, module


def test_the_window_is_ten_reporting_intervals_or_ten_minutes():
    assert module().window_us == 600 * SECOND
    slow = replace(THERMISTOR, interval_us=120 * SECOND)
    assert module(signals={"suction_pipe": slow}).window_us == 1200 * SECOND
    assert module(signals={"suction_pipe": replace(slow, on_change=True)}).window_us == 600 * SECOND
    assert module(signals={"mode": replace(STATE, interval_us=900 * SECOND)}).window_us == 600 * SECOND


def test_the_window_ends_at_its_longest():
    slow = replace(THERMISTOR, interval_us=300 * SECOND)
    assert module(signals={"suction_pipe": slow}).window_us == 1800 * SECOND
    slow = replace(THERMISTOR, interval_us=180 * SECOND)
    assert module(signals={"suction_pipe": slow}).window_us == 1800 * SECOND
    shorter = Settling(longest_window_us=900 * SECOND)
    assert module(signals={"suction_pipe": slow}, settling=shorter).window_us == 900 * SECOND
    asked_for = Settling(window_us=2400 * SECOND)
    assert module(settling=asked_for).window_us == 2400 * SECOND


def test_the_lookback_is_the_longest_of_all_plus_two_jumps_a_start_and_the_oldest_value():
    assert module().lookback_us == (3600 + 1200 + 180 + 300 + 180 + 120) * SECOND
    old = replace(STATE, max_age_us=1000 * SECOND)
    assert module(signals={"mode": old}).lookback_us == (3600 + 1200 + 180 + 300 + 180 + 1000) * SECOND
    assert module(start_us=60 * SECOND).lookback_us == (3600 + 1200 + 60 + 300 + 180 + 120) * SECOND
    for longer in ("swing_us", "repeated_us", "longest_transient_us"):
        assert module(**{longer: 5000 * SECOND}).lookback_us == (3600 + 5000 + 180 + 300 + 180 + 120) * SECOND
    for longer in ("window_us", "quiet_us", "switched_us"):
        settling = Settling(**{longer: 7200 * SECOND})
        assert module(settling=settling).lookback_us == (3600 + 7200 + 180 + 300 + 180 + 120) * SECOND
    nothing_else = dict.fromkeys(("swing_us", "repeated_us", "longest_transient_us"), 0)
    assert module(**nothing_else).lookback_us == (3600 + 900 + 180 + 300 + 180 + 120) * SECOND
