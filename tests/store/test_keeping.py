"""Readings that are summed up and removed: whatever the cut, and however it ends, each is counted once."""

import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
from collections import Counter
from contextlib import closing

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.readings import Reading, Refusal, Span
from agent.store import Store, Summary, Tally

QUARTER_US = 900_000_000
EVER = (-(2**60), 2**60)
STATE = 3  # the signal whose numbers are words


def numbered(signal_id, value, unit):
    """As a configuration would say it: text is a word, and so is what a state sends."""
    return None if signal_id == STATE or isinstance(value, str) else (float(value), unit)


def reading(sample_us, signal_id=1, value=1.0, unit="degC", mapping_id=1):
    return Reading(sample_us, signal_id, value, unit, sample_us, mapping_id)


def summed(readings):
    """What should be told of readings, worked out with `statistics` from what was sent."""
    numbers, words = {}, Counter()
    for each in readings:
        quarter_us = each.sample_us - each.sample_us % QUARTER_US
        if numbered(each.signal_id, each.value, each.unit) is None:
            words[quarter_us, each.signal_id, each.mapping_id, each.value] += 1
        else:
            key = (quarter_us, each.signal_id, each.unit, each.mapping_id)
            numbers.setdefault(key, []).append(each.value)
    return (
        {
            key: (
                len(found),
                min(found),
                pytest.approx(statistics.fmean(found), rel=1e-9, abs=1e-9),
                max(found),
            )
            for key, found in numbers.items()
        },
        dict(words),
    )


def rows_of(query):
    return (
        {
            (at, of, unit or None, mapping): tuple(rest)
            for at, of, mapping, unit, *rest in query("SELECT * FROM summary")
        },
        {tuple(row[:4]): row[4] for row in query("SELECT * FROM tally")},
    )


def count(query):
    numbers = ("count(*) FROM reading", "total(number) FROM summary", "total(number) FROM tally")
    return sum(query(f"SELECT {number}")[0][0] for number in numbers)


values = st.one_of(st.integers(-40, 90), st.floats(-40, 90), st.sampled_from(["on", "off", "N/A"]))
received = st.builds(
    reading,
    st.integers(-2 * QUARTER_US, 5 * QUARTER_US),
    st.integers(1, 3),
    values,
    st.sampled_from(["degC", "K", None]),
    st.integers(1, 2),
)


@settings(max_examples=60, deadline=None)
@given(
    batches=st.lists(st.lists(received, max_size=40), min_size=1, max_size=5),
    steps=st.lists(st.tuples(st.integers(1, 25), st.integers(-2 * QUARTER_US, 6 * QUARTER_US)), max_size=6),
)
def test_any_cut_counts_every_reading_once_and_tells_the_same(batches, steps):
    with tempfile.TemporaryDirectory() as folder, Store.open(f"sqlite:///{folder}/s.db") as store:
        query, sent = querying(store.path), {}
        for batch in batches:  # later ones reach back behind what is removed by then
            new = {}
            for each in batch:
                if each[:2] not in sent:
                    new.setdefault(each[:2], each)
            store.add_batch(list(new.values()))
            sent |= new
            before = store.summaries([1, 2, 3], *EVER, numbered)
            for most, before_us in steps:
                store.thin(before_us, most, numbered, {})
                assert count(query) == len(sent)
                assert close(store.summaries([1, 2, 3], *EVER, numbered)) == close(before)
        while store.thin(2**62, 7, numbered, {}):
            pass
        assert query("SELECT count(*) FROM reading") == [(0,)]
        assert rows_of(query) == summed(sent.values())


def close(found):
    """With means to a billionth: they are added up in another order."""
    summaries, tallies = found
    return [each._replace(mean=round(each.mean, 9) + 0.0) for each in summaries], sorted(tallies, key=repr)


def querying(path):
    def query(statement):
        with closing(sqlite3.connect(path)) as connection:
            return connection.execute(statement).fetchall()

    return query


def test_what_is_told_of_a_quarter(store):
    at = 10 * QUARTER_US
    store.add_batch(
        [
            *(reading(at + i, value=value) for i, value in enumerate([2.0, 5, -1.0])),
            reading(at + 3, value=300.0, unit="K"),
            reading(at + 4, value="N/A", unit=None),
            reading(at + QUARTER_US, value=7.0),
            *(reading(at + i, STATE, value, None) for i, value in enumerate([1, 1, 0, "auto"])),
        ]
    )
    for _ in range(2):  # while all is kept, and when a part is not
        numbers, words = store.summaries([1, STATE], at, at + QUARTER_US - 1, numbered)
        assert numbers == [
            Summary(at, 1, "K", 1, 300.0, 300.0, 300.0),
            Summary(at, 1, "degC", 3, -1.0, 2.0, 5.0),
        ]
        assert sorted(words, key=repr) == sorted(
            [
                Tally(at, STATE, 1, 2),
                Tally(at, STATE, 0, 1),
                Tally(at, STATE, "auto", 1),
                Tally(at, 1, "N/A", 1),
            ],
            key=repr,
        )
        assert store.thin(at + QUARTER_US, 5, numbered, {}) in (5, 4)
    assert store.summaries([1], at + 1, at + 2 * QUARTER_US, numbered)[0] == [
        Summary(at + QUARTER_US, 1, "degC", 1, 7.0, 7.0, 7.0)
    ]


