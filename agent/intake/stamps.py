"""What a gateway's time stamps mean, and how far its clock is off.

Gateways send seconds or milliseconds, and some count local wall time as if it were UTC. Knows nothing of
payloads and topics, and reads no clock.
"""

from __future__ import annotations

import re
from collections import deque
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple
from zoneinfo import ZoneInfo

_MILLISECONDS_FROM_US = 10**17  # taken as seconds that is the year 5138; as milliseconds 1973
_EXACT_BELOW_S = 2**32  # up to here the nearest double of a time is within 0.25 us of it
_NUMBER = re.compile(r"[+-]?[0-9]{1,20}(\.[0-9]{1,20})?")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND_US = 1_000_000
_HOUR_US = 3600 * _SECOND_US
_STEP_US = 10 * _SECOND_US


class NoSuchTimeError(ValueError):
    """A local time in the hour that daylight saving leaves out."""


class Stamps(NamedTuple):
    """How one source stamps its samples. `zone`: its stamps are wall time there; None: they are UTC."""

    zone: ZoneInfo | None = None

    def utc_us(self, stamp_us: int, arrival_us: int, tolerance_us: int) -> int:
        """A stamp, taken as us since 1970, to us of UTC.

        Milliseconds where seconds belong are recognised by their size. In the hour that daylight saving
        repeats, the reading nearer to the arrival is taken, unless it lies ahead of it by more than
        `tolerance_us`. Raises NoSuchTimeError in the hour that is left out.
        """
        if stamp_us >= _MILLISECONDS_FROM_US:
            stamp_us //= 1000
        if self.zone is None or not 0 <= stamp_us < _MILLISECONDS_FROM_US:
            return stamp_us  # outside, no calendar helps: it is ancient or far ahead in any zone
        wall = _EPOCH.replace(tzinfo=None) + timedelta(microseconds=stamp_us)
        first, second = (_utc_us(wall, self.zone, fold) for fold in (0, 1))
        if _wall(first, self.zone) != wall:
            raise NoSuchTimeError(f"{wall:%Y-%m-%d %H:%M} does not exist in {self.zone.key}")
        if second - arrival_us > tolerance_us:
            return first
        return min(first, second, key=lambda us: abs(arrival_us - us))


def microseconds(seconds: float | int) -> int:
    """To the microsecond that was written; where doubles are too coarse, through the decimal."""
    if isinstance(seconds, int):
        return seconds * 1_000_000
    if -_EXACT_BELOW_S < seconds < _EXACT_BELOW_S:
        return round(seconds * 1e6)
    return int(Decimal(repr(seconds)).scaleb(6).to_integral_value())


def stated(time: float | int | str) -> tuple[int, bool]:
    """A time as a payload states it, in us since 1970, and whether it is UTC whatever its source's zone.

    A number, also as text, is taken as seconds; `Stamps.utc_us` knows milliseconds by their size. Other text
    is ISO 8601: date and time of day, with an offset from UTC or without. Raises ValueError.
    """
    if not isinstance(time, str):
        return microseconds(time), False
    text = time.strip().upper()
    if _NUMBER.fullmatch(text):
        return microseconds(float(text) if "." in text else int(text)), False
    if not set(text) & set("T :"):
        raise ValueError("no time of day")
    moment = datetime.fromisoformat(text)
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return (aware - _EPOCH) // timedelta(microseconds=1), moment.tzinfo is not None


def _utc_us(wall: datetime, zone: ZoneInfo, fold: int) -> int:
    since = wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) - _EPOCH
    return since // timedelta(microseconds=1)


def _wall(time_us: int, zone: ZoneInfo) -> datetime:
    return (_EPOCH + timedelta(microseconds=time_us)).astimezone(zone).replace(tzinfo=None)


class ClockOffset:
    """How far a source's clock is behind ours, from the delays of its messages.

    A message takes time on its way, and a backlog takes long; so the shortest delay of the last hour is the
    best estimate, never less than the truth. A clock set back is therefore known after an hour only, one set
    forward at once. Negative: the clock is ahead.
    """

    def __init__(self) -> None:
        self._delays: deque[tuple[int, int]] = deque()  # arrival and delay, the shortest first

    def hear(self, newest_sample_us: int, arrival_us: int) -> None:
        """Takes in a message that was not retained and stated its time."""
        delay_us = arrival_us - newest_sample_us
        while self._delays and self._delays[0][0] < arrival_us - _HOUR_US:
            self._delays.popleft()
        while self._delays and self._delays[-1][1] >= delay_us:
            self._delays.pop()
        # A longer delay only matters once the shorter ones are too old: one in ten seconds is enough.
        if not self._delays or arrival_us - self._delays[-1][0] >= _STEP_US:
            self._delays.append((arrival_us, delay_us))

    @property
    def offset_us(self) -> int | None:
        """None before the first message."""
        return self._delays[0][1] if self._delays else None
