"""A payload that is nothing but a value: a number, a text, a boolean, as JSON or as it stands.

Knows nothing of topics, signals, the broker or the store, and reads no clock.
"""

import orjson

from agent.intake import refusals
from agent.intake.plain_json import decoded, value_of
from agent.intake.records import LONGEST_TEXT, Record, Resolved
from agent.intake.refusals import UnusableError


def resolve(payload: bytes) -> Resolved:
    """One record without name and time. Raises UnusableError where the payload holds no value."""
    if len(payload) > 4 * LONGEST_TEXT:
        raise UnusableError(
            refusals.LENGTH,
            f"found {len(payload)} bytes; right is a value of at most {LONGEST_TEXT} characters",
        )
    text = decoded(payload)
    try:
        found = orjson.loads(payload)
    except orjson.JSONDecodeError:
        found = text
    return Resolved([Record("", value=value_of(found))], [])
