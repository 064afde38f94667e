"""What a pack may hold that is not right, and that nothing else is lost with it."""

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.intake import senml
from agent.intake.senml import PayloadError, resolve

NOW_US = 1_700_000_000_000_000


@pytest.mark.parametrize(
    ("payload", "reason", "detail"),
    [
        (b'[{"n":"caf\xe9","v":1}]', senml.NOT_UTF8, "byte 10 is not UTF-8"),
        (b"", senml.NOT_JSON, "SenML is a JSON array"),
        (b"12.0 degC", senml.NOT_JSON, "SenML is a JSON array"),
        (b'[{"n":"a","v":NaN}]', senml.NOT_JSON, "SenML is a JSON array"),
        (b'[{"n":"a","v":1e999}]', senml.NOT_JSON, "infinity"),
        (b"[" * 100_000, senml.NOT_JSON, "SenML is a JSON array"),
        (b'{"n":"a","v":1}', senml.NOT_A_PACK, "a JSON array of records, also for a single one"),
        (b"12.0", senml.NOT_A_PACK, "found 12.0"),
        (b'[{"n":"a","v":1},{"bver":11}]', senml.VERSION, '"bver" is 11'),
        (b'[{"bver":"10","n":"a","v":1}]', senml.VERSION, "a whole number"),
        (b'[{"bver":0,"n":"a","v":1}]', senml.VERSION, "a whole number"),
        (b'[{"bver":1.5,"n":"a","v":1}]', senml.VERSION, "a whole number"),
        (b'[{"bver":true,"n":"a","v":1}]', senml.VERSION, "a whole number"),
        (b'[{"bver":5,"n":"a","v":1},{"bver":10}]', senml.VERSION, "a pack has one version"),
    ],
)
def test_an_unusable_pack(payload: bytes, reason: str, detail: str) -> None:
    with pytest.raises(PayloadError) as caught:
        resolve(payload, NOW_US)
    assert caught.value.reason == reason
    assert detail in caught.value.detail


@pytest.mark.parametrize(
    ("record", "reason", "detail"),
    [
        ("null", senml.NOT_A_RECORD, "found null"),
        ('["n","a"]', senml.NOT_A_RECORD, "a record is a JSON object"),
        ('{"n":"a","v":"12.0 degC"}', senml.WRONG_TYPE, '"v" is "12.0 degC"; right is a JSON number'),
        ('{"n":"a","v":true}', senml.WRONG_TYPE, '"v" is true; right is a JSON number'),
        ('{"n":"a","v":null}', senml.WRONG_TYPE, '"v" is null'),
        ('{"n":"a","vb":1}', senml.WRONG_TYPE, "right is true or false"),
        ('{"n":7,"v":1}', senml.WRONG_TYPE, '"n" is 7; right is a JSON string'),
        ('{"n":"a","t":"2026-01-01","v":1}', senml.WRONG_TYPE, '"t" is "2026-01-01"'),
        ('{"n":"a","v":1,"key_":1}', senml.MUST_UNDERSTAND, '"key_"'),
        ('{"v":1}', senml.NAME, 'is ""'),
        ('{"n":"-a","v":1}', senml.NAME, 'is "-a"'),
        ('{"n":"suction temp","v":1}', senml.NAME, 'is "suction temp"'),
        ('{"n":"a\\n","v":1}', senml.NAME, "right is a letter or digit"),
        ('{"n":"t\u00e9mp","v":1}', senml.NAME, "right is a letter or digit"),
        ('{"n":"a"}', senml.NO_VALUE, "a has no value"),
        ("{}", senml.NAME, 'is ""'),
        ('{"n":"a","v":1,"vs":"1"}', senml.SEVERAL_VALUES, "a has v, vs"),
        ('{"n":"a","vd":"a+/b"}', senml.NOT_BASE64, "URL-safe"),
        ('{"n":"a","vd":"aGkgC"}', senml.NOT_BASE64, "aGkgC"),
    ],
)
def test_an_unusable_record_takes_no_other_with_it(record: str, reason: str, detail: str) -> None:
    pack = f'[{{"n":"before","v":1}},{record},{{"n":"after","v":2}}]'
    records, errors = resolve(pack.encode(), NOW_US)
    assert [(r.name, r.value) for r in records] == [("before", 1), ("after", 2)]
    (error,) = errors
    assert (error.position, error.reason) == (1, reason)
    assert error.detail.startswith("record 1: ")
    assert detail in error.detail


