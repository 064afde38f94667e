"""What becomes of a message: readings, refusals by reason, and the stretches of time they touch."""

import random
from collections import Counter

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.intake import pointmap
from agent.intake.inbox import Message
from agent.intake.pointmap import Decoded, Point, PointMap
from agent.readings import Reading, Span

NOW_US = 1_700_000_000_000_000
TOPIC = "plant/roof/m1"
POINTS = {
    (TOPIC, "suction_pipe"): Point(1, 11),
    (TOPIC, "mode"): Point(2, None, (11, 12)),
    (TOPIC, "bypass_valve"): Point(3, 11),
    ("plant/roof/m2", "suction_pipe"): Point(4, 12),
}


def message(payload: bytes | list, topic: str = TOPIC, retain: bool = False) -> Message:
    raw = payload if isinstance(payload, bytes) else orjson.dumps(payload)
    return Message(1, 1, 1, topic, raw, retain, NOW_US)


def point_map() -> PointMap:
    return PointMap(POINTS, mapping_id=7, tolerance_us=300_000_000)


def read(payload: bytes | list, topic: str = TOPIC, retain: bool = False) -> Decoded:
    return point_map().read(message(payload, topic, retain))


def test_readings_carry_value_unit_times_and_mapping() -> None:
    decoded = read(
        [
            {"bt": 1_699_999_990, "n": "suction_pipe", "u": "Cel", "v": 12.0},
            {"n": "mode", "vs": "cooling", "t": 5},
            {"n": "bypass_valve", "vb": True},
        ]
    )
    assert decoded.readings == [
        Reading(1_699_999_990_000_000, 1, 12.0, "Cel", NOW_US, 7),
        Reading(1_699_999_995_000_000, 2, "cooling", None, NOW_US, 7),
        Reading(1_699_999_990_000_000, 3, 1, None, NOW_US, 7),
    ]
    assert type(decoded.readings[2].value) is int
    assert decoded.refusals == []
    assert decoded.counts == Counter()


def test_a_shared_signal_touches_every_module_that_uses_it() -> None:
    decoded = read(
        [
            {"n": "suction_pipe", "v": 12.0, "t": 1_699_999_990},
            {"n": "suction_pipe", "v": 12.1, "t": 1_699_999_980},
            {"n": "mode", "vs": "cooling", "t": 1_699_999_995},
        ]
    )
    assert decoded.spans == [
        Span(11, 1_699_999_980_000_000, 1_699_999_995_000_000),
        Span(12, 1_699_999_995_000_000, 1_699_999_995_000_000),
    ]


def test_the_arrival_time_serves_where_the_payload_states_none() -> None:
    (reading,) = read([{"n": "suction_pipe", "v": 12.0}]).readings
    assert reading.sample_us == NOW_US


