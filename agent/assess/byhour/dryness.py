"""What a module's own settled dry hours tell of its compressors: its band for wet compression narrows.

An hour counts as dry where return superheat, by probes that see all that comes back, lies above zero by far
more than its uncertainty, with injection and bypasses known shut all the time. From it, the
lumped isentropic efficiency follows. It is taken as it comes: with the heat the shell loses, the clamp's
error and what oil and hot gas bring, since all of these stand in the live figures too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from agent.assess.assessment import DISCHARGE_MARGIN, DISCHARGE_SUPERHEAT
from agent.assess.byhour.baseline import FEWEST_HOURS, Baseline
from agent.assess.byhour.efficiencies import RANGES, SLOW, kinds
from agent.assess.byhour.hours import Hour, Stats
from agent.assess.frames import FloatArray
from agent.assess.module import Dry, Module
from agent.assess.signals import speed_of
from agent.piping import RETURN, Standing
from agent.thermo import implied_efficiency

DRY_K = 2.0  # by which return superheat less its uncertainty exceeds zero, all the hour; design choice
DECIDED_SHARE = 0.9  # of the discharge: what is not settled may be near zero; design choice, no source
BEYOND = 0.05  # of efficiency, for like speeds and pressures; design choice, no source

HEAT_OR_CLAMP = "its own dry hours do not count: heat loss or a low clamp"


def dry_history(module: Module, baseline: Baseline) -> Mapping[str, Mapping[str, Dry]]:
    """For `Module.dry`: by mode and compressor the lumped efficiencies that dry hours showed."""
    modes = {mode: dry_efficiencies(module, baseline, mode) for mode in baseline.from_us}
    return {mode: found for mode, found in modes.items() if found}


def dry_efficiencies(module: Module, baseline: Baseline, mode: str) -> dict[str, Dry]:
    """Of each compressor; one that a mode's learnt hours do not tell enough of is absent.

    Where most of its hours lie beyond what such a compressor can do, something else is wrong, and none count.
    """
    hours = baseline.of(mode)
    found = {name: _of(module, hours, mode, name) for name in module.layout.compressors}
    return {name: dry for name, dry in found.items() if dry is not None}


def _of(module: Module, hours: Sequence[Hour], mode: str, compressor: str) -> Dry | None:
    """What a compressor's dry hours show; None where there are too few."""
    rows = [row for hour in hours if (row := _row(module, hour, mode, compressor)) is not None]
    if len(rows) < FEWEST_HOURS:
        return None
    speed_hz, low_pa, suction_k, u_suction, high_pa, discharge_k, u_discharge = np.array(rows).T

    def efficiency(suction: FloatArray, discharge: FloatArray) -> FloatArray:
        return implied_efficiency(module.refrigerant, low_pa, suction, high_pa, discharge)

    middle = efficiency(suction_k, discharge_k)
    spread = np.hypot(  # JCGM 100:2008, 5.1.3 note 2: by the change that each makes
        efficiency(suction_k + u_suction, discharge_k) - middle,
        efficiency(suction_k, discharge_k + u_discharge) - middle,
    )
    kept = np.isfinite(middle) & np.isfinite(spread)
    if kept.sum() < FEWEST_HOURS:
        return None
    middle, spread, speeds, ratio = (each[kept] for each in (middle, spread, speed_hz, high_pa / low_pa))
    most = np.array(RANGES)[kinds(speeds, ratio), 1]
    if np.median(middle - most) > 0:
        return Dry(np.nan, np.nan, (), (np.nan, np.nan), HEAT_OR_CLAMP)
    lowest, highest = RANGES[SLOW]
    low = max(lowest, float((middle - spread).min()) - BEYOND)
    high = min(highest, float((middle + spread).max()) + BEYOND)
    ratios = (float(ratio.min()), float(ratio.max()))
    return Dry(low, high, tuple(speeds.tolist()), ratios) if low < high else None


def _row(module: Module, hour: Hour, mode: str, compressor: str) -> tuple[float, ...] | None:
    part = hour.parts[mode]
    pressures = [
        part.signals.get(name or "")
        for name in (module.layout.suction_transducer, module.layout.discharge_transducer)
    ]
    returned = part.quantities.get(RETURN)
    discharge = part.quantities.get(DISCHARGE_SUPERHEAT + compressor)
    margin = part.quantities.get(DISCHARGE_MARGIN + compressor)
    speed = part.signals.get(speed_of(compressor))
    low, high = pressures
    if (
        speed is None
        or low is None
        or high is None
        or returned is None
        or discharge is None
        or margin is None
    ):
        return None
    if margin.number < discharge.number:  # something cooled the discharge meanwhile
        return None
    if returned.number < DECIDED_SHARE * discharge.number or returned.least - returned.below <= DRY_K:
        return None
    if not _sees_all(module, hour, mode):
        return None
    return (
        speed.mean,
        low.mean,
        returned.mean,
        _wider(returned),
        high.mean,
        discharge.mean,
        _wider(discharge),
    )


def _sees_all(module: Module, hour: Hour, mode: str) -> bool:
    """Its return superheat was by fit probes, and whatever may be let in was known shut."""
    layout, part = module.layout, hour.parts[mode]

    def state(valve: str) -> bool | None:
        return _state(part.signals.get(valve), part.settled)

    let_in = [inlet.valve for inlet in layout.inlets.values() if inlet.valve is not None]
    if layout.injection is not None:
        let_in.append(layout.injection.valve or "")
    if any(state(valve) is not False for valve in let_in):
        return False
    states = {valve: state(valve) for valve in layout.valves}
    some = {name for name, number in hour.running.items() if number}
    always = all(hour.running[name] in (0, hour.known[name]) for name in hour.running)
    probes = [name for name in layout.suction_probes if name in part.signals]
    choice = layout.choose(mode, states, some if always and some else None, probes).places[RETURN]
    return choice.standing in (Standing.FIT, Standing.COVERING)


def _state(stats: Stats | None, settled: int) -> bool | None:
    """Of a valve all through an hour; None: not known, or it changed."""
    if stats is None or stats.number < settled:
        return None
    return False if stats.most <= 0 else True if stats.least > 0 else None


def _wider(stats: Stats) -> float:
    return max(stats.below, stats.above)
