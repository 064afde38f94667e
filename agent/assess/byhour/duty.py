"""How a module was used: what ran and for how long, how often it started, how often oil was recovered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from agent.assess.byhour.hours import Hour


@dataclass(frozen=True)
class CompressorDuty:
    """One compressor over some hours. None: no signal told whether it ran."""

    running_share: float | None  # 0..1 of the time for which that is known
    starts: int | None
    most_starts_per_hour: int | None


@dataclass(frozen=True)
class Duty:
    """Of the whole hours that were assessed; ``hours`` tells how many these are."""

    hours: int
    compressors: Mapping[str, CompressorDuty]
    seconds: Mapping[str, float]  # by mode, those that occurred
    entered: Mapping[str, int]  # how often each mode began


def duty(hours: Sequence[Hour]) -> Duty:
    """Sum up whole hours; times are multiples of the grid's step."""
    modes = dict.fromkeys(mode for hour in hours for mode in hour.parts)
    names = dict.fromkeys(name for hour in hours for name in hour.known)
    return Duty(
        len(hours),
        {name: _compressor(hours, name) for name in names},
        {
            mode: sum(h.parts[mode].count * h.step_us / 1e6 for h in hours if mode in h.parts)
            for mode in modes
        },
        {mode: sum(hour.entered.get(mode, 0) for hour in hours) for mode in modes},
    )


def _compressor(hours: Sequence[Hour], name: str) -> CompressorDuty:
    known = sum(hour.known.get(name, 0) for hour in hours)
    if not known:
        return CompressorDuty(None, None, None)
    starts = [hour.starts.get(name, 0) for hour in hours]
    return CompressorDuty(
        sum(hour.running.get(name, 0) for hour in hours) / known, sum(starts), max(starts, default=0)
    )
