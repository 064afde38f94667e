"""What becomes of a message: readings, refusals by reason, and the stretches of time they touch."""

import calendar
import random
from collections import Counter
from zoneinfo import ZoneInfo

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.intake import pointmap, refusals
from agent.intake.inbox import Message
from agent.intake.pointmap import Decoded, Point, PointMap
from agent.intake.stamps import Stamps
from agent.readings import Reading, Span
from agent.settings import Payload

NOW_US = 1_700_000_000_000_000
TOPIC = "plant/roof/m1"
JSON, BARE = "plant/roof/m3", "plant/roof/m4"
POINTS = {
    (TOPIC, "suction_pipe"): Point(1, (11,)),
    (TOPIC, "mode"): Point(2, (11, 12)),
    (TOPIC, "bypass_valve"): Point(3, (11,)),
    ("plant/roof/m2", "suction_pipe"): Point(4, (12,)),
    (TOPIC, "liquid_pipe"): Point(5, (11,), units=("Cel", "degC", "K"), sentinels=frozenset({-999.0, "N/A"})),
    (JSON, "/pipes/liquid"): Point(6, (11,), units=("Cel", "degC", "K")),
    (JSON, "/mode"): Point(7, (11,)),
    (f"{BARE}/liquid", ""): Point(8, (11,), units=("Cel", "degC", "K")),
    (f"{BARE}/mode", ""): Point(9, (11,)),
}
PAYLOADS = {
    JSON: Payload("json", "/at"),
    f"{BARE}/liquid": Payload("scalar"),
    f"{BARE}/mode": Payload("scalar"),
}


def message(
    payload: bytes | list, topic: str = TOPIC, retain: bool = False, arrival_us: int = NOW_US
) -> Message:
    raw = payload if isinstance(payload, bytes) else orjson.dumps(payload)
    return Message(1, 1, 1, topic, raw, retain, arrival_us)


def point_map(**options: object) -> PointMap:
    return PointMap(POINTS, mapping_id=7, tolerance_us=300_000_000, payloads=PAYLOADS, **options)


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


