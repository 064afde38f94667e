"""Plain JSON: an object, or an array of them, becomes records; JSON Pointers (RFC 6901) say what is where.

Knows nothing of topics, signals, the broker or the store, and reads no clock.
"""

import json
from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any

import jsonpointer
import orjson
from jsonpointer import EndOfList, JsonPointer

from agent.intake import refusals
from agent.intake.records import LONGEST_TEXT, MOST_RECORDS, Problem, Record, Resolved
from agent.intake.refusals import UnusableError
from agent.intake.stamps import stated

MEMBERS_NAMED = 20  # of a sample in which nothing is mapped

_NOTHING = object()
jsonpointer.VERBOSE_EXCEPTIONS = False  # each look-up in vain would print the whole document, at any depth


def resolve(payload: bytes, points: Mapping[str, JsonPointer], time: JsonPointer | None) -> Resolved:
    """Reads a payload; what is not at a point takes nothing else with it.

    `points`: by the name that a record gets. `time`: where a sample's time stands; None: nowhere. A record's
    position is that of its sample. Raises UnusableError where the payload as a whole is unusable.
    """
    document = _document(payload)
    samples = document if isinstance(document, list) else [document]
    if len(samples) > MOST_RECORDS:
        raise UnusableError(
            refusals.RECORD_COUNT,
            f"found {len(samples)} samples; right are at most {MOST_RECORDS} in a message",
        )
    resolved = Resolved([], [])
    for position, sample in enumerate(samples):
        try:
            _read(sample, points, time, position, resolved)
        except UnusableError as unusable:
            resolved.errors.append(
                Problem(position, unusable.reason, f"sample {position}: {unusable.detail}")
            )
    return resolved


def value_of(found: Any) -> float | int | bool | str:
    """A JSON value as a reading's; null is the word for it. Raises UnusableError."""
    if isinstance(found, dict | list):
        what = "an object" if isinstance(found, dict) else "an array"
        raise UnusableError(refusals.STRUCTURE, f"found {what}; right is a number, a text or a boolean")
    if isinstance(found, str) and len(found) > LONGEST_TEXT:
        raise UnusableError(
            refusals.LENGTH, f"found a text of {len(found)} characters; right are at most {LONGEST_TEXT}"
        )
    return "null" if found is None else found


def decoded(payload: bytes) -> str:
    """The payload as text. Raises UnusableError."""
    try:
        return payload.decode()
    except UnicodeDecodeError as error:
        raise UnusableError(
            refusals.NOT_UTF8, f"byte {error.start} is not UTF-8; right is text in UTF-8"
        ) from error


def _document(payload: bytes) -> Any:
    text = decoded(payload)
    try:
        document = orjson.loads(payload)
        json.loads(text, object_pairs_hook=_once, parse_int=float)  # for what orjson does not tell
    except RecursionError as error:
        raise UnusableError(refusals.NOT_JSON, "nested too deeply to be read") from error
    except ValueError as error:
        raise UnusableError(refusals.NOT_JSON, f"{error}; right is a JSON object") from error
    return document


def _once(members: list[tuple[str, Any]]) -> None:
    """Of a name that stands twice, every reader of JSON takes another value (RFC 8259, section 4)."""
    seen: set[str] = set()
    for name, _ in members:
        if name in seen:
            raise UnusableError(
                refusals.DUPLICATE_KEY, f"{name[:60]!r} stands twice in an object; one is right"
            )
        seen.add(name)


def _read(
    sample: Any, points: Mapping[str, JsonPointer], time: JsonPointer | None, position: int, into: Resolved
) -> None:
    if not isinstance(sample, dict):
        found = "an array" if isinstance(sample, list) else str(sample)[:40]
        raise UnusableError(refusals.BAD_RECORD, f"found {found}; right is a JSON object")
    there = [(name, _at(sample, pointer)) for name, pointer in points.items()]
    there = [(name, found) for name, found in there if found is not _NOTHING]
    if not there:
        names = _members(sample, time)
        into.records.extend(Record(name) for name in names)
        return
    time_us, utc = (None, False) if time is None else _time(sample, time)
    for name, found in there:
        try:
            value = value_of(found)
        except UnusableError as unusable:
            into.errors.append(Problem(position, unusable.reason, f"{name}: {unusable.detail}"))
        else:
            into.records.append(Record(name, value=value, time_us=time_us, utc=utc))


def _at(sample: dict[str, Any], pointer: JsonPointer) -> Any:
    if pointer.parts and pointer.parts[0] not in sample:  # most often; an exception costs ten times as much
        return _NOTHING
    found = pointer.resolve(sample, _NOTHING)
    return _NOTHING if isinstance(found, EndOfList) else found


def _time(sample: dict[str, Any], pointer: JsonPointer) -> tuple[int, bool]:
    found = _at(sample, pointer)
    right = "right is seconds or milliseconds since 1970, or ISO 8601 such as 2025-11-25T08:00:00Z"
    if found is _NOTHING or found is None:
        raise UnusableError(refusals.BAD_TIME, f"no time at {pointer.path}; {right}")
    if isinstance(found, bool) or not isinstance(found, int | float | str):
        raise UnusableError(refusals.BAD_TIME, f"what stands at {pointer.path} is no time; {right}")
    try:
        return stated(found)
    except (ValueError, OverflowError) as error:
        raise UnusableError(
            refusals.BAD_TIME, f"{str(found)[:40]!r} at {pointer.path} is no time; {right}"
        ) from error


def _members(sample: dict[str, Any], time: JsonPointer | None) -> Iterator[str]:
    """Pointers to what there is beside the time."""
    names = (f"/{jsonpointer.escape(name[:100])}" for name in islice(sample, MEMBERS_NAMED))
    return (name for name in names if time is None or name != time.path)