def test_readings_that_a_mended_mapping_moves_count_as_the_other_signals(store):
    store.add_batch([reading(5, 1, 4.0, mapping_id=1), reading(6, 1, 8.0, mapping_id=2)])
    for _ in range(2):
        assert store.summaries([2], *EVER, numbered, {1: {1: 2}})[0] == [
            Summary(0, 2, "degC", 1, 4.0, 4.0, 4.0)
        ]
        assert store.summaries([1], *EVER, numbered, {1: {1: None}})[0] == [
            Summary(0, 1, "degC", 1, 8.0, 8.0, 8.0)
        ]
        store.thin(2**62, 100, numbered, {})


def test_since_when_all_is_kept(store):
    assert (store.kept_from_us(), store.reading_ends_us()) == (None, None)
    store.add_batch([reading(at) for at in (5, QUARTER_US + 5, QUARTER_US + 6, 9 * QUARTER_US)])
    assert (store.kept_from_us(), store.reading_ends_us()) == (None, (5, 9 * QUARTER_US))
    assert store.thin(3 * QUARTER_US, 2, numbered, {}) == 2
    assert store.kept_from_us() == 2 * QUARTER_US  # the quarter that is gone in part is not kept
    assert store.first_sample_us([1]) == 9 * QUARTER_US
    store.add_batch([reading(7)])  # late: its time is not kept any more
    assert store.first_sample_us([1]) == 9 * QUARTER_US
    assert store.thin(3 * QUARTER_US, 100, numbered, {}) == 2
    assert store.kept_from_us() == 2 * QUARTER_US
    assert store.summaries([1], 0, 0, numbered)[0] == [Summary(0, 1, "degC", 2, 1.0, 1.0, 1.0)]


def test_what_a_dirty_span_may_be_assessed_from_stays(store, module_id):
    reach = {module_id: QUARTER_US}
    sent = [reading(at) for at in range(0, 10 * QUARTER_US, QUARTER_US // 10)]
    store.add_batch(sent, [], [Span(module_id, 7 * QUARTER_US - 5, 7 * QUARTER_US)])
    assert store.thin(9 * QUARTER_US, 1000, numbered, reach) == 50
    assert store.kept_from_us() == 5 * QUARTER_US
    assert store.thin(9 * QUARTER_US, 1000, numbered, reach) == 0
    assert store.thin(9 * QUARTER_US, 3, numbered, {module_id + 1: QUARTER_US}) == 3  # of no other module
    ((dirty_id, _),) = store.dirty(module_id)
    revision = store.open_revision(module_id, "{}", "", 0)
    store.finish(module_id, revision.id, [], cleared=[(dirty_id, None)])
    assert store.thin(9 * QUARTER_US, 1000, numbered, reach) == 37
    store.add_batch([reading(5)], [], [Span(module_id, 5, 5)])
    assert (
        store.thin(10 * QUARTER_US, 1000, numbered, reach) == 11
    )  # nothing is kept of the time of that span


def test_conflicts_and_refusals_stay_as_long(store, rows):
    refusals = [Refusal(at * QUARTER_US, "plant/x", "not-json", "is no JSON", b"{") for at in range(5)]
    for value in (1.0, 2.0, 3.0):
        store.add_batch([reading(at * QUARTER_US, value=value) for at in range(5)])
    store.add_batch([], refusals)
    assert rows("SELECT count(*) FROM conflict") == [(10,)]
    before_us = 4 * QUARTER_US
    assert store.thin(before_us, 3, numbered, {}) == 9
    while store.thin(before_us, 3, numbered, {}):
        pass
    assert rows("SELECT DISTINCT sample_us FROM conflict") == [(before_us,)]
    assert rows("SELECT DISTINCT arrival_us FROM refused") == [(before_us,)]
    assert rows("SELECT sample_us FROM reading") == [(before_us,)]


def test_killed_at_any_moment_it_loses_and_doubles_nothing(url, store, rows):
    chance = random.Random(20_261_128)
    sent = [
        reading(at * 1_000_000, signal, round(chance.uniform(-40, 90), 3))
        for at in range(0, 4 * 3600, 15)
        for signal in range(1, 6)
    ]
    store.add_batch(sent)
    kills = 0
    while rows("SELECT count(*) FROM reading") != [(0,)]:
        with subprocess.Popen(
            [sys.executable, "-m", "tests.store.thinner_to_kill", url, "5"], stdout=subprocess.PIPE, text=True
        ) as child:
            for _ in range(chance.randrange(1, 400)):
                child.stdout.readline()
            child.kill()
        kills += child.returncode != 0
        assert count(rows) == len(sent)
    assert kills >= 3
    assert rows_of(rows) == summed(sent)