PACK = [{"n": "suction_pipe", "v": 1, "t": 1_699_999_990}]
REFUSED = [
    (b"[]" + b" " * pointmap.PAYLOAD_BYTES, refusals.PAYLOAD_SIZE, "262146 bytes; right are at most 262144"),
    (b"12.0 degC", refusals.NOT_SENML, "SenML is a JSON array"),
    (b"", refusals.NOT_SENML, "empty"),
    (b"[" * 1025 + b"]" * 1025, refusals.NOT_SENML, "depth limit exceeded"),
    ([{"n": "mode", "v": 1}] * 10_001, refusals.RECORD_COUNT, "10001 records; right are at most 10000"),
    ([{"n": "suction_pipe", "v": "12.0"}], refusals.BAD_RECORD, "right is a JSON number"),
    (
        b'[{"n":' + b"[" * 1000 + b"]" * 1000 + b',"v":1}]',
        refusals.BAD_RECORD,
        '"n" is lists or objects too deep to show; right is a JSON string',
    ),
    ([{"n": "x" * 4097, "v": 1}], refusals.LENGTH, "4097 characters; right are at most 4096"),
    ([{"n": "mode", "vs": "x" * 4097}], refusals.LENGTH, "4097 characters; right are at most 4096"),
    ([{"n": "mode", "u": "x" * 65, "v": 1}], refusals.LENGTH, "65 characters; right are at most 64"),
    ([{"n": "suction_pipe"}], refusals.NO_VALUE, "suction_pipe has no value"),
    ([{"n": "suction_pipe", "s": 1}], refusals.NO_VALUE, "a sum over time"),
    ([{"n": "liquid_line", "v": 1}], refusals.UNMAPPED, "the record liquid_line"),
    ([{"n": "suction_pipe", "v": 1, "t": 1_700_000_301}], refusals.FUTURE, "301 s ahead"),
    ([{"n": "suction_pipe", "v": 1, "t": 1_700_000_301_000}], refusals.FUTURE, "301 s ahead"),
    ([{"n": "suction_pipe", "v": 1, "t": 1e300}], refusals.FUTURE, "s ahead"),
    ([{"n": "suction_pipe", "v": 1, "t": 978_307_199}], refusals.ANCIENT, "before 2001"),
    ([{"n": "suction_pipe", "v": 1, "t": -1e300}], refusals.ANCIENT, "before 2001"),
    ([{"n": "suction_pipe", "vd": "aGkgCg"}], refusals.DATA_VALUE, "4 bytes of data"),
    ([{"bv": 1e308, "n": "suction_pipe", "v": 1e308}], refusals.NOT_FINITE, "add up beyond"),
    ([{"n": "suction_pipe", "v": 2**63}], refusals.TOO_LARGE, "more than 64 bits"),
    ([{"bv": -(2**63), "n": "suction_pipe", "v": -1}], refusals.TOO_LARGE, "more than 64 bits"),
    ([{"n": "liquid_pipe", "vs": "warm"}], refusals.TEXT, "the text 'warm': 'warm' is no number"),
    ([{"n": "liquid_pipe", "vs": "1,234"}], refusals.TEXT, "'1,234' could be 1.234 and 1234"),
    ([{"n": "liquid_pipe", "vs": "12 kPa"}], refusals.UNIT, "'kPa'; right is one of Cel, degC, K"),
    (
        [{"n": "liquid_pipe", "vs": "12 K", "u": "Cel"}],
        refusals.UNIT,
        "text states the unit 'K' and the record",
    ),
    ([{"n": "liquid_pipe", "vs": "NaN"}], refusals.NOT_FINITE, "the text 'NaN'"),
    ([{"n": "liquid_pipe", "vs": " "}], refusals.NO_VALUE, "the text is empty"),
    ([{"n": "mode", "vs": ""}], refusals.NO_VALUE, "the text is empty"),
    ([{"n": "liquid_pipe", "vb": True}], refusals.BOOLEAN, "it holds true; right is a number"),
    ([{"n": "liquid_pipe", "v": 1, "u": "degF"}], refusals.UNIT, "'degF'; right is one of Cel, degC, K"),
]
AT = b'"at": 1699999990'
MANY_MEMBERS = b",".join(b'"%d":1' % number for number in [*range(20_000), 7])
OTHERS_REFUSED = [
    (JSON, b'{"mode": 1, "at": "\xff"}', refusals.NOT_UTF8, "byte 19 is not UTF-8"),
    (JSON, b'{"mode": 1,}', refusals.NOT_JSON, "right is a JSON object"),
    (JSON, b"", refusals.NOT_JSON, "right is a JSON object"),
    (JSON, b"[" * 2000 + b"]" * 2000, refusals.NOT_JSON, "depth limit exceeded"),
    (JSON, b"[" * 1020 + b"]" * 1020, refusals.NOT_JSON, "nested too deeply"),
    (JSON, b'{"mode": 1, "mode": 2, "at": 1699999990}', refusals.DUPLICATE_KEY, "'mode' stands twice"),
    (JSON, b'{"at": 1, "x": [{"a": 1, "a": 1}]}', refusals.DUPLICATE_KEY, "'a' stands twice"),
    (JSON, b"{%s}" % MANY_MEMBERS, refusals.DUPLICATE_KEY, "'7' stands twice"),
    (JSON, b"12.0", refusals.BAD_RECORD, "found 12.0; right is a JSON object"),
    (JSON, b"[[]]", refusals.BAD_RECORD, "sample 0: found an array; right is a JSON object"),
    (JSON, b"[" + b"{}," * 10_000 + b"{}]", refusals.RECORD_COUNT, "10001 samples; right are at most 10000"),
    (JSON, b'{"pipes": 1, "mode": {}, %b}' % AT, refusals.STRUCTURE, "/mode: found an object; right is"),
    (JSON, b'{"mode": [1], %b}' % AT, refusals.STRUCTURE, "/mode: found an array; right is a number"),
    (
        JSON,
        b'{"mode": "%b", %b}' % (b"x" * 4097, AT),
        refusals.LENGTH,
        "/mode: found a text of 4097 characters",
    ),
    (JSON, b'{"pipes": {"liquid": null}, %b}' % AT, refusals.TEXT, "/pipes/liquid: it holds the text 'null'"),
    (JSON, b'{"pipes": {"liquid": "1e999"}, %b}' % AT, refusals.NOT_FINITE, "beyond what a number can hold"),
    (JSON, b'{"mode": 1}', refusals.BAD_TIME, "no time at /at; right is seconds or milliseconds since 1970"),
    (JSON, b'{"mode": 1, "at": null}', refusals.BAD_TIME, "no time at /at"),
    (JSON, b'{"mode": 1, "at": true}', refusals.BAD_TIME, "what stands at /at is no time"),
    (JSON, b'{"mode": 1, "at": {"s": 1}}', refusals.BAD_TIME, "what stands at /at is no time"),
    (JSON, b'{"mode": 1, "at": "noon"}', refusals.BAD_TIME, "'noon' at /at is no time"),
    (JSON, b'{"mode": 1, "at": "2023-11-14"}', refusals.BAD_TIME, "'2023-11-14' at /at is no time"),
    (JSON, b'{"mode": 1, "at": "2023-11-15T22:13:20Z"}', refusals.FUTURE, "86400 s ahead"),
    (JSON, b'{"mode": 1, "at": 0}', refusals.ANCIENT, "before 2001"),
    (JSON, b'{"other/one": 1, %b}' % AT, refusals.UNMAPPED, "the record /"),
    (f"{BARE}/liquid", b"\xff\xfe", refusals.NOT_UTF8, "byte 0 is not UTF-8"),
    (f"{BARE}/liquid", b"", refusals.NO_VALUE, "the text is empty"),
    (f"{BARE}/mode", b" \n", refusals.NO_VALUE, "the text is empty"),
    (f"{BARE}/liquid", b'""', refusals.NO_VALUE, "the text is empty"),
    (f"{BARE}/liquid", b"NaN", refusals.NOT_FINITE, "the text 'NaN'"),
    (f"{BARE}/liquid", b"-inf", refusals.NOT_FINITE, "the text '-inf'"),
    (f"{BARE}/liquid", b"true", refusals.BOOLEAN, "it holds true"),
    (f"{BARE}/liquid", b"null", refusals.TEXT, "the text 'null'"),
    (
        f"{BARE}/liquid",
        b"12.0 barg",
        refusals.UNIT,
        "'barg'; right is one of Cel, degC, K. Whether a pressure",
    ),
    (f"{BARE}/liquid", b'{"value": 12.0}', refusals.STRUCTURE, "found an object; right is a number"),
    (f"{BARE}/liquid", b"[12.0]", refusals.STRUCTURE, "found an array"),
    (f"{BARE}/mode", b"x" * 4097, refusals.LENGTH, "4097 characters; right are at most 4096"),
    (f"{BARE}/mode", b"x" * 20_000, refusals.LENGTH, "20000 bytes; right is a value of at most 4096"),
    (f"{BARE}/mode", b"x" * 300_000, refusals.PAYLOAD_SIZE, "300000 bytes; right are at most 262144"),
    (f"{BARE}/other", b"12.0", refusals.UNMAPPED, "a payload on a topic that no signal is mapped to; map it"),
]


