"""A module's signals at grid times: the last value while it is young enough, otherwise missing."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.assess import SECOND, Module, Samples, Signal
from agent.assess.frames import NEVER, frames
from tests.assess.world import LATE

POLLED = Signal(max_age_us=100, interval_us=10)
ON_CHANGE = Signal(max_age_us=1000, interval_us=10, on_change=True)


def framed(signals, samples, grid_us, silence_us=50):
    of = Module(LATE, "R-410A", signals, silence_us=silence_us)
    given_us = {
        name: Samples(np.array([t for t, _ in each], np.int64), np.array([v for _, v in each], float))
        for name, each in samples.items()
    }
    found = frames(of, np.array(grid_us), given_us)
    return {
        name: [
            None if np.isnan(value) else (value, time_us)
            for value, time_us in zip(each.value.tolist(), each.time_us.tolist(), strict=True)
        ]
        for name, each in found.items()
    }


def test_the_last_value_holds_until_it_is_older_than_its_max_age():
    found = framed({"a": POLLED}, {"a": [(10, 1.0), (20, 2.0)]}, [9, 10, 19, 20, 120, 121])
    assert found["a"] == [None, (1.0, 10), (1.0, 10), (2.0, 20), (2.0, 20), None]


def test_before_the_first_reading_it_is_missing_since_ever():
    of = Module(LATE, "R-410A", {"a": POLLED})
    found = frames(of, np.array([5]), {"a": Samples(np.array([10]), np.array([1.0]))})
    assert np.isnan(found["a"].value[0])
    assert found["a"].time_us[0] == NEVER


def test_a_signal_without_readings_is_missing_throughout():
    assert framed({"a": POLLED, "b": POLLED}, {"a": [(10, 1.0)]}, [10, 20])["b"] == [None, None]
    assert framed({"a": POLLED}, {"a": []}, [10])["a"] == [None]


def test_an_unusable_reading_hides_the_older_one():
    found = framed({"a": POLLED}, {"a": [(10, 1.0), (20, np.nan), (30, 3.0)]}, [15, 25, 35])
    assert found["a"] == [(1.0, 10), None, (3.0, 30)]


def test_of_two_readings_at_one_time_the_later_in_order_holds():
    assert framed({"a": POLLED}, {"a": [(10, 1.0), (10, 2.0)]}, [10])["a"] == [(2.0, 10)]


def test_a_signal_sent_on_change_is_true_while_the_module_is_heard():
    found = framed(
        {"a": ON_CHANGE, "b": POLLED},
        {"a": [(10, 1.0)], "b": [(100, 0.0), (200, 0.0)]},
        [10, 60, 61, 150, 151, 200],
    )
    assert found["a"] == [(1.0, 10), (1.0, 10), None, (1.0, 100), None, (1.0, 200)]


def test_a_signal_sent_on_change_still_has_a_max_age():
    found = framed(
        {"a": ON_CHANGE, "b": POLLED}, {"a": [(10, 1.0)], "b": [(1010, 0), (1011, 0)]}, [1010, 1011]
    )
    assert found["a"] == [(1.0, 1010), None]


def test_silence_is_nothing_to_a_polled_signal():
    assert framed({"a": POLLED}, {"a": [(10, 1.0)]}, [100])["a"] == [(1.0, 10)]


def test_an_unusable_reading_is_heard_all_the_same():
    found = framed({"a": ON_CHANGE, "b": POLLED}, {"a": [(10, 1.0)], "b": [(100, np.nan)]}, [110])
    assert found["a"] == [(1.0, 100)]


readings = st.lists(
    st.tuples(st.integers(0, 600), st.sampled_from([1.0, 2.0, np.nan])), max_size=12, unique_by=lambda r: r[0]
).map(sorted)


@settings(max_examples=100, deadline=None)
@given(readings, readings, st.lists(st.integers(0, 700), min_size=1, max_size=20, unique=True).map(sorted))
def test_it_is_what_a_plain_search_finds(a, b, grid_us):
    found = framed({"a": POLLED, "b": ON_CHANGE}, {"a": a, "b": b}, grid_us)
    for index, t in enumerate(grid_us):
        last_a = max((r for r in a if r[0] <= t), default=None)
        last_b = max((r for r in b if r[0] <= t), default=None)
        good_a = last_a is not None and t - last_a[0] <= 100 and not np.isnan(last_a[1])
        assert found["a"][index] == ((last_a[1], last_a[0]) if good_a else None)
        heard = max((r[0] for r in [*a, *b] if r[0] <= t), default=None)
        good_b = last_b is not None and t - last_b[0] <= 1000 and not np.isnan(last_b[1]) and t - heard <= 50
        assert found["b"][index] == ((last_b[1], heard) if good_b else None)


def test_times_of_today_do_not_overflow():
    now = 1_800_000_000 * SECOND
    assert framed({"a": POLLED, "b": ON_CHANGE}, {"a": [(now, 1.0)]}, [now])["b"] == [None]


def test_what_is_shared_does_not_show_that_the_module_itself_is_heard():
    shared = replace(POLLED, shared=True)
    signals = {"own": ON_CHANGE, "shared": shared, "changing": replace(ON_CHANGE, shared=True)}
    given_us = {"own": [(10, 1.0)], "shared": [(100, 2.0)], "changing": [(5, 3.0)]}
    found = framed(signals, given_us, [60, 61, 110, 151])
    assert found["own"] == [(1.0, 10), None, None, None]  # silent for more than 50
    assert found["changing"] == [(3.0, 10), None, (3.0, 100), None]  # by whatever is heard of the module
