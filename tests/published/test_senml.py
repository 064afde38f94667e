"""The worked examples of RFC 8428, Sensor Measurement Lists (August 2018), each by its section.

The packs of section 5.1 and their resolved forms are quoted from the RFC; where it prints no resolved form,
the expected one follows its text, which the test's docstring names.
"""

import json

import pytest

from agent.intake.senml import VERSION, PayloadError, Record, resolve

NOW_US = 1_700_000_000_000_000
DEVICE = "urn:dev:ow:10e2073a01080063"


def resolved(pack: str) -> list[Record]:
    records, errors = resolve(pack.encode(), NOW_US)
    assert errors == []
    return records


def brief(pack: str) -> list[tuple]:
    return [(r.name, r.unit, r.value, r.time_us) for r in resolved(pack)]


def test_5_1_1_single_data_point() -> None:
    assert brief('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]') == [(DEVICE, "Cel", 23.1, None)]


def test_5_1_2_multiple_data_points() -> None:
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
      {"n":"current","u":"A","v":1.2}
    ]"""
    assert brief(pack) == [(f"{DEVICE}:voltage", "V", 120.1, None), (f"{DEVICE}:current", "A", 1.2, None)]


def test_5_1_2_multiple_data_points_with_times() -> None:
    """Current at Tue Jun 8 18:01:16.001 UTC 2010 and at each second for the previous 5 seconds."""
    pack = """[
      {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,
       "bu":"A","bver":5,
       "n":"voltage","u":"V","v":120.1},
      {"n":"current","t":-5,"v":1.2},
      {"n":"current","t":-4,"v":1.3},
      {"n":"current","t":-3,"v":1.4},
      {"n":"current","t":-2,"v":1.5},
      {"n":"current","t":-1,"v":1.6},
      {"n":"current","v":1.7}
    ]"""
    last_us = 1_276_020_076_001_000
    device = "urn:dev:ow:10e2073a0108006:"
    assert brief(pack) == [
        (device + "voltage", "V", 120.1, last_us),
        (device + "current", "A", 1.2, last_us - 5_000_000),
        (device + "current", "A", 1.3, last_us - 4_000_000),
        (device + "current", "A", 1.4, last_us - 3_000_000),
        (device + "current", "A", 1.5, last_us - 2_000_000),
        (device + "current", "A", 1.6, last_us - 1_000_000),
        (device + "current", "A", 1.7, last_us),
    ]


def test_5_1_2_stream_once_it_is_closed() -> None:
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,
       "bu":"%RH","v":21.2},
      {"t":10,"v":21.3},
      {"t":20,"v":21.4}
    ]"""
    start_us = 1_320_067_464_000_000
    assert brief(pack) == [
        (DEVICE, "%RH", 21.2, start_us),
        (DEVICE, "%RH", 21.3, start_us + 10_000_000),
        (DEVICE, "%RH", 21.4, start_us + 20_000_000),
    ]


MULTIPLE_MEASUREMENTS = """[
  {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,
   "bu":"%RH","v":20},
  {"u":"lon","v":24.30621},
  {"u":"lat","v":60.07965},
  {"t":60,"v":20.3},
  {"u":"lon","t":60,"v":24.30622},
  {"u":"lat","t":60,"v":60.07965},
  {"t":120,"v":20.7},
  {"u":"lon","t":120,"v":24.30623},
  {"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},
  {"t":180,"v":21.2},
  {"u":"lon","t":180,"v":24.30628},
  {"u":"lat","t":180,"v":60.07967}
]"""

RESOLVED_DATA = """[
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
  {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
  {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}
]"""


def test_5_1_3_resolves_to_the_form_printed_in_5_1_4() -> None:
    printed = [
        (record["n"], record["u"], record["v"], round(record["t"]) * 1_000_000)
        for record in json.loads(RESOLVED_DATA)
    ]
    assert brief(MULTIPLE_MEASUREMENTS) == printed


def test_5_1_4_a_resolved_pack_stays_as_it_is() -> None:
    assert resolved(RESOLVED_DATA) == resolved(MULTIPLE_MEASUREMENTS)