@pytest.mark.parametrize(
    ("payload", "reason", "detail"), REFUSED, ids=[f"{r}-{d[:20]}" for _, r, d in REFUSED]
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


@pytest.mark.parametrize(
    ("topic", "payload", "reason", "detail"),
    OTHERS_REFUSED,
    ids=[f"{r}-{p[:20]!r}" for _, p, r, _ in OTHERS_REFUSED],
)
def test_what_cannot_be_used_of_other_payloads(topic: str, payload: bytes, reason: str, detail: str) -> None:
    decoded = read(payload, topic)
    assert (decoded.readings, decoded.spans) == ([], [])
    assert decoded.counts[reason] == decoded.counts.total() == len(decoded.refusals)
    refusal = decoded.refusals[0]
    assert (refusal.reason, refusal.topic) == (reason, topic)
    assert detail in refusal.detail


def test_each_reason_is_met_here_and_there_is_no_other() -> None:
    met = (
        {reason for _, reason, _ in REFUSED}
        | {reason for _, _, reason, _ in OTHERS_REFUSED}
        | {refusals.RETAINED_WITHOUT_TIME, refusals.NO_SUCH_TIME}
    )
    assert met == set(refusals.REASONS)
    assert len(set(refusals.REASONS)) == len(refusals.REASONS)


@pytest.mark.parametrize(
    "text", ["12.0", " 12 ", "12,0", "12.0 degC", "12 °C", "285.15 K", "-999", "N/A", " N/A"]
)
def test_text_that_can_be_a_value_or_says_that_there_is_none_is_kept_as_received(text: str) -> None:
    (reading,) = read([{"n": "liquid_pipe", "vs": text}]).readings
    assert (reading.value, reading.unit) == (text, None)


def test_a_number_that_is_a_sentinel_is_kept_as_received() -> None:
    (reading,) = read([{"n": "liquid_pipe", "v": -999, "u": "Cel"}]).readings
    assert (reading.value, reading.unit) == (-999, "Cel")


def test_an_object_is_read_by_its_points() -> None:
    decoded = read(b'{"at": 1699999990.5, "pipes": {"liquid": "12.0 degC", "gas": 3}, "mode": false}', JSON)
    assert decoded.readings == [
        Reading(1_699_999_990_500_000, 6, "12.0 degC", None, NOW_US, 7),
        Reading(1_699_999_990_500_000, 7, 0, None, NOW_US, 7),
    ]
    assert decoded.counts == Counter()
    assert decoded.spans == [Span(11, 1_699_999_990_500_000, 1_699_999_990_500_000)]


def test_a_part_of_an_object_is_no_mistake_and_a_wrong_one_takes_no_other_with_it() -> None:
    decoded = read(b'{"at": 1699999990, "mode": 1}', JSON)
    assert [reading.signal_id for reading in decoded.readings] == [7]
    decoded = read(b'{"at": 1699999990, "mode": {}, "pipes": {"liquid": 12}}', JSON)
    assert [reading.signal_id for reading in decoded.readings] == [6]
    assert decoded.counts == Counter({refusals.STRUCTURE: 1})


def test_each_object_of_an_array_is_a_sample() -> None:
    samples = [
        {"at": 1_699_999_980, "mode": 1},
        {"at": "soon", "mode": 2},
        5,
        {"at": 1_699_999_990_000, "mode": "cooling"},
    ]
    decoded = read(samples, JSON)
    assert [(reading.sample_us, reading.value) for reading in decoded.readings] == [
        (1_699_999_980_000_000, 1),
        (1_699_999_990_000_000, "cooling"),
    ]
    assert decoded.counts == Counter({refusals.BAD_TIME: 1, refusals.BAD_RECORD: 1})
    assert [refusal.detail.partition(":")[0] for refusal in decoded.refusals] == ["sample 1", "sample 2"]


def test_the_members_of_an_object_in_which_nothing_is_mapped_are_named() -> None:
    decoded = read(b'{"at": 1699999990, "a/b": 1, "c~d": {}}', JSON)
    assert decoded.unmapped == [(JSON, "/a~1b"), (JSON, "/c~0d")]
    assert read(b"{}", JSON).counts == Counter()


@pytest.mark.parametrize(
    ("at", "sample_us"),
    [
        (1_699_999_990, 1_699_999_990_000_000),
        (1_699_999_990_123, 1_699_999_990_123_000),
        ("1699999990", 1_699_999_990_000_000),
        (" 1699999990123.5 ", 1_699_999_990_123_500),
        ("2023-11-14T22:13:10Z", 1_699_999_990_000_000),
        ("2023-11-14t22:13:10.25z", 1_699_999_990_250_000),
        ("2023-11-14 23:13:10+01:00", 1_699_999_990_000_000),
        ("20231114T221310", 1_699_999_990_000_000),
    ],
)
def test_the_time_of_a_sample(at: object, sample_us: int) -> None:
    points = point_map()
    (reading,) = points.read(message(orjson.dumps({"mode": 1, "at": at}), JSON)).readings
    assert reading.sample_us == sample_us
    assert JSON in points.offsets()


# Winter time in Berlin is one hour ahead of UTC.
@pytest.mark.parametrize(
    "at", ["2023-11-14T23:13:10", 1_700_003_590, "1700003590000", "2023-11-14T22:13:10Z"]
)
def test_a_time_without_an_offset_is_of_the_zone_of_its_topic(at: object) -> None:
    points = point_map(stamps={JSON: Stamps(ZoneInfo("Europe/Berlin"))})
    (reading,) = points.read(message(orjson.dumps({"mode": 1, "at": at}), JSON)).readings
    assert reading.sample_us == 1_699_999_990_000_000


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        (b"12", 12),
        (b" 12.5\n", 12.5),
        (b"-999", -999),
        (b'"12.5"', "12.5"),
        (b"12.0 degC", "12.0 degC"),
        ("12,5 °C".encode(), "12,5 °C"),
        (b"+12", "+12"),
        (b"007", "007"),
    ],
)
def test_a_bare_value_of_a_measured_quantity(payload: bytes, value: object) -> None:
    (reading,) = read(payload, f"{BARE}/liquid").readings
    assert reading == Reading(NOW_US, 8, value, None, NOW_US, 7)
    assert type(reading.value) is type(value)


