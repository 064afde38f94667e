"""What a module's instruments can tell, and which limits its alarms have, in words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from agent.alarms.catalogue import SUPERHEAT_LOW
from agent.assess import superheat_at
from agent.settings import ModulePlan
from agent.thermo import Measured, dew_temperature

TYPICAL_C = 5.0  # saturated suction; common practice, no source
_SEARCHED_PA = np.geomspace(50e3, 4e6, 2000)


def uncertainties(module: ModulePlan) -> dict[str, Measured[float]]:
    """Superheat with its uncertainty at each suction probe that gives readings, at a typical pressure."""
    core = module.module
    pressure_pa = _typical_pressure_pa(core.refrigerant)
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
    pressure_pa = _typical_pressure_pa(module.module.refrigerant)
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
    """The alarms that have a limit in kelvin."""
    for entry in module.catalogue.values():
        limits = entry.limits
        if limits.limit_k is not None:
            second = f", {limits.second_best_k:g} K where second best" if limits.second_best_k else ""
            yield f"  {entry.name}: {limits.limit_k:g} K{second}, for {limits.on_delay_s / 60:g} min"


def _loss(module: ModulePlan, probe: str) -> str:
    if probe in module.module.known_loss_pa:
        return f", with a pressure loss of {module.module.known_loss_pa[probe] / 1e3:g} kPa taken off"
    return ""


def _typical_pressure_pa(refrigerant: str) -> float:
    """The absolute pressure at which the dew temperature is typical."""
    dew = np.asarray(dew_temperature(refrigerant, _SEARCHED_PA))
    known = np.isfinite(dew)
    return float(np.interp(TYPICAL_C, dew[known], _SEARCHED_PA[known]))
