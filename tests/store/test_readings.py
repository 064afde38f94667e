import math
import sqlite3
from contextlib import closing

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.readings import Reading, Refusal, Span
from agent.store import Added, Latest, Store, StoreError


def reading(sample_us, signal_id, value, unit="degC", arrival_us=0):
    return Reading(sample_us, signal_id, value, unit, arrival_us, 1)


def test_values_come_back_as_they_came_in(store, rows):
    values = [12, 12.5, "12", "12.0 degC", -0.0, 2**62, math.inf, "", True]
    store.add_batch([reading(time, 1, value) for time, value in enumerate(values)])
    back = store.readings([1], 0, 100)[1].values
    assert back == values
    assert [type(value) for value in back] == [int, float, str, str, float, int, float, str, int]
    assert rows("SELECT typeof(value) FROM reading ORDER BY sample_us")[:3] == [
        ("integer",),
        ("real",),
        ("text",),
    ]


def test_first_value_of_a_key_stays_and_each_other_value_is_kept_once(store, rows):
    assert store.add_batch([reading(5, 1, 12.5)]) == Added(1, 0, 0)
    assert store.add_batch([reading(5, 1, 13.0), reading(5, 1, 13.0), reading(5, 1, 14)]) == Added(0, 1, 2)
    assert store.add_batch([reading(5, 1, 13), reading(5, 1, 12.5)]) == Added(0, 2, 0)
    assert store.readings([1], 0, 10)[1].values == [12.5]
    assert rows("SELECT value FROM conflict ORDER BY value") == [(13.0,), (14,)]


def test_a_batch_of_one(store):
    assert store.add_batch([reading(5, 1, 12.5)]) == Added(1, 0, 0)
    assert store.add_batch([reading(5, 1, 12.5)]) == Added(0, 1, 0)
    assert store.add_batch([reading(5, 1, 1)]) == Added(0, 0, 1)
    assert store.add_batch([]) == Added(0, 0, 0)


@pytest.mark.parametrize(
    ("first", "then", "conflicts"),
    [
        ((12, "degC"), (12.0, "degC"), 0),
        ((12, "degC"), ("12", "degC"), 1),
        (("12", None), (12, None), 1),
        (("12", None), ("12", None), 0),
        (("12", None), ("12.0", None), 1),
        ((12, "degC"), (12, "degF"), 1),
        ((12, None), (12, "degC"), 1),
        ((2**53, None), (2**53 + 1, None), 1),
    ],
)
def test_values_compare_as_received(store, first, then, conflicts):
    added = store.add_batch([reading(5, 1, *first), reading(5, 1, *then)])
    assert added == Added(1, 1 - conflicts, conflicts)


@pytest.mark.parametrize(
    ("value", "words"),
    [(math.nan, "NaN"), (2**63, "more than 64 bits"), ("\ud800", "not Unicode")],
)
def test_a_value_that_cannot_be_held_refuses_the_whole_batch_by_name(store, value, words):
    with pytest.raises(StoreError, match=rf"signal 7 at 11 us is .*{words}"):
        store.add_batch([reading(10, 1, 12.5), reading(11, 7, value)], [Refusal(1, "t", "late", "d", b"h")])
    assert store.readings([1, 7], 0, 100)[1].values == []
    assert store.refused_counts() == {}
    assert store.add_batch([reading(10, 1, 12.5)]).stored == 1


def test_series_ascend_in_time_whatever_the_order_of_arrival(store):
    store.add_batch([reading(30, 1, 3), reading(10, 1, 1), reading(20, 2, "x", None), reading(20, 1, 2)])
    found = store.readings([1, 2, 3], 10, 30)
    assert found[1].sample_us.dtype == np.int64
    assert found[1].sample_us.tolist() == [10, 20, 30]
    assert found[1].values == [1, 2, 3]
    assert found[2].values == ["x"]
    assert found[2].units == [None]
    assert found[3].sample_us.tolist() == []
    assert store.readings([1], 11, 29)[1].values == [2]
    assert store.readings([], 0, 100) == {}


def test_many_rows_are_read_to_the_end(store):
    store.add_batch([reading(time, signal, time) for time in range(5000) for signal in (1, 2)])
    assert store.readings([2], 0, 10_000)[2].values == list(range(5000))


def test_newest_and_oldest_reading(store):
    store.add_batch(
        [reading(10, 1, 1, arrival_us=90), reading(20, 1, 2, arrival_us=80), reading(15, 2, "on", None)]
    )
    assert store.latest_reading([1, 2, 3], 0) == {1: Latest(20, 80, 2, "degC"), 2: Latest(15, 0, "on", None)}
    assert store.latest_reading([1, 2], 16) == {1: Latest(20, 80, 2, "degC")}
    assert store.latest_reading([], 0) == {}
    assert store.first_sample_us([1, 2]) == 10
    assert store.first_sample_us([2]) == 15
    assert store.first_sample_us([3]) is None
    assert store.first_sample_us([]) is None