@pytest.mark.parametrize(
    ("payload", "value"),
    [(b"true", 1), (b"false", 0), (b"1", 1), (b"on", "on"), (b'"on"', "on"), (b"null", "null")],
)
def test_a_bare_value_of_a_state(payload: bytes, value: object) -> None:
    decoded = read(payload, f"{BARE}/mode")
    assert [reading.value for reading in decoded.readings] == [value]
    assert decoded.spans == [Span(11, NOW_US, NOW_US)]


def test_a_retained_bare_value_is_refused_for_nobody_knows_how_old_it_is() -> None:
    decoded = read(b"12.0", f"{BARE}/liquid", retain=True)
    assert decoded.counts == Counter({refusals.RETAINED_WITHOUT_TIME: 1})


def test_what_is_just_within_the_limits_is_read() -> None:
    assert len(read([{"n": "mode", "v": 1}] * 10_000).readings) == 10_000
    padded = orjson.dumps(PACK) + b" " * (pointmap.PAYLOAD_BYTES - len(orjson.dumps(PACK)))
    assert len(read(padded).readings) == 1
    assert len(read([{"n": "mode", "vs": "x" * 4096, "u": "x" * 64}]).readings) == 1
    deep = b'[{"n":"mode","v":1,"other":' + b"[" * 1022 + b"]" * 1022 + b"}]"
    assert len(read(deep).readings) == 1


