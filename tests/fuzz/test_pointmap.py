"""Any message: each record is a reading, or is refused by a reason of the closed list and counted."""

import json
import math
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from agent.intake.inbox import Message
from agent.intake.pointmap import EARLIEST_US, Decoded, Point, PointMap
from agent.intake.refusals import NOT_SENML, PAYLOAD_SIZE, REASONS, RECORD_COUNT, UNMAPPED
from agent.intake.stamps import Stamps
from agent.readings import Span
from tests.fuzz.payloads import PAYLOADS, as_bytes, good_packs
from tests.fuzz.runs import fuzz

NOW_US = 1_700_000_000_000_000
TOLERANCE_US = 120_000_000
TOPIC, WALL, STRANGE = "plant/m1", "plant/m2", "lift/door"
MODULES = {1: (11,), 2: (11, 12), 3: (), 4: (12,)}
POINTS = {
    (TOPIC, "suction_pipe"): Point(1, (11,), units=("Cel", "K")),
    (TOPIC, "mode"): Point(2, (11, 12)),
    (TOPIC, "bypass_valve"): Point(3),
    (WALL, "suction_pipe"): Point(4, (12,)),
}
BASES = {"bn", "bu", "bt", "bv", "bs", "bver"}
REGULAR = {"n", "u", "t", "s", "ut", "v", "vs", "vb", "vd"}
ARRIVALS = st.sampled_from([NOW_US, NOW_US + 3_600_000_000, EARLIEST_US, 0])


def point_map() -> PointMap:
    return PointMap(POINTS, 7, TOLERANCE_US, stamps={WALL: Stamps(ZoneInfo("Europe/Berlin"))})


def message(payload: bytes, topic: str, retain: bool, arrival_us: int) -> Message:
    return Message(1, 1, 1, topic, payload, retain, arrival_us)


@fuzz(PAYLOADS, st.sampled_from([TOPIC, WALL, STRANGE]), st.booleans(), ARRIVALS)
def test_any_message(payload: bytes, topic: str, retain: bool, arrival_us: int) -> None:
    points = point_map()
    decoded = points.read(message(payload, topic, retain, arrival_us))
    check_refusals(decoded, payload, arrival_us)
    check_readings(decoded, arrival_us)
    check_sum(decoded, payload)
    assert decoded.fresh is not retain
    assert set(points.offsets()) <= ({topic} if not retain else set())
    assert point_map().read(message(payload, topic, retain, arrival_us)) == decoded


@fuzz(good_packs())
def test_a_good_pack_is_read_whole(pack: list[dict]) -> None:
    decoded = point_map().read(message(as_bytes(pack), TOPIC, False, NOW_US))
    assert len(decoded.readings) + sum(decoded.counts.values()) == len(pack)
    known = [record for record in pack if record["n"] != "liquid_line"]
    no_number = [r for r in known if r["n"] == "suction_pipe" and "v" not in r]
    assert len(decoded.readings) == len(known) - len(no_number)


def check_refusals(decoded: Decoded, payload: bytes, arrival_us: int) -> None:
    assert set(decoded.counts) <= set(REASONS)
    assert all(count > 0 for count in decoded.counts.values())
    assert decoded.counts[UNMAPPED] == len(decoded.unmapped)
    for refusal in decoded.refusals:
        assert decoded.counts[refusal.reason] > 0
        assert refusal.detail.encode()
        assert payload.startswith(refusal.head)
        assert refusal.arrival_us == arrival_us


def check_readings(decoded: Decoded, arrival_us: int) -> None:
    spans: dict[int, list[int]] = {}
    for reading in decoded.readings:
        assert EARLIEST_US <= reading.sample_us <= arrival_us + TOLERANCE_US
        if isinstance(reading.value, str):
            assert len(reading.value.encode()) <= 4 * 4096
        elif isinstance(reading.value, int):
            assert type(reading.value) is int
            assert -(2**63) <= reading.value < 2**63
        else:
            assert math.isfinite(reading.value)
        for module_id in MODULES[reading.signal_id]:
            spans.setdefault(module_id, []).append(reading.sample_us)
    assert set(decoded.spans) == {Span(module_id, min(us), max(us)) for module_id, us in spans.items()}


def check_sum(decoded: Decoded, payload: bytes) -> None:
    """Against Python's own reading of the JSON: readings and refusals are the records, but for those that
    only state base fields."""
    seen = len(decoded.readings) + sum(decoded.counts.values())
    unread = {PAYLOAD_SIZE, NOT_SENML, RECORD_COUNT} & set(decoded.counts)
    if unread or ("" in {name for _, name in decoded.unmapped}):
        assert seen == 1
        return
    pack = json.loads(payload)
    only_bases = sum(isinstance(r, dict) and bool(BASES & set(r)) and not REGULAR & set(r) for r in pack)
    assert len(pack) - only_bases <= seen <= len(pack)
