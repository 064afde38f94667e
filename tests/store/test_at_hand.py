"""The newest readings in memory, held against the table by a store that reads nothing else."""

import math
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.readings import Reading
from agent.store import Series, Store, StoreError
from agent.store.at_hand import AtHand

SPAN_US = 20
SIGNALS = (1, 2, 3)
MOVED = {1: {1: 2, 2: None}}


def reading(sample_us, signal_id, value, unit="degC", arrival_us=0, mapping_id=2):
    return Reading(sample_us, signal_id, value, unit, arrival_us, mapping_id)


READINGS = st.builds(
    reading,
    st.integers(0, 60),
    st.sampled_from(SIGNALS),
    st.one_of(
        st.integers(-3, 3),
        st.floats(-5, 5),
        st.sampled_from(["on", "12.0 degC", "", 2**53 + 1, -(2**63), math.inf, -0.0, True]),
    ),
    st.sampled_from(["degC", "kPa", None]),
    st.integers(0, 9),
    st.sampled_from([2, 2, 2, 1]),
)


def plain(series):
    """As written, so that 0 and 0.0 differ: a reading is shown as it was received."""
    return {
        signal_id: list(zip(each.sample_us.tolist(), map(repr, each.values), each.units, strict=True))
        for signal_id, each in series.items()
    }


@settings(max_examples=100, deadline=None)
@given(
    before=st.lists(READINGS, max_size=15),
    batches=st.lists(st.lists(READINGS, max_size=12), max_size=6),
    asked=st.lists(
        st.tuples(st.sets(st.sampled_from((*SIGNALS, 4))), st.integers(-5, 70), st.integers(-5, 70)),
        min_size=1,
        max_size=5,
    ),
    moved=st.sampled_from([{}, MOVED]),
)
def test_it_agrees_with_the_table_after_any_sequence_of_batches(
    tmp_path_factory, before, batches, asked, moved
):
    url = f"sqlite:///{tmp_path_factory.mktemp('store') / 'store.db'}"
    with Store.open(url) as store, Store.open_readonly(url) as table:
        store.add_batch(before)
        store.keep_at_hand(SPAN_US)
        for batch in [[], *batches]:
            store.add_batch(batch)
            for signal_ids, from_us, to_us in asked:
                found = plain(store.readings(signal_ids, from_us, to_us, moved))
                assert found == plain(table.readings(signal_ids, from_us, to_us, moved))


def at_hand(batch, span_us=SPAN_US):
    made = AtHand(span_us)
    made.add(batch)
    return made


def test_it_answers_for_its_span_and_leaves_the_rest_to_the_table():
    held = at_hand(reading(time, 1, time) for time in range(0, 100, 2))
    assert held.series([1], 78, 90, {})[1].values == [78, 80, 82, 84, 86, 88, 90]
    assert held.series([1], 70, 90, {}) is None


def test_it_answers_for_ever_where_nothing_is_older():
    held = at_hand([reading(90, 1, 1), reading(80, 2, 2)])
    assert plain(held.series([1, 2, 3], -1000, 100, {})) == {
        1: [(90, "1", "degC")],
        2: [(80, "2", "degC")],
        3: [],
    }
    held.add([reading(60, 1, 1)])
    assert held.series([1], 69, 100, {}) is None
    assert plain(held.series([1], 70, 100, {})) == {1: [(90, "1", "degC")]}


def test_it_is_the_table_s_where_a_mapping_was_mended_lately():
    held = at_hand([reading(50, 1, 1, mapping_id=1), reading(60, 1, 2)])
    assert held.series([1], 40, 60, MOVED) is None
    assert held.series([2], 40, 60, MOVED) is None
    assert held.series([3], 40, 60, MOVED) is not None
    assert held.series([1], 51, 60, MOVED)[1].values == [2]


def test_what_was_rolled_back_is_not_at_hand(store):
    store.keep_at_hand(SPAN_US)
    with pytest.raises(StoreError):
        store.add_batch([reading(10, 1, 1), reading(11, 1, math.nan)])
    assert store.readings([1], 0, 20)[1].values == []


def test_memory_follows_the_span_not_the_time():
    held = at_hand((reading(time, 1, float(time)) for time in range(100_000)), span_us=800)
    column = held._columns[1]
    assert len(column.times) <= 900
    assert column.times.itemsize + column.values.itemsize == 16


def test_it_is_read_while_batches_come(url):
    """What a batch brings is seen whole: never one of its signals without the other."""
    with Store.open(url) as store:
        store.keep_at_hand(10_000)
        done = threading.Event()

        def receive():
            for time in range(400):
                store.add_batch([reading(time, 1, time), reading(time, 2, time)])
            done.set()

        writer = threading.Thread(target=receive)
        writer.start()
        while not done.is_set():
            found: dict[int, Series] = store.readings([1, 2], 0, 400)
            assert found[1].values == found[2].values == list(range(len(found[1].values)))
        writer.join()
        assert len(store.readings([1], 0, 400)[1].values) == 400