def test_a_long_base_is_refused_and_not_repeated_in_each_record() -> None:
    """10,000 records under a base name of 200 kB would be 2 GB."""
    pack = [{"bn": "x" * 200_000, "n": "a", "v": 1}, {"n": "b", "v": 1}, {"bn": "", "n": "mode", "v": 1}]
    decoded = read(pack)
    assert decoded.counts == Counter({refusals.LENGTH: 1, refusals.BAD_RECORD: 1})
    assert len(decoded.readings) == 1
    assert all(len(refusal.detail) < 200 for refusal in decoded.refusals)


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
    assert decoded.counts == Counter({refusals.FUTURE: 1})


@pytest.mark.parametrize("stated", [{}, {"t": 0}, {"t": -5}])
def test_a_retained_message_without_an_absolute_time_is_refused(stated: dict) -> None:
    decoded = read([{"n": "suction_pipe", "v": 1, **stated}], retain=True)
    assert decoded.counts == Counter({refusals.RETAINED_WITHOUT_TIME: 1})
    assert decoded.readings == []


def test_a_retained_message_with_a_time_is_a_reading_of_that_time() -> None:
    (reading,) = read([{"n": "suction_pipe", "v": 1, "t": 1_699_990_000}], retain=True).readings
    assert reading.sample_us == 1_699_990_000_000_000