def test_the_newest_is_found_however_long_a_signal_has_been_silent(store):
    silent_s = [0, 1, 299, 300, 301, 1_499, 1_500, 1_501, 86_399, 86_400]
    now_us = 10**15
    times = {signal: now_us - silent * 1_000_000 for signal, silent in enumerate(silent_s)}
    store.add_batch([reading(time, signal, 2) for signal, time in times.items()])
    store.add_batch([reading(time - 7, signal, 1) for signal, time in times.items()])
    found = store.latest_reading(range(len(silent_s) + 1), now_us - 86_400_000_000)
    assert {signal: (each.sample_us, each.value) for signal, each in found.items()} == {
        signal: (time, 2) for signal, time in times.items()
    }
    assert store.latest_reading([9], now_us - 86_399_999_999) == {}


def test_more_signals_are_asked_for_than_a_statement_takes(store):
    store.add_batch([reading(5, 1, 12.5), reading(5, 70_000, 13.5)])
    assert store.latest_reading(range(1, 70_001), 0).keys() == {1, 70_000}


def test_refusals_are_kept_with_the_head_of_their_payload(store, rows):
    refusals = [
        Refusal(1, "site/x", "not-decodable", "byte 0xff at 0", b"\xff\x00"),
        Refusal(2, "site/y", "future", "60 s ahead", b""),
        Refusal(3, "site/y", "future", "61 s ahead", b""),
    ]
    store.add_batch([], refusals)
    assert store.refused_counts() == {"not-decodable": 1, "future": 2}
    assert rows("SELECT arrival_us, topic, reason, detail, head FROM refused") == [tuple(r) for r in refusals]


KEYS = st.tuples(st.integers(0, 9), st.integers(1, 3))
VALUES = st.one_of(st.integers(-5, 5), st.floats(-5, 5), st.sampled_from(["1", "on", "1.0"]))


@settings(max_examples=25, deadline=None)
@given(data=st.data(), values=st.dictionaries(KEYS, VALUES, min_size=1))
def test_shuffled_repeated_and_split_batches_make_the_same_table(tmp_path_factory, data, values):
    sent = [reading(*key, value) for key, value in values.items()]
    repeats = data.draw(st.lists(st.sampled_from(sent), max_size=10))
    order = data.draw(st.permutations(sent + repeats))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(order)), max_size=4)))
    path = tmp_path_factory.mktemp("store") / "store.db"
    with Store.open(f"sqlite:///{path}") as store:
        added = [
            store.add_batch(order[start:end])
            for start, end in zip([0, *cuts], [*cuts, len(order)], strict=True)
        ]
    with closing(sqlite3.connect(path)) as connection:
        table = connection.execute("SELECT * FROM reading").fetchall()
        conflicts = connection.execute("SELECT count(*) FROM conflict").fetchone()
    assert table == sorted(tuple(r) for r in sent)
    assert conflicts == (0,)
    assert sum(a.stored for a in added) == len(sent)
    assert sum(a.duplicates for a in added) == len(repeats)


@settings(max_examples=25, deadline=None)
@given(received=st.lists(st.tuples(KEYS, VALUES), min_size=1, max_size=40), cut=st.integers(0, 40))
def test_every_value_received_is_kept_once(tmp_path_factory, received, cut):
    sent = [reading(*key, value) for key, value in received]
    path = tmp_path_factory.mktemp("store") / "store.db"
    with Store.open(f"sqlite:///{path}") as store:
        added = [store.add_batch(sent[:cut]), store.add_batch(sent[cut:]), store.add_batch(sent)]
    with closing(sqlite3.connect(path)) as connection:
        kept = connection.execute(
            "SELECT sample_us, signal_id, value FROM reading"
            " UNION ALL SELECT sample_us, signal_id, value FROM conflict"
        ).fetchall()
    expected = {(*key, value) for key, value in received}  # Python's 1 == 1.0 != "1" is the rule here too
    assert len(kept) == len(expected)
    assert set(kept) == expected
    assert added[2] == Added(0, len(sent), 0)
    first = dict(reversed(received))
    assert {(row[0], row[1]): row[2] for row in kept[: len(first)]} == first


def test_spans_become_dirty_only_where_a_reading_was_stored(store, module_id):
    span = Span(module_id, 10, 10)
    store.add_batch([], [Refusal(1, "t", "late", "d", b"h")], [span])
    assert store.dirty(module_id) == []
    store.add_batch([reading(10, 1, 1)], [], [span])
    ((dirty_id, found),) = store.dirty(module_id)
    assert found == span
    revision = store.open_revision(module_id, "{}", "first", 0)
    store.finish(module_id, revision.id, [], cleared=[(dirty_id, None)])
    store.add_batch([reading(10, 1, 1), reading(10, 1, 2)], [], [span])
    assert store.dirty(module_id) == []
