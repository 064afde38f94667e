"""Times for programs, and lengths of time for people."""

from __future__ import annotations

from datetime import UTC, datetime

_SECOND_US, _MINUTE_S, _HOUR_S, _DAY_S = 1_000_000, 60, 3600, 86_400


def iso(time_us: int) -> str:
    """A time as RFC 3339 in UTC, to the second."""
    return datetime.fromtimestamp(time_us // _SECOND_US, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def age(us: int) -> str:
    """How long ago something was, in one unit, from two of it on: 25 s, 40 min, 3 h, 12 d."""
    seconds = max(us, 0) // _SECOND_US
    if seconds < 2 * _MINUTE_S:
        return f"{seconds} s"
    if seconds < 2 * _HOUR_S:
        return f"{seconds // _MINUTE_S} min"
    return f"{seconds // _HOUR_S} h" if seconds < 2 * _DAY_S else f"{seconds // _DAY_S} d"


def length(us: int) -> str:
    """A length of time in at most two units: 25 s, 40 min, 3 h 20 min, 12 d 4 h."""
    seconds = max(us, 0) // _SECOND_US
    if seconds < _MINUTE_S:
        return f"{seconds} s"
    minutes = seconds // _MINUTE_S
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h" if hours else f"{days} d"