def test_a_retained_message_is_not_fresh() -> None:
    assert read(PACK).fresh
    assert not read(PACK, retain=True).fresh
    assert not read(b"12.0 degC", retain=True).fresh


def test_milliseconds_are_read_as_such() -> None:
    for payload in (
        [{"bt": 1_699_999_990_123, "n": "mode", "v": 1}],
        [{"n": "mode", "v": 1, "t": 1.699999990123e12}],
    ):
        (reading,) = read(payload).readings
        assert reading.sample_us == 1_699_999_990_123_000


# Winter time in Berlin is one hour ahead of UTC: the stamps of 2023-11-14 are 3,600 s too large.
def test_wall_time_is_read_by_the_zone_of_its_topic() -> None:
    stamped = [{"n": "suction_pipe", "v": 1, "t": 1_700_003_590}]
    points = point_map(stamps={TOPIC: Stamps(ZoneInfo("Europe/Berlin"))})
    (reading,) = points.read(message(stamped)).readings
    assert reading.sample_us == 1_699_999_990_000_000
    elsewhere = points.read(message(stamped, topic="plant/roof/m2"))
    assert elsewhere.counts == Counter({refusals.FUTURE: 1})


@pytest.mark.parametrize("stated", [{}, {"t": 0}, {"t": -5}])
def test_a_time_that_counts_from_now_has_no_zone(stated: dict) -> None:
    points = point_map(stamps={TOPIC: Stamps(ZoneInfo("Europe/Berlin"))})
    (reading,) = points.read(message([{"n": "suction_pipe", "v": 1, **stated}])).readings
    assert reading.sample_us == NOW_US + stated.get("t", 0) * 1_000_000


def test_a_time_in_the_hour_left_out_is_refused() -> None:
    """02:30 on 2026-03-29, when the clocks of Berlin went from 02:00 to 03:00."""
    stamp_s = calendar.timegm((2026, 3, 29, 2, 30, 0))
    points = point_map(stamps={TOPIC: Stamps(ZoneInfo("Europe/Berlin"))})
    pack = [{"n": "suction_pipe", "v": 1, "t": stamp_s}, {"n": "mode", "v": 1, "t": stamp_s - 3600}]
    decoded = points.read(message(pack, arrival_us=stamp_s * 1_000_000))
    assert decoded.counts == Counter({refusals.NO_SUCH_TIME: 1})
    assert "2026-03-29 02:30 does not exist in Europe/Berlin" in decoded.refusals[0].detail
    assert [reading.sample_us for reading in decoded.readings] == [(stamp_s - 7200) * 1_000_000]


def test_how_far_each_source_s_clock_is_off() -> None:
    points = point_map()
    assert points.offsets() == {}
    for second in range(0, 300, 30):
        slow = [{"n": "suction_pipe", "v": 1, "t": 1_700_000_000 + second - 95 - age} for age in (0, 3_000)]
        fast = [{"bt": 1_700_000_000 + second + 60, "n": "suction_pipe", "v": 1}]
        arrival_us = NOW_US + second * 1_000_000
        points.read(message(slow, arrival_us=arrival_us))
        points.read(message(fast, topic="plant/roof/m2", arrival_us=arrival_us))
    assert points.offsets() == {TOPIC: 95_000_000, "plant/roof/m2": -60_000_000}


def test_a_clock_an_hour_ahead_is_known_though_its_readings_are_refused() -> None:
    points = point_map()
    decoded = points.read(message([{"n": "mode", "v": 1, "t": 1_700_003_600}]))
    assert decoded.counts == Counter({refusals.FUTURE: 1})
    assert points.offsets() == {TOPIC: -3_600_000_000}


