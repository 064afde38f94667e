"""What can go wrong in the process: which fault, how bad, from when on. It must not know its effects."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum


class FaultKind(StrEnum):
    """A fault of the process. What severity 1 means is said where the fault acts."""

    UNDERCHARGE = "undercharge"
    OVERCHARGE = "overcharge"
    LIQUID_RESTRICTION = "liquid_restriction"  # between the liquid probe and the valves of the rooms
    VALVE_STUCK_OPEN = "valve_stuck_open"  # an expansion valve: liquid returns
    HUNTING = "hunting"
    CONDENSER_FOULED = "condenser_fouled"
    EVAPORATOR_FOULED = "evaporator_fouled"
    COMPRESSOR_LEAKING = "compressor_leaking"  # the valves of compressor 1
    NON_CONDENSABLES = "non_condensables"
    OIL_RETURN_BLOCKED = "oil_return_blocked"
    BYPASS_LEAKING = "bypass_leaking"  # hot gas, though the valve reports shut
    HIDDEN_LIQUID = "hidden_liquid"  # an expansion valve stuck open and the bypass leaking, both at once
    INJECTION_STUCK_SHUT = "injection_stuck_shut"  # whatever its valve is told
    INJECTION_STUCK_OPEN = "injection_stuck_open"


Severities = Mapping[FaultKind, float]


@dataclass(frozen=True)
class Fault:
    """Grows evenly from nothing to its severity (0..1), and stays."""

    kind: FaultKind
    severity: float
    begins_us: int
    grows_s: float = 3600.0

    def severity_at(self, time_us: int) -> float:
        grown = (time_us - self.begins_us) / (self.grows_s * 1e6)
        return self.severity * min(max(grown, 0.0), 1.0)


def severities(faults: Iterable[Fault], time_us: int) -> dict[FaultKind, float]:
    """Every kind with how bad it is now; 0 where there is none."""
    found = dict.fromkeys(FaultKind, 0.0)
    for fault in faults:
        found[fault.kind] = max(found[fault.kind], fault.severity_at(time_us))
    hidden = found[FaultKind.HIDDEN_LIQUID]
    for kind in (FaultKind.VALVE_STUCK_OPEN, FaultKind.BYPASS_LEAKING):
        found[kind] = max(found[kind], hidden)
    return found
