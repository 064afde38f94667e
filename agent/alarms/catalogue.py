"""Every alarm by name: what it means, what may follow, what to look at first, and its limits.

The limits are common practice without a published source unless one is named; all of them are config.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum


class Priority(StrEnum):
    """How soon a person should look."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


@dataclass(frozen=True)
class Limits:
    """When an alarm comes and goes. K and seconds."""

    limit_k: float | None
    second_best_k: float | None  # the wider limit for a value that is only second best
    deadband_k: float
    on_delay_s: float
    off_delay_s: float


@dataclass(frozen=True)
class Entry:
    """An alarm of the catalogue. ``first_response`` holds steps of looking and reading only."""

    name: str
    cause: str
    consequence: str
    first_response: str
    priority: Priority
    limits: Limits
    urgent: Priority | None = None  # priority when the evidence leaves no doubt

    def with_limits(self, **changes: float | None) -> Entry:
        """The same alarm with a site's own limits; None keeps what stands."""
        return replace(
            self, limits=replace(self.limits, **{k: v for k, v in changes.items() if v is not None})
        )


SUPERHEAT_LOW = Entry(
    name="superheat-low",
    cause="The returning vapour is close to saturation: liquid cannot be excluded.",
    consequence="Liquid thins the oil and can break the compressor.",
    first_response=(
        "Read return superheat with its uncertainty and the discharge temperature beside it; see whether it "
        "holds in steady operation; look at the expansion valves' openings and at running fans and filters."
    ),
    priority=Priority.MEDIUM,
    urgent=Priority.HIGH,
    limits=Limits(limit_k=2.0, second_best_k=0.5, deadband_k=1.0, on_delay_s=600, off_delay_s=600),
)
SUPERHEAT_HIGH = Entry(
    name="superheat-high",
    cause="The returning vapour is far above saturation: too little refrigerant reaches the evaporators.",
    consequence="Capacity falls and the compressor runs hot.",
    first_response=(
        "Read return superheat and discharge temperature; see which indoor units run; look for frost, closed "
        "service valves and expansion valves that stand still."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=14.0, second_best_k=20.0, deadband_k=2.0, on_delay_s=1800, off_delay_s=900),
)
PROBE_UNFIT = Entry(
    name="probe-unfit",
    cause="The site takes superheat from a probe that is not fit for it in this mode.",
    consequence="The site's figure misleads: returning liquid can look like healthy superheat.",
    first_response="Compare both figures, and confirm on site where the probe is clamped.",
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=600, off_delay_s=600),
)

CATALOGUE: Mapping[str, Entry] = {e.name: e for e in (SUPERHEAT_LOW, SUPERHEAT_HIGH, PROBE_UNFIT)}
