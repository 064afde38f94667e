"""What a module's instruments can tell, and which limits its alarms have, in words."""

from __future__ import annotations

from collections.abc import Iterator

from agent.alarms.catalogue import SUPERHEAT_LOW
from agent.assess import superheat_at, typical_dew_c
from agent.settings import ModulePlan
from agent.thermo import Measured, dew_pressure

TYPICAL_C = typical_dew_c("cooling")  # saturated suction


def uncertainties(module: ModulePlan) -> dict[str, Measured[float]]:
    """Superheat with its uncertainty at each suction probe that gives readings, at a typical pressure."""
    core = module.module
    pressure_pa = dew_pressure(core.refrigerant, TYPICAL_C)
    return {
        probe: superheat_at(core, probe, TYPICAL_C + 5.0, pressure_pa)
        for probe in core.layout.suction_probes
        if probe in core.signals
    }


def instrument_lines(module: ModulePlan) -> Iterator[str]:
    """What may be wrong by how much, and whether dry suction can be proved at all."""
    found = uncertainties(module)
    if not found:
        yield "No suction probe of the layout gives readings: no superheat, and no uncertainty of one."
        return
    pressure_pa = dew_pressure(module.module.refrigerant, TYPICAL_C)
    yield (
        f"Uncertainty of superheat (k = 2) near {TYPICAL_C:g} degC saturated suction, "
        f"{pressure_pa / 1e3:.0f} kPa absolute of {module.module.refrigerant}:"
    )
    limit = module.catalogue[SUPERHEAT_LOW.name].limits.limit_k
    for probe, measured in found.items():
        doubt = ""
        if limit is not None and measured.below > limit:
            doubt = f"; they cannot prove dry suction near the limit of {limit:g} K"
        yield f"  {probe}: -{measured.below:.1f} +{measured.above:.1f} K{_loss(module, probe)}{doubt}"


def limit_lines(module: ModulePlan) -> Iterator[str]:
    """The alarms that have a limit."""
    for entry in module.catalogue.values():
        limits = entry.limits
        if limits.limit_k is not None:
            second = f", {limits.second_best_k:g} K where second best" if limits.second_best_k else ""
            yield f"  {entry.name}: {limits.limit_k:g} K{second}, for {limits.on_delay_s / 60:g} min"
        if limits.limit_c is not None:
            urgent = f", urgent from {limits.urgent_c:g} degC" if limits.urgent_c is not None else ""
            yield f"  {entry.name}: {limits.limit_c:g} degC{urgent}, for {limits.on_delay_s / 60:g} min"


def _loss(module: ModulePlan, probe: str) -> str:
    if probe in module.module.known_loss_pa:
        return f", with a pressure loss of {module.module.known_loss_pa[probe] / 1e3:g} kPa taken off"
    return ""
