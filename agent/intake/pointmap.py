"""From a message to readings: which record on which topic is which signal, and what cannot be used.

Knows nothing of the broker and the store, and reads no clock: a message brings its arrival time.
"""

import math
from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from agent.intake import senml
from agent.intake.inbox import Message
from agent.readings import Reading, Refusal, Span

NOT_SENML = "not-senml"
BAD_RECORD = "bad-record"
NO_VALUE = "no-value"
UNMAPPED = "unmapped"
RETAINED_WITHOUT_TIME = "retained-without-time"
FUTURE = "future"
ANCIENT = "ancient"
DATA_VALUE = "data-value"
NOT_FINITE = "not-finite"
TOO_LARGE = "too-large"
UNIT = "unit"
TEXT = "text"
REASONS = (
    NOT_SENML,
    BAD_RECORD,
    NO_VALUE,
    UNMAPPED,
    RETAINED_WITHOUT_TIME,
    FUTURE,
    ANCIENT,
    DATA_VALUE,
    NOT_FINITE,
    TOO_LARGE,
    UNIT,
    TEXT,
)

EARLIEST_US = 978_307_200_000_000  # 2001-01-01: no gateway is older, a clock that was never set is
HEAD_BYTES = 256
UNMAPPED_KEPT = 1000


class Point(NamedTuple):
    """A signal, and the modules whose frames hold it."""

    signal_id: int
    module_id: int | None  # None for a signal of system or site scope
    shared_by: tuple[int, ...] = ()  # the modules that use a signal of system or site scope
    units: tuple[str, ...] = ()  # of a measured quantity: what a payload may state; empty: a state


class Decoded(NamedTuple):
    """What one message held."""

    readings: list[Reading]
    refusals: list[Refusal]  # those to keep
    spans: list[Span]
    unmapped: list[tuple[str, str]]  # topic and record name of each; the name is "" for an unread payload
    counts: Counter[str]  # refused by reason: all of them, kept or not


class _UnusableError(Exception):
    def __init__(self, reason: str, detail: str) -> None:
        self.reason = reason
        self.detail = detail


class PointMap:
    """One revision of the mapping; used from one thread.

    `points` is keyed by (topic, record name). A sample may lie `tolerance_us` ahead of its arrival.
    """

    def __init__(self, points: Mapping[tuple[str, str], Point], mapping_id: int, tolerance_us: int) -> None:
        self._points = dict(points)
        self._topics = {topic for topic, _ in self._points}
        self._mapping_id = mapping_id
        self._tolerance_us = tolerance_us
        self._unmapped_kept: set[tuple[str, str]] = set()

    def read(self, message: Message) -> Decoded:
        """Never raises: what cannot be used is refused, and the rest of the message still counts.

        A record without a time gets the arrival time, so it alone is not the same reading when the broker
        delivers the message again.
        """
        decoded = Decoded([], [], [], [], Counter())
        try:
            records, errors = senml.resolve(message.payload, message.arrival_us)
        except senml.PayloadError as error:
            if message.topic in self._topics:
                self._refuse(decoded, message, NOT_SENML, error.detail)
            else:
                self._refuse_unmapped(decoded, message, "")
            return decoded
        for problem in errors:
            reason = NO_VALUE if problem.reason == senml.NO_VALUE else BAD_RECORD
            self._refuse(decoded, message, reason, problem.detail)

        stretches: dict[int, tuple[int, int]] = {}
        for record in records:
            point = self._points.get((message.topic, record.name))
            if point is None:
                self._refuse_unmapped(decoded, message, record.name)
                continue
            try:
                sample_us = self._sample_us(record, message)
                value = _value(record)
                _check_kind(point, record, value)
            except _UnusableError as unusable:
                self._refuse(decoded, message, unusable.reason, f"{record.name}: {unusable.detail}")
                continue
            decoded.readings.append(
                Reading(sample_us, point.signal_id, value, record.unit, message.arrival_us, self._mapping_id)
            )
            modules = point.shared_by if point.module_id is None else (point.module_id,)
            for module_id in modules:
                first_us, last_us = stretches.get(module_id, (sample_us, sample_us))
                stretches[module_id] = (min(first_us, sample_us), max(last_us, sample_us))
        decoded.spans.extend(Span(module_id, *stretch) for module_id, stretch in stretches.items())
        return decoded

    def _sample_us(self, record: senml.Record, message: Message) -> int:
        if message.retain and (record.time_us is None or record.relative):
            raise _UnusableError(
                RETAINED_WITHOUT_TIME,
                "the message is retained and states no absolute time, so nobody knows how old it is; "
                "right is a time from the gateway, or no retain flag",
            )
        sample_us = message.arrival_us if record.time_us is None else record.time_us
        ahead_us = sample_us - message.arrival_us
        if ahead_us > self._tolerance_us:
            raise _UnusableError(
                FUTURE,
                f"the sample time is {ahead_us // 1_000_000} s ahead of its arrival, allowed are "
                f"{self._tolerance_us / 1_000_000:g} s; look at both clocks, and whether the gateway sends "
                "milliseconds where SenML has seconds",
            )
        if sample_us < EARLIEST_US:
            raise _UnusableError(
                ANCIENT,
                f"the sample time is {sample_us // 1_000_000} s after 1970, before 2001; "
                "a clock was never set",
            )
        return sample_us

    def _refuse_unmapped(self, decoded: Decoded, message: Message, name: str) -> None:
        """Kept once for each topic and name: a gateway may send thousands that nobody asked for."""
        key = (message.topic, name)
        decoded.unmapped.append(key)
        if key in self._unmapped_kept or len(self._unmapped_kept) >= UNMAPPED_KEPT:
            decoded.counts[UNMAPPED] += 1
            return
        self._unmapped_kept.add(key)
        found = f"the record {name}" if name else "a payload that is not SenML"
        self._refuse(
            decoded,
            message,
            UNMAPPED,
            f"{found} on a topic and name that no signal is mapped to; map it, or narrow the subscription",
        )

    def _refuse(self, decoded: Decoded, message: Message, reason: str, detail: str) -> None:
        decoded.counts[reason] += 1
        decoded.refusals.append(
            Refusal(message.arrival_us, message.topic, reason, detail, message.payload[:HEAD_BYTES])
        )


def _value(record: senml.Record) -> float | int | str:
    if record.data is not None:
        raise _UnusableError(
            DATA_VALUE, f"it holds {len(record.data)} bytes of data; right is a number, a text or a boolean"
        )
    value = record.value
    if value is None:
        raise _UnusableError(NO_VALUE, "it holds a sum over time and no value; right is the value itself")
    if isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise _UnusableError(TOO_LARGE, f"{value} needs more than 64 bits; right is -2^63 to 2^63 - 1")
        return int(value)
    if isinstance(value, float) and not math.isfinite(value):
        raise _UnusableError(NOT_FINITE, "base value and value add up beyond what a number can hold")
    return value


def _check_kind(point: Point, record: senml.Record, value: float | int | str) -> None:
    """A measured quantity is a number, in a unit of its own dimension where the payload states one."""
    if not point.units:
        return
    if isinstance(value, str):
        raise _UnusableError(TEXT, f"it holds the text {value[:40]!r}; right is a number")
    if record.unit is not None and record.unit not in point.units:
        allowed = ", ".join(point.units)
        raise _UnusableError(UNIT, f"the payload states the unit {record.unit!r}; right is one of {allowed}")
