"""From a message to readings: which record on which topic is which signal, and what cannot be used.

Knows nothing of the broker and the store, and reads no clock: a message brings its arrival time.
"""

import math
import threading
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from agent.intake import refusals
from agent.intake.inbox import Message
from agent.intake.payloads import Read, read_senml, reader
from agent.intake.records import Record, Resolved
from agent.intake.refusals import Keeper, UnusableError
from agent.intake.stamps import ClockOffset, NoSuchTimeError, Stamps
from agent.readings import Reading, Refusal, Span
from agent.settings import Payload
from agent.settings.signals import bare
from agent.units import NoQuantityError, quantity

PAYLOAD_BYTES = 256 * 1024
EARLIEST_US = 978_307_200_000_000  # 2001-01-01: no gateway is older, a clock that was never set is

_DAY_US = 86_400_000_000
_UTC = Stamps()


class Point(NamedTuple):
    """A signal, and the modules whose frames hold it."""

    signal_id: int
    modules: tuple[int, ...] = ()  # several use a signal of system or site scope
    units: tuple[str, ...] = ()  # of a measured quantity: what a payload may state; empty: a state
    sentinels: frozenset[float | str] = frozenset()  # values that say that there is none, without units


class Decoded(NamedTuple):
    """What one message held."""

    readings: list[Reading]
    refusals: list[Refusal]  # those to keep
    spans: list[Span]
    unmapped: list[tuple[str, str]]  # topic and record name of each; the name is "" for an unread payload
    counts: Counter[str]  # refused by reason: each record, kept or not; one for a payload that is not read
    fresh: bool  # False for a retained message: it does not show that its source is alive


class PointMap:
    """One revision of the mapping. `read` is for one thread, `offsets` for any.

    `points` is keyed by (topic, record name). `payloads` has the topics that carry no SenML, `stamps`
    those whose source does not stamp in UTC. A sample may lie `tolerance_us` ahead of its arrival.
    """

    def __init__(
        self,
        points: Mapping[tuple[str, str], Point],
        mapping_id: int,
        tolerance_us: int,
        *,
        payloads: Mapping[str, Payload] | None = None,
        stamps: Mapping[str, Stamps] | None = None,
        kept_per_minute: int = refusals.KEPT_PER_MINUTE,
    ) -> None:
        self._points: dict[str, dict[str, Point]] = {}
        for (topic, name), point in points.items():
            self._points.setdefault(topic, {})[name] = point
        self._readers = {
            topic: reader(payload, self._points.get(topic, ())) for topic, payload in (payloads or {}).items()
        }
        self._mapping_id = mapping_id
        self._tolerance_us = tolerance_us
        self._stamps = dict(stamps or {})
        self._keeper = Keeper(kept_per_minute)
        self._clocks = {topic: ClockOffset() for topic in self._points}
        self._clocks_lock = threading.Lock()

    def offsets(self) -> dict[str, int]:
        """How far each source's clock is behind ours, by topic, in us; of those that have stated a time."""
        with self._clocks_lock:
            offsets = {topic: clock.offset_us for topic, clock in self._clocks.items()}
        return {topic: offset_us for topic, offset_us in offsets.items() if offset_us is not None}

    def read(self, message: Message) -> Decoded:
        """Never raises: what cannot be used is refused, and the rest of the message still counts.

        A record without a time gets the message's arrival time.
        """
        decoded = Decoded([], [], [], [], Counter(), not message.retain)
        points = self._points.get(message.topic)
        try:
            records, errors = _resolve(message, self._readers.get(message.topic, read_senml))
        except UnusableError as unusable:
            if points is None:
                self._refuse_unmapped(decoded, message, "")
            else:
                self._refuse(decoded, message, unusable.reason, unusable.detail)
            return decoded
        for problem in errors:
            self._refuse(decoded, message, problem.reason, problem.detail)

        times = _Times(self._stamps.get(message.topic, _UTC), message, self._tolerance_us)
        touched: set[tuple[tuple[int, ...], int]] = set()  # modules, and when; mostly one for all records
        for record in records:
            point = points.get(record.name) if points is not None else None
            if point is None:
                self._refuse_unmapped(decoded, message, record.name)
                continue
            try:
                sample_us = times.sample_us(record)
                value = _value(point, record)
            except UnusableError as unusable:
                detail = f"{record.name}: {unusable.detail}" if record.name else unusable.detail
                self._refuse(decoded, message, unusable.reason, detail)
                continue
            decoded.readings.append(
                Reading(sample_us, point.signal_id, value, record.unit, message.arrival_us, self._mapping_id)
            )
            touched.add((point.modules, sample_us))
        decoded.spans.extend(_spans(touched))
        if decoded.fresh and times.newest_stated_us is not None:
            with self._clocks_lock:
                self._clocks[message.topic].hear(times.newest_stated_us, message.arrival_us)
        return decoded

    def _refuse_unmapped(self, decoded: Decoded, message: Message, name: str) -> None:
        decoded.unmapped.append((message.topic, name))
        decoded.counts[refusals.UNMAPPED] += 1
        if (refusal := self._keeper.unmapped(message, name)) is not None:
            decoded.refusals.append(refusal)

    def _refuse(self, decoded: Decoded, message: Message, reason: str, detail: str) -> None:
        decoded.counts[reason] += 1
        if (refusal := self._keeper.refusal(message, reason, detail)) is not None:
            decoded.refusals.append(refusal)


