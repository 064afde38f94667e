"""Any message on a topic of plain JSON or of a bare value: readings and refusals, and never an exception."""

import json
from zoneinfo import ZoneInfo

import pytest
from hypothesis import strategies as st

from agent.intake import refusals
from agent.intake.inbox import Message
from agent.intake.pointmap import Decoded, Point, PointMap
from agent.intake.stamps import Stamps
from agent.settings import Payload
from agent.settings.signals import sentinels_of
from agent.units import NoQuantityError, quantity
from tests.fuzz.payloads import BARE_VALUES, JSON_PAYLOADS, POINTS
from tests.fuzz.runs import fuzz
from tests.fuzz.test_pointmap import ARRIVALS, NOW_US, TOLERANCE_US, check_refusals

DATED, UNDATED, MEASURED, STATE = "plant/m1", "plant/m2", "plant/m3/pipe", "plant/m3/mode"
UNITS = ("degC", "Cel", "K")
SENTINELS = sentinels_of([-999, "N/A", ""])
PIPE = Point(1, (11,), units=UNITS, sentinels=SENTINELS)
MODE = Point(2, (11,))
OF_JSON = {name: PIPE if "pipes" in name else MODE for name in POINTS[1:]}
MAP = {
    **{(topic, name): point for topic in (DATED, UNDATED) for name, point in OF_JSON.items()},
    (MEASURED, ""): PIPE,
    (STATE, ""): MODE,
}
PAYLOADS = {
    DATED: Payload("json", "/at"),
    UNDATED: Payload("json"),
    MEASURED: Payload("scalar"),
    STATE: Payload("scalar"),
}
# A payload that is not read is refused as a whole.
WHOLE = {
    refusals.NOT_UTF8,
    refusals.NOT_JSON,
    refusals.DUPLICATE_KEY,
    refusals.RECORD_COUNT,
    refusals.PAYLOAD_SIZE,
}


def read(payload: bytes, topic: str, retain: bool, arrival_us: int) -> Decoded:
    stamps = {DATED: Stamps(ZoneInfo("Europe/Berlin"))}
    points = PointMap(MAP, 7, TOLERANCE_US, payloads=PAYLOADS, stamps=stamps)
    decoded = points.read(Message(1, 1, 1, topic, payload, retain, arrival_us))
    check_refusals(decoded, payload, arrival_us)
    for reading in decoded.readings:
        assert reading.unit is None
        assert reading.value == reading.value
        if reading.signal_id == 1:
            assert type(reading.value) in (int, float) or is_a_value(str(reading.value))
    return decoded


def is_a_value(text: str) -> bool:
    try:
        return quantity(text)[1] in (None, *UNITS)
    except NoQuantityError:
        return text.strip() in SENTINELS


@fuzz(JSON_PAYLOADS, st.sampled_from([DATED, UNDATED]), st.booleans(), ARRIVALS)
def test_any_json(payload: bytes, topic: str, retain: bool, arrival_us: int) -> None:
    decoded = read(payload, topic, retain, arrival_us)
    assert not (retain and topic == UNDATED and decoded.readings)
    if WHOLE & set(decoded.counts):
        assert decoded.counts.total() == 1
        assert decoded.readings == []
    else:
        document = json.loads(payload)  # Python's own reader finds no fault with it either
        samples = document if isinstance(document, list) else [document]
        assert len(decoded.readings) <= len(samples) * len(OF_JSON)


@fuzz(BARE_VALUES, st.sampled_from([MEASURED, STATE]), st.booleans(), ARRIVALS)
def test_any_bare_value(payload: bytes, topic: str, retain: bool, arrival_us: int) -> None:
    decoded = read(payload, topic, retain, arrival_us)
    assert len(decoded.readings) + decoded.counts.total() == 1
    assert not (retain and decoded.readings)
    assert all(reading.sample_us == arrival_us for reading in decoded.readings)


@pytest.mark.parametrize("depth", [200, 900, 980, 990, 1000, 1010, 1024, 1025, 5000])
def test_json_of_any_depth(depth: int) -> None:
    for payload in (b"[" * depth + b"]" * depth, b'{"pipes":' * depth + b"1" + b"}" * depth):
        decoded = read(payload, DATED, False, NOW_US)
        assert decoded.readings == []
        assert decoded.counts.total() == 1