@pytest.mark.parametrize(
    ("payload", "reason", "detail"),
    [
        (b"12.0 degC", pointmap.NOT_SENML, "SenML is a JSON array"),
        (b"", pointmap.NOT_SENML, "empty"),
        ([{"n": "suction_pipe", "v": "12.0"}], pointmap.BAD_RECORD, "right is a JSON number"),
        ([{"n": "suction_pipe"}], pointmap.NO_VALUE, "suction_pipe has no value"),
        ([{"n": "suction_pipe", "s": 1}], pointmap.NO_VALUE, "a sum over time"),
        ([{"n": "liquid_line", "v": 1}], pointmap.UNMAPPED, "the record liquid_line"),
        ([{"n": "suction_pipe", "v": 1, "t": 1_700_000_301}], pointmap.FUTURE, "301 s ahead"),
        ([{"n": "suction_pipe", "v": 1, "t": 1_700_000_000_000}], pointmap.FUTURE, "milliseconds"),
        ([{"n": "suction_pipe", "v": 1, "t": 978_307_199}], pointmap.ANCIENT, "before 2001"),
        ([{"n": "suction_pipe", "v": 1, "t": -1e300}], pointmap.ANCIENT, "before 2001"),
        ([{"n": "suction_pipe", "vd": "aGkgCg"}], pointmap.DATA_VALUE, "4 bytes of data"),
        ([{"bv": 1e308, "n": "suction_pipe", "v": 1e308}], pointmap.NOT_FINITE, "add up beyond"),
        ([{"n": "suction_pipe", "v": 2**63}], pointmap.TOO_LARGE, "more than 64 bits"),
        ([{"bv": -(2**63), "n": "suction_pipe", "v": -1}], pointmap.TOO_LARGE, "more than 64 bits"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_reason(
    payload: bytes | list, reason: str, detail: str
) -> None:
    decoded = read(payload)
    assert (decoded.readings, decoded.spans) == ([], [])
    (refusal,) = decoded.refusals
    assert (refusal.reason, refusal.topic, refusal.arrival_us) == (reason, TOPIC, NOW_US)
    assert detail in refusal.detail
    assert decoded.counts == Counter({reason: 1})
    assert reason in pointmap.REASONS


def test_the_edges_of_time_and_size_are_still_readings() -> None:
    decoded = read(
        [
            {"n": "suction_pipe", "v": 2**63 - 1, "t": 1_700_000_300},
            {"n": "suction_pipe", "v": -(2**63), "t": 978_307_200},
        ]
    )
    assert [reading.value for reading in decoded.readings] == [2**63 - 1, -(2**63)]


def test_a_refused_time_advances_nothing() -> None:
    decoded = read(
        [{"n": "suction_pipe", "v": 1, "t": 1_699_999_990}, {"n": "suction_pipe", "v": 1, "t": 1_800_000_000}]
    )
    assert decoded.spans == [Span(11, 1_699_999_990_000_000, 1_699_999_990_000_000)]
    assert decoded.counts == Counter({pointmap.FUTURE: 1})


@pytest.mark.parametrize("stated", [{}, {"t": 0}, {"t": -5}])
def test_a_retained_message_without_an_absolute_time_is_refused(stated: dict) -> None:
    decoded = read([{"n": "suction_pipe", "v": 1, **stated}], retain=True)
    assert decoded.counts == Counter({pointmap.RETAINED_WITHOUT_TIME: 1})
    assert decoded.readings == []


def test_a_retained_message_with_a_time_is_a_reading_of_that_time() -> None:
    (reading,) = read([{"n": "suction_pipe", "v": 1, "t": 1_699_990_000}], retain=True).readings
    assert reading.sample_us == 1_699_990_000_000_000


def test_the_payloads_head_is_kept() -> None:
    (refusal,) = read(b"\xff" + bytes(range(256)) * 4).refusals
    assert refusal.head == b"\xff" + bytes(range(255))


def test_an_unmapped_name_is_kept_once_and_counted_always() -> None:
    points = point_map()
    stranger = message([{"n": "liquid_line", "v": 1}, {"n": "suction_pipe", "v": 2}])
    first, second = points.read(stranger), points.read(stranger)
    assert len(first.refusals) == 1
    assert second.refusals == []
    assert first.counts == second.counts == Counter({pointmap.UNMAPPED: 1})
    assert first.unmapped == second.unmapped == [(TOPIC, "liquid_line")]
    assert len(second.readings) == 1


def test_a_topic_nobody_mapped_is_unmapped_whatever_it_carries() -> None:
    decoded = read(b"on", topic="lift/door")
    assert decoded.counts == Counter({pointmap.UNMAPPED: 1})
    assert decoded.unmapped == [("lift/door", "")]


def test_only_so_many_unmapped_names_are_kept() -> None:
    points = point_map()
    kept = counted = 0
    for number in range(pointmap.UNMAPPED_KEPT + 50):
        decoded = points.read(message([{"n": f"x{number}", "v": 1}]))
        kept += len(decoded.refusals)
        counted += decoded.counts[pointmap.UNMAPPED]
    assert (kept, counted) == (pointmap.UNMAPPED_KEPT, pointmap.UNMAPPED_KEPT + 50)


RECORDS = st.lists(
    st.fixed_dictionaries(
        {
            "n": st.sampled_from(["suction_pipe", "mode", "bypass_valve", "liquid_line"]),
            "v": st.integers(-100, 100) | st.floats(-100, 100),
            "t": st.integers(1_690_000_000, 1_700_001_000),
        }
    ),
    min_size=1,
    max_size=12,
)


@given(RECORDS, st.integers(0, 2**32))
def test_shuffled_and_duplicated_records_give_the_same_readings(records: list[dict], seed: int) -> None:
    chance = random.Random(seed)
    again = records + chance.choices(records, k=len(records))
    chance.shuffle(again)
    first, second = read(records), read(again)
    assert set(first.readings) == set(second.readings)
    assert set(first.spans) == set(second.spans)


@given(st.binary() | RECORDS.map(orjson.dumps), st.booleans())
def test_read_never_raises_and_counts_each_refusal(payload: bytes, retain: bool) -> None:
    decoded = read(payload, retain=retain)
    assert set(decoded.counts) <= set(pointmap.REASONS)
    assert sum(decoded.counts.values()) >= len(decoded.refusals)