def test_5_1_5_multiple_data_types() -> None:
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
      {"n":"label","vs":"Machine Room"},
      {"n":"open","vb":false},
      {"n":"nfc-reader","vd":"aGkgCg"}
    ]"""
    temperature, label, is_open, reader = resolved(pack)
    assert (temperature.value, temperature.unit) == (23.1, "Cel")
    assert (label.value, label.unit) == ("Machine Room", None)
    assert is_open.value is False
    assert (reader.value, reader.data) == (None, b"hi \n")


def test_5_1_6_collection_of_resources() -> None:
    """The last record uses the base name of the third and the base time of the first."""
    pack = """[
      {"bn":"2001:db8::2/","bt":1.320078429e+09,
       "n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},
      {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
      {"n":"humidity","u":"%RH","v":67}
    ]"""
    at_us = 1_320_078_429_000_000
    assert brief(pack) == [
        ("2001:db8::2/temperature", "Cel", 25.2, at_us),
        ("2001:db8::2/humidity", "%RH", 30, at_us),
        ("2001:db8::1/temperature", "Cel", 12.3, at_us),
        ("2001:db8::1/humidity", "%RH", 67, at_us),
    ]


def test_5_1_7_a_record_may_state_nothing_but_base_fields() -> None:
    pack = """[
      {"bn":"urn:dev:ow:10e2073a01080063:"},
      {"n":"temp","u":"Cel","v":23.1},
      {"n":"heat","u":"/","v":1},
      {"n":"fan","u":"/","v":0}
    ]"""
    assert brief(pack) == [
        (f"{DEVICE}:temp", "Cel", 23.1, None),
        (f"{DEVICE}:heat", "/", 1, None),
        (f"{DEVICE}:fan", "/", 0, None),
    ]


def test_5_1_7_a_tenth_of_a_second_later() -> None:
    pack = """[
      {"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},
      {"n":"2001:db8::4","v":0.5},
      {"n":"2001:db8::3","t":0.1,"v":0},
      {"n":"2001:db8::4","t":0.1,"v":0}
    ]"""
    at_us = 1_320_078_429_000_000
    assert [record.time_us for record in resolved(pack)] == [at_us, at_us, at_us + 100_000, at_us + 100_000]


def test_4_2_a_sum_may_stand_without_a_value() -> None:
    (record,) = resolved('[{"n":"energy","u":"W","s":7200}]')
    assert (record.value, record.sum) == (None, 7200)


def test_4_1_base_value_and_base_sum_are_added() -> None:
    first, second, third = resolved(
        '[{"bn":"d:","bv":100,"bs":1000,"n":"a","v":1,"s":2},{"n":"b","v":-1,"s":3},{"bv":0,"n":"c","v":5}]'
    )
    assert [(r.value, r.sum) for r in (first, second, third)] == [(101, 1002), (99, 1003), (5, 1000)]


def test_4_1_the_unit_of_one_record_is_not_that_of_the_next() -> None:
    assert [record.unit for record in resolved('[{"n":"a","u":"V","v":1},{"n":"b","v":2}]')] == ["V", None]
    pack = '[{"bu":"A","n":"a","u":"V","v":1},{"n":"b","v":2}]'
    assert [record.unit for record in resolved(pack)] == ["V", "A"]


@pytest.mark.parametrize(
    ("time", "time_us", "relative"),
    [
        (0, NOW_US, True),
        (-60, NOW_US - 60_000_000, True),
        (2.5, NOW_US + 2_500_000, True),
        (2**28 - 1, NOW_US + (2**28 - 1) * 1_000_000, True),
        (2**28, 2**28 * 1_000_000, False),
    ],
)
def test_4_5_3_a_time_below_2_to_the_28_counts_from_now(time: float, time_us: int, relative: bool) -> None:
    (record,) = resolved(f'[{{"n":"a","t":{time},"v":1}}]')
    assert (record.time_us, record.relative) == (time_us, relative)


def test_4_4_a_later_version_is_not_used() -> None:
    with pytest.raises(PayloadError) as caught:
        resolve(b'[{"bver":11,"n":"a","v":1}]', NOW_US)
    assert caught.value.reason == VERSION
    assert resolved('[{"bver":10,"n":"a","v":1}]')


def test_4_4_unknown_labels_are_ignored_unless_they_end_in_an_underscore() -> None:
    assert brief('[{"n":"a","v":1,"x":"y","l":"z"}]') == [("a", None, 1, None)]
    records, errors = resolve(b'[{"n":"a","v":1,"x_":"y"},{"n":"b","v":2}]', NOW_US)
    assert [record.name for record in records] == ["b"]
    assert [(error.position, error.reason) for error in errors] == [(0, "must-understand")]
