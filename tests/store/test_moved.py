"""Readings that count as another signal's than they are stored under, since the mapping was mended."""

import random

import pytest

from agent.readings import Reading
from agent.store import Latest

OLD, NEW = 1, 2
SWAPPED = {OLD: {1: 2, 2: 1}}


def reading(sample_us, signal_id, value, mapping_id=OLD, arrival_us=0):
    return Reading(sample_us, signal_id, value, None, arrival_us, mapping_id)


@pytest.fixture
def filled(store):
    """Two points that were swapped at 20, and a third signal beside them."""
    store.add_batch([reading(10, 1, "b"), reading(10, 2, "a"), reading(10, 3, "c"), reading(15, 1, "b2")])
    store.add_batch([reading(20, 1, "a", NEW), reading(20, 2, "b", NEW), reading(20, 3, "c", NEW)])
    return store


def values(store, signal_ids, moved, from_us=0, to_us=100):
    found = store.readings(signal_ids, from_us, to_us, moved)
    return {
        signal_id: list(zip(each.sample_us.tolist(), each.values, strict=True))
        for signal_id, each in found.items()
    }


def test_swapped_points(filled):
    assert values(filled, [1, 2, 3], SWAPPED) == {
        1: [(10, "a"), (20, "a")],
        2: [(10, "b"), (15, "b2"), (20, "b")],
        3: [(10, "c"), (20, "c")],
    }
    assert values(filled, [2], SWAPPED) == {2: [(10, "b"), (15, "b2"), (20, "b")]}
    assert values(filled, [1], SWAPPED, from_us=11) == {1: [(20, "a")]}


def test_another_module_s_signal_takes_what_became_its_own(filled):
    assert values(filled, [7], {OLD: {1: 7}}) == {7: [(10, "b"), (15, "b2")]}
    assert values(filled, [1, 7], {OLD: {1: 7}}) == {1: [(20, "a")], 7: [(10, "b"), (15, "b2")]}


def test_what_is_nobody_s_is_not_read(filled):
    assert values(filled, [1, 2], {OLD: {1: 2, 2: None}}) == {
        1: [(20, "a")],
        2: [(10, "b"), (15, "b2"), (20, "b")],
    }


def test_the_newest_and_the_oldest(filled):
    assert filled.latest_reading([1, 2], 0, SWAPPED) == {
        1: Latest(20, 0, "a", None),
        2: Latest(20, 0, "b", None),
    }
    assert filled.latest_reading([1, 2], 0, {NEW: {1: 2, 2: None}, OLD: {1: None}}) == {
        2: Latest(20, 0, "a", None)
    }
    assert filled.first_sample_us([1], {OLD: {1: None}}) == 20
    assert filled.first_sample_us([7], {OLD: {1: 7}}) == 10
    assert filled.first_sample_us([7], {NEW: {1: 7}}) == 20
    assert filled.first_sample_us([8], {NEW: {1: 7}}) is None


def test_of_two_for_one_time_the_first_that_came_stays(store):
    store.add_batch([reading(10, 1, "late", NEW, arrival_us=9), reading(10, 2, "early", OLD, arrival_us=5)])
    moved = {OLD: {2: 1}}
    assert values(store, [1, 2], moved) == {1: [(10, "early")], 2: []}
    assert store.latest_reading([1], 0, moved)[1].value == "early"


def test_reading_through_agrees_with_reading_row_by_row(store):
    """Against the rule applied to each row alone, on rows at random."""
    chance = random.Random(7)
    kept = [
        reading(time, signal_id, chance.random(), chance.randint(1, 3), arrival_us=chance.randint(0, 9))
        for time in range(300)
        for signal_id in (1, 2, 3, 4)
    ]
    store.add_batch(kept)
    moved = {1: {1: 2, 2: 1}, 3: {3: 4, 4: None}}
    expected = {signal_id: [] for signal_id in (1, 2, 4)}
    for each in kept:
        signal_id = moved.get(each.mapping_id, {}).get(each.signal_id, each.signal_id)
        if signal_id in expected:
            expected[signal_id].append((each.sample_us, each.arrival_us, each.signal_id, each.value))
    found = values(store, [1, 2, 4], moved, to_us=1000)
    for signal_id, rows in expected.items():
        firsts = {}
        for time, arrival_us, _, value in sorted(rows):
            same = firsts.setdefault(time, (arrival_us, {value}))
            if same[0] == arrival_us:
                same[1].add(value)
        assert [time for time, _ in found[signal_id]] == sorted(firsts)
        assert all(value in firsts[time][1] for time, value in found[signal_id])


def test_every_mapping_is_kept(store):
    bodies = ['{"plant":{}}', '{"plant":{"a":["m","mode",null]}}']
    ids = [store.register_mapping(body, 5) for body in (*bodies, bodies[0])]
    assert ids[0] == ids[2]
    assert store.mappings() == dict(zip(ids, bodies, strict=False))
