"""Lengths of time as people write them: 30m, 24h, 7d."""

from __future__ import annotations

import re

_SPAN = re.compile(r"(\d+(?:\.\d+)?)\s*(s|min|m|h|d|w)")
_SECONDS = {"s": 1, "min": 60, "m": 60, "h": 3600, "d": 86_400, "w": 604_800}
_LONGEST_US = 50 * 365 * 86_400 * 1_000_000


def is_span(text: str) -> bool:
    """Whether a text is one."""
    return _SPAN.fullmatch(text) is not None


def span_us(text: str) -> int:
    """A length of time in µs. Raises ValueError with a sentence."""
    found = _SPAN.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} is no length of time; right would be 30m, 24h or 7d")
    length_us = int(float(found[1]) * _SECONDS[found[2]] * 1e6)
    if length_us > _LONGEST_US:
        raise ValueError(f"{text!r} is longer than 50 years")
    return length_us
