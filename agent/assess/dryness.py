"""What a module's own settled dry hours tell of its compressors: its band for wet compression narrows.

An hour counts as dry where return superheat lies above zero by far more than its uncertainty. From it, the
lumped isentropic efficiency follows. It is taken as it comes: with the heat the shell loses, the clamp's
error and what oil and hot gas bring, since all of these stand in the live figures too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from agent.assess.assessment import DISCHARGE_MARGIN, DISCHARGE_SUPERHEAT
from agent.assess.baseline import FEWEST_HOURS, Baseline
from agent.assess.frames import FloatArray
from agent.assess.hours import Hour, Stats
from agent.assess.module import Module
from agent.piping import RETURN
from agent.thermo import LUMPED_EFFICIENCIES_HARD, implied_efficiency

DRY_K = 2.0  # by which return superheat less its uncertainty exceeds zero, all the hour; design choice
BEYOND = 0.05  # of efficiency, for speeds and pressures that were not learnt; design choice, no source

Range = tuple[float, float]


def dry_history(module: Module, baseline: Baseline) -> Mapping[str, Mapping[str, Range]]:
    """For `Module.dry`: by mode and compressor the least and most lumped efficiency that dry hours showed."""
    modes = {mode: dry_efficiencies(module, baseline, mode) for mode in baseline.from_us}
    return {mode: found for mode, found in modes.items() if found}


def dry_efficiencies(module: Module, baseline: Baseline, mode: str) -> dict[str, Range]:
    """Of each compressor; one that a mode's learnt hours do not tell enough of is absent.

    Never outside the general band: where its history lies beyond, something else is wrong, and it does not
    count.
    """
    found = {}
    for compressor in module.layout.compressors:
        efficiencies = _of(module, baseline.of(mode), mode, compressor)
        if len(efficiencies):
            low, high = LUMPED_EFFICIENCIES_HARD
            low = max(low, float(efficiencies.min()) - BEYOND)
            high = min(high, float(efficiencies.max()) + BEYOND)
            if low < high:
                found[compressor] = (low, high)
    return found


def _of(module: Module, hours: Sequence[Hour], mode: str, compressor: str) -> FloatArray:
    """Both ends of each dry hour's efficiency; none where there are too few hours."""
    rows = [row for hour in hours if (row := _row(module, hour, mode, compressor)) is not None]
    if len(rows) < FEWEST_HOURS:
        return np.empty(0)
    low_pa, suction_k, u_suction, high_pa, discharge_k, u_discharge = np.array(rows).T

    def efficiency(suction: FloatArray, discharge: FloatArray) -> FloatArray:
        return implied_efficiency(module.refrigerant, low_pa, suction, high_pa, discharge)

    middle = efficiency(suction_k, discharge_k)
    spread = np.hypot(  # JCGM 100:2008, 5.1.3 note 2: by the change that each makes
        efficiency(suction_k + u_suction, discharge_k) - middle,
        efficiency(suction_k, discharge_k + u_discharge) - middle,
    )
    ends = np.concatenate((middle - spread, middle + spread))
    kept = ends[np.isfinite(ends)]
    return kept if len(kept) >= 2 * FEWEST_HOURS else np.empty(0)


def _row(module: Module, hour: Hour, mode: str, compressor: str) -> tuple[float, ...] | None:
    part = hour.parts[mode]
    pressures = [
        part.signals.get(name or "")
        for name in (module.layout.suction_transducer, module.layout.discharge_transducer)
    ]
    returned = part.quantities.get(RETURN)
    discharge = part.quantities.get(DISCHARGE_SUPERHEAT + compressor)
    margin = part.quantities.get(DISCHARGE_MARGIN + compressor)
    low, high = pressures
    if low is None or high is None or returned is None or discharge is None or margin is None:
        return None
    if margin.number < discharge.number:  # something cooled the discharge meanwhile
        return None
    if returned.least - returned.below <= DRY_K:
        return None
    return (low.mean, returned.mean, _wider(returned), high.mean, discharge.mean, _wider(discharge))


def _wider(stats: Stats) -> float:
    return max(stats.below, stats.above)
