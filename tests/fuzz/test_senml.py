"""Whatever the payload: records, or problems with a reason of the closed lists. Nothing else comes out."""

from agent.intake import senml
from agent.intake.senml import PayloadError, resolve
from tests.fuzz.payloads import PAYLOADS
from tests.fuzz.runs import fuzz

NOW_US = 1_700_000_000_000_000


@fuzz(PAYLOADS)
def test_any_payload(payload: bytes) -> None:
    try:
        records, errors = resolve(payload, NOW_US)
    except PayloadError as error:
        assert error.reason in senml.PACK_REASONS
        assert error.detail
        return
    positions = [error.position for error in errors]
    assert positions == sorted(set(positions))
    assert all(error.reason in senml.RECORD_REASONS for error in errors)
    for record in records:
        assert 1 <= len(record.name) <= senml.LONGEST_TEXT
        assert record.unit is None or len(record.unit) <= senml.LONGEST_UNIT
        assert not isinstance(record.value, str) or len(record.value) <= senml.LONGEST_TEXT
        assert record.time_us is None or type(record.time_us) is int
        assert (record.value is None) or (record.data is None)
    assert resolve(payload, NOW_US) == (records, errors)