def test_a_broken_base_field_spoils_what_depends_on_it_until_it_is_stated_again() -> None:
    pack = b"""[
      {"bn":"m:","bt":1700000000,"n":"a","v":1},
      {"bt":"soon","n":"a","v":2},
      {"n":"b","v":3},
      {"bt":1700000060,"n":"b","v":4}
    ]"""
    records, errors = resolve(pack, NOW_US)
    assert [(r.name, r.value, r.time_us) for r in records] == [
        ("m:a", 1, 1_700_000_000_000_000),
        ("m:b", 4, 1_700_000_060_000_000),
    ]
    assert [(e.position, e.reason) for e in errors] == [(1, senml.WRONG_TYPE), (2, senml.BASE)]
    assert '"bt" of record 1' in errors[1].detail


def test_a_base_field_that_has_to_be_understood_spoils_all_that_follows() -> None:
    records, errors = resolve(b'[{"n":"a","v":1},{"bx_":1,"n":"b","v":2},{"n":"c","v":3}]', NOW_US)
    assert [record.name for record in records] == ["a"]
    assert [error.reason for error in errors] == [senml.MUST_UNDERSTAND, senml.BASE]


def test_good_base_fields_of_a_bad_record_still_hold() -> None:
    records, errors = resolve(b'[{"bn":"m:","bu":"Cel","n":"a","v":"x"},{"n":"b","v":2}]', NOW_US)
    assert [(record.name, record.unit) for record in records] == [("m:b", "Cel")]
    assert len(errors) == 1


def test_no_time_is_not_the_time_zero() -> None:
    assert resolve(b'[{"n":"a","v":1}]', NOW_US).records[0].time_us is None
    assert resolve(b'[{"n":"a","v":1,"t":0}]', NOW_US).records[0].time_us == NOW_US
    assert resolve(b'[{"bt":0,"n":"a","v":1}]', NOW_US).records[0].time_us == NOW_US


@given(st.integers(300_000_000, 4_000_000_000), st.integers(0, 999_999))
def test_a_time_written_in_decimals_is_kept_to_the_microsecond(seconds: int, microseconds: int) -> None:
    pack = f'[{{"n":"a","v":1,"t":{seconds}.{microseconds:06}}}]'
    assert resolve(pack.encode(), NOW_US).records[0].time_us == seconds * 1_000_000 + microseconds


@given(st.integers(1_500_000_000, 2_000_000_000), st.integers(-3_600_000, 3_600_000))
def test_base_time_and_time_add_up_exactly(base: int, milliseconds: int) -> None:
    pack = f'[{{"bt":{base}.001,"n":"a","v":1,"t":{milliseconds / 1000!r}}}]'
    expected_us = base * 1_000_000 + 1_000 + milliseconds * 1_000
    assert resolve(pack.encode(), NOW_US).records[0].time_us == expected_us


@pytest.mark.parametrize("name", ["pipe", "", "\u00e4", "x" * 4096, 3])
@pytest.mark.parametrize("value", [12, 12.5, True, "12", None])
@pytest.mark.parametrize(
    "base",
    [
        {},
        {"bn": "unit:"},
        {"bn": 7},
        {"bt": 2**28},
        {"bt": 2**28 - 1},
        {"bt": -30},
        {"bt": "now"},
        {"bu": "Cel"},
        {"bv": 0.5},
        {"bs": 2.0},
        {"b_": 1},
    ],
)
def test_a_label_that_nobody_knows_changes_nothing(
    base: dict[str, object], value: object, name: object
) -> None:
    """RFC 8428 has it ignored unless it ends in _; a record of name and number alone is read another way."""
    plain: dict[str, object] = {"n": name, "v": value}
    for begin in ([{"bt": 1_700_000_000.6} | base], [base] if base else []):
        bare = resolve(orjson.dumps([*begin, plain]), NOW_US)
        assert bare == resolve(orjson.dumps([*begin, plain | {"note": "of the gateway"}]), NOW_US)
