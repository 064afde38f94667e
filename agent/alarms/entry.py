"""What an alarm of the catalogue is: its words, its priority, and when it comes and goes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum


class Priority(StrEnum):
    """How soon a person should look."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


def rank(priority: Priority) -> int:
    """The higher, the sooner."""
    return list(Priority).index(priority)


@dataclass(frozen=True)
class Limits:
    """When an alarm comes and goes. K and seconds; of a temperature ``limit_c`` and ``urgent_c`` in degC."""

    limit_k: float | None
    second_best_k: float | None  # the wider limit for a value that is only second best
    deadband_k: float
    on_delay_s: float
    off_delay_s: float
    urgent_on_delay_s: float | None = None  # the delay where the evidence leaves no doubt; None: the same
    limit_c: float | None = None
    urgent_c: float | None = None  # from here on it is urgent


@dataclass(frozen=True)
class Entry:
    """An alarm of the catalogue. ``first_response`` holds steps of looking and reading only."""

    name: str
    raised_when: str
    cause: str
    consequence: str
    first_response: str
    priority: Priority
    limits: Limits
    urgent: Priority | None = None  # priority when the evidence leaves no doubt
    by_wall_clock: bool = False  # judged by arrival, not in event time
    by_hour: bool = False  # judged at the end of every whole hour, from the hours before
    latching: bool = False  # stays until a person resets it, though its condition is over
    suppressed_in: frozenset[str] = frozenset()  # modes in which it is meant to stand, and nobody is told
    may_break: bool = False  # the compressor, if it goes on
    never_suppressed: bool = False  # neither by a mode nor by an alarm that it would follow from

    def with_limits(self, *, latching: bool | None = None, **changes: float | None) -> Entry:
        """The same alarm with a site's own limits; None keeps what stands. Second best stays the wider."""
        limits = replace(self.limits, **{k: v for k, v in changes.items() if v is not None})
        before, second = self.limits.limit_k, self.limits.second_best_k
        if before is not None and second is not None and limits.limit_k is not None:
            wider = min if second < before else max
            limits = replace(limits, second_best_k=wider(second, limits.limit_k))
        return replace(self, limits=limits, latching=self.latching if latching is None else latching)