def _spans(touched: Iterable[tuple[tuple[int, ...], int]]) -> Iterator[Span]:
    times: dict[int, list[int]] = {}
    for modules, sample_us in touched:
        for module_id in modules:
            times.setdefault(module_id, []).append(sample_us)
    return (Span(module_id, min(each), max(each)) for module_id, each in times.items())


class _Times:
    """The sample times of one message's records, most of which share one."""

    def __init__(self, stamps: Stamps, message: Message, tolerance_us: int) -> None:
        self._stamps = stamps
        self._message = message
        self._tolerance_us = tolerance_us
        self._last: tuple[int | None, bool, bool] | None = None
        self._last_us = 0
        self.newest_stated_us: int | None = None  # the absolute ones, refused or not

    def sample_us(self, record: Record) -> int:
        """Raises UnusableError for a time that no sample can have."""
        key = (record.time_us, record.relative, record.utc)
        if key != self._last:
            self._last_us = self._checked_us(*key)
            self._last = key
        return self._last_us

    def _checked_us(self, time_us: int | None, relative: bool, utc: bool) -> int:
        arrival_us = self._message.arrival_us
        if time_us is None or relative:
            if self._message.retain:
                raise UnusableError(
                    refusals.RETAINED_WITHOUT_TIME,
                    "the message is retained and states no absolute time, so nobody knows how old it is; "
                    "right is a time from the gateway, or no retain flag",
                )
            sample_us = arrival_us if time_us is None else time_us
        else:
            sample_us = self._stated_us(time_us, _UTC if utc else self._stamps)
        ahead_us = sample_us - arrival_us
        if ahead_us > self._tolerance_us:
            raise UnusableError(
                refusals.FUTURE,
                f"the sample time is {ahead_us // 1_000_000} s ahead of its arrival, allowed are "
                f"{self._tolerance_us / 1_000_000:g} s; look at both clocks, and whether the gateway counts "
                "local time as UTC",
            )
        if sample_us < EARLIEST_US:
            raise UnusableError(
                refusals.ANCIENT,
                f"the sample time is {sample_us // 1_000_000} s after 1970, before 2001; "
                "a clock was never set",
            )
        return sample_us

    def _stated_us(self, time_us: int, stamps: Stamps) -> int:
        arrival_us = self._message.arrival_us
        try:
            sample_us = stamps.utc_us(time_us, arrival_us, self._tolerance_us)
        except NoSuchTimeError as error:
            raise UnusableError(
                refusals.NO_SUCH_TIME,
                f"the sample time {error}, where the clocks went forward; look at the gateway's clock, and "
                "whether it counts local time as UTC",
            ) from error
        # A wrong zone or date is worth showing; a number that is no time would hide the clock for an hour.
        if sample_us - arrival_us <= _DAY_US:
            self.newest_stated_us = max(sample_us, self.newest_stated_us or sample_us)
        return sample_us


def _resolve(message: Message, read: Read) -> Resolved:
    size = len(message.payload)
    if size > PAYLOAD_BYTES:
        raise UnusableError(
            refusals.PAYLOAD_SIZE, f"the payload has {size} bytes; right are at most {PAYLOAD_BYTES}"
        )
    return read(message)


def _value(point: Point, record: Record) -> float | int | str:
    """What is kept of a record. Raises UnusableError for what its signal cannot have."""
    value = record.value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise UnusableError(
                refusals.NOT_FINITE, "base value and value add up beyond what a number can hold"
            )
    elif isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise UnusableError(
                refusals.TOO_LARGE, f"{value} needs more than 64 bits; right is -2^63 to 2^63 - 1"
            )
        if isinstance(value, bool):
            if point.units:
                raise UnusableError(refusals.BOOLEAN, f"it holds {str(value).lower()}; right is a number")
            return int(value)
    elif isinstance(value, str):
        _check_text(point, record, value)
        return value
    elif record.data is not None:
        raise UnusableError(
            refusals.DATA_VALUE,
            f"it holds {len(record.data)} bytes of data; right is a number, a text or a boolean",
        )
    else:
        raise UnusableError(
            refusals.NO_VALUE, "it holds a sum over time and no value; right is the value itself"
        )
    if record.unit is not None and point.units and record.unit not in point.units:
        raise _wrong_unit(point, record.unit)
    return value


def _check_text(point: Point, record: Record, text: str) -> None:
    """A text may be a state's word, a sentinel, or a number with or without the unit; it is kept as it is."""
    if point.sentinels and bare(text) in point.sentinels:
        return
    if not text.strip():
        raise UnusableError(refusals.NO_VALUE, "the text is empty; right is a value")
    if not point.units:
        return
    try:
        _, unit = quantity(text)
    except NoQuantityError as error:
        reason = refusals.NOT_FINITE if _is_not_finite(text) else refusals.TEXT
        raise UnusableError(
            reason,
            f"it holds the text {text[:40]!r}: {error}; right is a number, its unit behind it or not. A text "
            "that means no value stands in the signal's sentinels",
        ) from error
    for stated in (unit, record.unit):
        if stated is not None and stated not in point.units:
            raise _wrong_unit(point, stated)
    if unit is not None and record.unit not in (None, unit):
        raise UnusableError(
            refusals.UNIT, f"the text states the unit {unit!r} and the record {record.unit!r}; right is one"
        )


def _wrong_unit(point: Point, unit: str) -> UnusableError:
    return UnusableError(
        refusals.UNIT,
        f"the payload states the unit {unit[:40]!r}; right is one of {', '.join(point.units)}. Whether a "
        "pressure is absolute or gauge is said in the configuration",
    )


def _is_not_finite(text: str) -> bool:
    try:
        return not math.isfinite(float(text))
    except ValueError:
        return False
