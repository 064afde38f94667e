"""The compressors of the bench: what they make of the vapour that they take in, and injection of that.

It must not know of controllers, time or piping.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from demo_feed.refrigerant import Refrigerant

SHELL_LOSS = 0.08  # of the work; all figures here are design choices, no source
INJECTED_SHARE = {"vapour": 0.3, "liquid": 0.07}  # of a compressor's flow, the valve wide open
LEAK_COSTS = 0.15  # of the efficiency of compressor 1, its valves leaking with severity 1

Discharges = tuple[float | None, ...]  # degC by compressor, None where it stands


@dataclass(frozen=True)
class Stage:
    """All compressors of a circuit between two pressures, by their dew temperatures; flows in kg/s."""

    gas: Refrigerant
    suction_c: float
    condensing_c: float
    delivered: Sequence[float]
    speeds_hz: Sequence[float]
    best_efficiency: float  # isentropic

    def compressed(self, intake: float, leak: float) -> tuple[Discharges, tuple[float, ...]]:
        """Discharge temperatures without injection, and powers in W; ``intake`` in J/kg."""
        gas, condensing_c = self.gas, self.condensing_c
        ratio = gas.dew_pressure(condensing_c) / gas.dew_pressure(self.suction_c)
        ideal = max(gas.isentropic_enthalpy(self.suction_c, intake, condensing_c) - intake, 1e3)
        temperatures: list[float | None] = []
        powers = []
        for number, (flow, speed) in enumerate(zip(self.delivered, self.speeds_hz, strict=True)):
            if speed <= 0:
                temperatures.append(None)
                powers.append(0.0)
                continue
            lost = 0.10 * ((speed - 55.0) / 50.0) ** 2 + 0.02 * (ratio - 2.6) ** 2
            efficiency = max(self.best_efficiency - lost, 0.5)
            efficiency *= 1.0 - (LEAK_COSTS * leak if number == 0 else 0.0)
            work = ideal / efficiency
            leaving = intake + work * (1.0 - SHELL_LOSS)
            temperatures.append(condensing_c + gas.superheat_of(condensing_c, leaving))
            powers.append(flow * work)
        return tuple(temperatures), tuple(powers)

    def with_injection(
        self, discharges: Discharges, kind: str | None, opening: float
    ) -> tuple[Discharges, float]:
        """Discharge temperatures with what is injected, and the enthalpy flow that leaves in W."""
        gas, condensing_c = self.gas, self.condensing_c
        share = INJECTED_SHARE.get(kind or "", 0.0) * opening
        liquid = gas.liquid_enthalpy(condensing_c - 5.0)
        brought = gas.vapour_enthalpy(18.0, 1.0) if kind == "vapour" else liquid
        cooled: list[float | None] = []
        leaving = 0.0
        for flow, hot_c in zip(self.delivered, discharges, strict=True):
            if hot_c is None:
                cooled.append(None)
                continue
            enthalpy = gas.vapour_enthalpy(condensing_c, hot_c - condensing_c)
            enthalpy = (enthalpy + share * brought) / (1.0 + share)
            cooled.append(condensing_c + gas.superheat_of(condensing_c, enthalpy))
            leaving += flow * enthalpy
        return tuple(cooled), leaving
