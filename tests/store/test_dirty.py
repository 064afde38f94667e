from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.readings import Reading, Span
from agent.store import Store
from agent.store.dirty import MOST_ROWS, NEAR_US, joined
from tests.store.conftest import MINUTE_US, MODULE

HOUR_US = 60 * MINUTE_US


@pytest.fixture
def revision_id(store, module_id):
    return store.open_revision(module_id, "{}", "first", 0).id


@pytest.fixture
def mark(store, module_id):
    fresh = count()

    def add(*stretches, module=module_id):
        spans = [Span(module, *stretch) for stretch in stretches]
        store.add_batch([Reading(next(fresh), 1, 1.0, None, 0, 1)], [], spans)

    return add


def stretches(found):
    return [(span.from_us, span.to_us) for _, span in found]


def test_spans_that_overlap_or_lie_close_become_one(mark, store, module_id, rows):
    mark((0, 10), (5, 20))
    mark((20, 30))
    mark((30 + NEAR_US, 40 + NEAR_US))
    assert rows("SELECT from_us, to_us FROM dirty") == [(0, 40 + NEAR_US)]
    mark((2 * HOUR_US, 2 * HOUR_US))
    assert stretches(store.dirty(module_id)) == [(0, 40 + NEAR_US), (2 * HOUR_US, 2 * HOUR_US)]


def test_a_span_can_bridge_two_rows(mark, store, module_id, rows):
    mark((0, 10), (HOUR_US, HOUR_US))
    mark((5, HOUR_US + 5))
    assert rows("SELECT from_us, to_us FROM dirty") == [(0, HOUR_US + 5)]
    assert stretches(store.dirty(module_id)) == [(0, HOUR_US + 5)]


def test_modules_do_not_mix(mark, store, module_id):
    other_path = ("hill-house", "east", "module-2")
    other = store.register_modules([other_path])[other_path]
    mark((0, 10))
    mark((5, 20), module=other)
    assert stretches(store.dirty(module_id)) == [(0, 10)]
    assert stretches(store.dirty(other)) == [(5, 20)]


def test_scattered_late_readings_stay_few_rows(mark, rows, store, module_id):
    for hour in range(0, 100, 2):
        mark((hour * HOUR_US, hour * HOUR_US + 1))
    assert rows("SELECT count(*), min(from_us), max(to_us) FROM dirty") == [(MOST_ROWS, 0, 98 * HOUR_US + 1)]


def test_work_finished_clears_or_shortens(mark, store, module_id, revision_id):
    mark((0, 10), (HOUR_US, 2 * HOUR_US), (5 * HOUR_US, 6 * HOUR_US))
    (first, _), (second, _), (third, _) = store.dirty(module_id)
    store.finish(
        module_id, revision_id, [], cleared=[(first, None), (second, HOUR_US + 7), (third, 7 * HOUR_US)]
    )
    assert stretches(store.dirty(module_id)) == [(HOUR_US + 7, 2 * HOUR_US)]


def test_shortening_never_widens(mark, store, module_id, revision_id):
    mark((100, 200))
    ((dirty_id, _),) = store.dirty(module_id)
    store.finish(module_id, revision_id, [], cleared=[(dirty_id, 50)])
    assert stretches(store.dirty(module_id)) == [(100, 200)]


@pytest.mark.parametrize("meanwhile", [(150, 160), (190, 250), (50, 100), (0, 300)])
def test_what_arrives_during_the_work_stays_dirty(mark, store, module_id, revision_id, meanwhile):
    mark((100, 200))
    ((dirty_id, _),) = store.dirty(module_id)
    mark(meanwhile)  # also where it lies inside the span being worked off
    store.finish(module_id, revision_id, [], cleared=[(dirty_id, None)])
    assert stretches(store.dirty(module_id)) == [meanwhile]


def test_an_old_hand_clears_nothing_that_was_joined_since(mark, store, module_id, revision_id):
    mark((100, 200))
    ((old, _),) = store.dirty(module_id)
    mark((150, 300))
    ((new, span),) = store.dirty(module_id)
    assert (span.from_us, span.to_us) == (100, 300)
    store.finish(module_id, revision_id, [], cleared=[(old, None)])
    assert stretches(store.dirty(module_id)) == [(100, 300)]
    store.finish(module_id, revision_id, [], cleared=[(new, None)])
    mark((400, 500))
    store.finish(module_id, revision_id, [], cleared=[(old, None), (new, None)])
    assert stretches(store.dirty(module_id)) == [(400, 500)]


def test_a_long_span_is_worked_off_in_pieces_under_steady_arrival(mark, store, module_id, revision_id):
    mark((0, 100 * MINUTE_US))
    for step in range(1, 11):
        found = store.dirty(module_id)
        mark((100 * MINUTE_US, 100 * MINUTE_US + step))  # touches the live edge during each piece
        dirty_id, span = found[0]
        store.finish(module_id, revision_id, [], cleared=[(dirty_id, span.from_us + 10 * MINUTE_US)])
    assert stretches(store.dirty(module_id)) == [(100 * MINUTE_US, 100 * MINUTE_US + 10)]


def test_work_never_finished_piles_up_no_rows_and_outlives_a_restart(mark, store, module_id, url, rows):
    for minute in range(50):
        mark((minute * MINUTE_US, minute * MINUTE_US))
        store.dirty(module_id)
    assert rows("SELECT count(*) FROM dirty") == [(1,)]
    store.close()
    with Store.open(url) as again:
        assert stretches(again.dirty(again.register_modules([MODULE])[MODULE])) == [(0, 49 * MINUTE_US)]


TIMES = st.integers(0, 40).map(lambda step: step * NEAR_US // 2)


@given(st.lists(st.tuples(TIMES, TIMES).map(sorted).map(tuple), max_size=40))
def test_joined_stretches_cover_all_and_lie_apart(given_stretches):
    result = joined(given_stretches)
    assert len(result) <= MOST_ROWS
    assert all(any(a <= start and end <= b for a, b in result) for start, end in given_stretches)
    assert all(later[0] - earlier[1] > NEAR_US for earlier, later in zip(result, result[1:], strict=False))
    assert joined(result) == result