@pytest.mark.parametrize(
    ("record", "retain"),
    [
        ({"n": "mode", "v": 1}, False),
        ({"n": "mode", "v": 1, "t": -5}, False),
        ({"n": "mode", "v": 1, "t": 1_700_000_000}, True),
        ({"n": "liquid_line", "v": 1, "t": 1_700_000_000}, False),
        ({"n": "mode", "v": 1, "t": 4e9}, False),  # a number, and no time
    ],
)
def test_what_says_nothing_of_the_source_s_clock(record: dict, retain: bool) -> None:
    points = point_map()
    points.read(message([record], retain=retain))
    assert points.offsets() == {}


def test_the_payloads_head_is_kept() -> None:
    (refusal,) = read(b"\xff" + bytes(range(256)) * 4).refusals
    assert refusal.head == b"\xff" + bytes(range(255))


def test_an_unmapped_name_is_kept_once_and_counted_always() -> None:
    points = point_map()
    stranger = message([{"n": "liquid_line", "v": 1}, {"n": "suction_pipe", "v": 2}])
    first, second = points.read(stranger), points.read(stranger)
    assert len(first.refusals) == 1
    assert second.refusals == []
    assert first.counts == second.counts == Counter({refusals.UNMAPPED: 1})
    assert first.unmapped == second.unmapped == [(TOPIC, "liquid_line")]
    assert len(second.readings) == 1


def test_a_topic_nobody_mapped_is_unmapped_whatever_it_carries() -> None:
    decoded = read(b"on", topic="lift/door")
    assert decoded.counts == Counter({refusals.UNMAPPED: 1})
    assert decoded.unmapped == [("lift/door", "")]


def test_only_so_many_unmapped_names_are_kept() -> None:
    points = point_map(kept_per_minute=10_000)
    kept = counted = 0
    for number in range(refusals.UNMAPPED_KEPT + 50):
        decoded = points.read(message([{"n": f"x{number}", "v": 1}]))
        kept += len(decoded.refusals)
        counted += decoded.counts[refusals.UNMAPPED]
    assert (kept, counted) == (refusals.UNMAPPED_KEPT, refusals.UNMAPPED_KEPT + 50)


def test_a_flood_of_refusals_is_counted_and_a_few_a_minute_are_kept() -> None:
    points = point_map(kept_per_minute=5)
    pack = [{"n": "suction_pipe", "v": "wrong"}] * 3 + [{"n": "stranger", "v": 1}]
    first = NOW_US - NOW_US % 60_000_000
    kept, counts = [], Counter()
    for second in range(0, 180, 10):
        decoded = points.read(message(pack, arrival_us=first + second * 1_000_000))
        kept += decoded.refusals
        counts += decoded.counts
    assert counts == Counter({refusals.BAD_RECORD: 54, refusals.UNMAPPED: 18})
    assert Counter((refusal.arrival_us - first) // 60_000_000 for refusal in kept) == {0: 5, 1: 5, 2: 5}
    assert [refusal.reason for refusal in kept].count(refusals.UNMAPPED) == 1


def test_an_unmapped_name_that_found_no_room_is_kept_in_a_later_minute() -> None:
    points = point_map(kept_per_minute=1)
    pack = [{"n": "suction_pipe", "v": "wrong"}, {"n": "stranger", "v": 1}]
    assert [r.reason for r in points.read(message(pack)).refusals] == [refusals.BAD_RECORD]
    later = points.read(message(pack[1:], arrival_us=NOW_US + 60_000_000))
    assert [r.reason for r in later.refusals] == [refusals.UNMAPPED]


def test_a_refusal_is_of_bounded_size() -> None:
    (refusal,) = read([{"n": "x" * 4096}], topic="y" * 60_000).refusals
    assert (len(refusal.topic), len(refusal.detail), len(refusal.head)) == (512, 512, 256)


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
