"""The quantities of the high side: saturated condensing temperature, pressure ratio, subcooling."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from agent.assess.assessment import (
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SUBCOOLING,
    Cause,
    Said,
    Status,
)
from agent.assess.frames import FloatArray, IntArray
from agent.assess.judge import NOT_JUDGED, Judge
from agent.assess.module import Module
from agent.assess.stretch import Track
from agent.piping import (
    STEADY_MODES,
    Layout,
    LiquidFitness,
    Situation,
    Standing,
    SubcoolingFitness,
    subcooling_probes,
)
from agent.thermo import (
    REFRIGERANTS,
    Measured,
    bubble_temperature,
    dew_slope,
    dew_temperature,
    subcooling,
)

NO_DISCHARGE_TRANSDUCER = "the layout has no transducer on the discharge side"


def highside_tracks(judge: Judge) -> dict[str, Track]:
    """Every quantity of the high side that is no compressor's own, by name."""
    transducer = judge.module.layout.discharge_transducer
    if transducer is None or transducer not in judge.module.signals:
        text = f"{transducer} is not among the module's signals" if transducer else NO_DISCHARGE_TRANSDUCER
        nothing = judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
        return dict.fromkeys((SATURATED_CONDENSING, PRESSURE_RATIO, SUBCOOLING), nothing)
    condensing = _condensing(judge, transducer)
    return {
        SATURATED_CONDENSING: condensing,
        PRESSURE_RATIO: _ratio(judge, transducer, condensing.value),
        SUBCOOLING: _subcooling(judge, transducer),
    }


def _condensing(judge: Judge, transducer: str) -> Track:
    refrigerant, pressure = judge.module.refrigerant, judge.frame(transducer).value
    value = np.asarray(dew_temperature(refrigerant, pressure))
    spread = 2 * np.asarray(dew_slope(refrigerant, pressure)) * judge.pressure_uncertainty(transducer)
    said = judge.say(Said(Status.DECIDED, Cause.NONE, f"from {transducer}", None, ()))
    judge.doubt(said, value, (transducer,), "saturated condensing temperature", transducer)
    return Track(value, spread, spread, said)


def _ratio(judge: Judge, transducer: str, condensing_c: FloatArray) -> Track:
    """Discharge to suction pressure, both absolute; whether it is settled is told by the lift [K]."""
    high, low = (
        np.where(pressure > 0, pressure, np.nan)
        for pressure in (judge.frame(transducer).value, judge.frame(judge.transducer).value)
    )
    lift = condensing_c - dew_temperature(judge.module.refrigerant, low)
    value = np.where(np.isnan(lift), np.nan, high / low)
    relative = np.hypot(judge.uncertainty(transducer) / high, judge.uncertainty(judge.transducer) / low)
    spread = 2 * value * relative  # JCGM 100:2008, 5.1.6
    said = judge.say(Said(Status.DECIDED, Cause.NONE, f"{transducer} to {judge.transducer}", None, ()))
    judge.doubt(said, lift, (transducer, judge.transducer), "the pressure ratio", "a pressure")
    judge.not_judged(said)
    return Track(value, spread, spread, said)


def _subcooling(judge: Judge, transducer: str) -> Track:
    """Only where a liquid probe truly sees what leaves the condensers, situation by situation."""
    module = judge.module
    if not module.layout.is_known or not module.layout.liquid:
        text = "the layout describes no liquid side"
        return judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
    available = frozenset(probe for probe in module.layout.liquid_probes if probe in module.signals)
    value, below, above = (np.full(judge.grid_us.shape, np.nan) for _ in range(3))
    said = np.zeros(judge.grid_us.shape, np.int64)
    for number, (situation, _) in enumerate(judge.situations):
        here = judge.situation == number
        probe, found = _probe(module.layout, situation, available)
        words = judge.say(found)
        if probe is not None:
            measured = _measured(judge, transducer, probe)
            for whole, part in zip((value, below, above), measured, strict=True):
                whole[here] = part[here]
            judge.doubt(words, measured.value, (probe, transducer), f"subcooling at {probe}", transducer)
            _contradiction(judge, words, measured, transducer, probe)
            judge.unknown_running(words, measured.value)
        elif situation.mode == "unknown":
            judge.unknown_mode(words)
        said[here] = words[here]
    return Track(value, below, above, said)


@lru_cache(maxsize=4096)
def _probe(layout: Layout, situation: Situation, available: frozenset[str]) -> tuple[str | None, Said]:
    """The probe that tells subcooling in a situation, and what is said of it; None: none does."""
    mode = situation.mode
    if mode not in STEADY_MODES:
        text = f"in mode {mode} {NOT_JUDGED}"
        return None, Said(Status.NOT_DECIDABLE, Cause.MODE, text, Standing.NOT_DECIDABLE, ())
    if mode not in layout.modes:
        text = f"layout {layout.name} does not describe {mode}"
        return None, Said(Status.NOT_DECIDABLE, Cause.PIPING, text, Standing.NOT_DECIDABLE, ())
    found = {
        probe: each
        for probe, each in subcooling_probes(layout, situation, available).items()
        if probe in available
    }
    for probe, each in found.items():
        if each.verdict is LiquidFitness.FIT:
            return probe, Said(Status.DECIDED, Cause.NONE, each.reason, _standing(each), (probe,))
    reasons = [f"{probe}: {each.reason}" for probe, each in found.items()]
    text = "; ".join(reasons) or "no probe on the liquid side gives readings"
    unproven = any(each.verdict is LiquidFitness.UNPROVEN for each in found.values())
    if unproven or any(_is_fit(layout, better, available) for better, _ in situation.better(layout)):
        return None, Said(Status.NOT_DECIDABLE, Cause.PIPING, text, Standing.NOT_DECIDABLE, ())
    return None, Said(Status.NOT_MEASURABLE, Cause.PIPING, text, Standing.NOT_MEASURABLE, ())


def _is_fit(layout: Layout, situation: Situation, available: frozenset[str]) -> bool:
    found = subcooling_probes(layout, situation, available)
    return any(found[probe].verdict is LiquidFitness.FIT for probe in available)


def _standing(found: SubcoolingFitness) -> Standing:
    """After an exchanger a high one proves nothing of the condenser; after a vessel nothing does."""
    kinds = {place.kind for place in found.behind}
    if "vessel" in kinds:
        return Standing.SECOND_BEST
    return Standing.UPPER_BOUND if "exchanger" in kinds else Standing.FIT


def _measured(judge: Judge, transducer: str, probe: str) -> Measured[FloatArray]:
    module = judge.module
    return subcooling(
        module.refrigerant,
        judge.frame(probe).value,
        judge.frame(transducer).value,
        u_temperature_k=judge.uncertainty(probe),
        u_pressure_pa=judge.uncertainty(transducer),
        u_model_fraction=REFRIGERANTS[module.refrigerant].u_model_fraction,
        loss_pa=_loss_pa(module, probe),
    )


def _loss_pa(module: Module, probe: str) -> tuple[float, float]:
    """Pressure at a liquid probe minus that at the discharge transducer: liquid has passed a condenser."""
    known = module.known_loss_pa.get(probe)
    return (-module.high_side_loss_pa, 0.0) if known is None else (known, known)


def _contradiction(
    judge: Judge, said: IntArray, measured: Measured[FloatArray], transducer: str, probe: str
) -> None:
    """Nothing that has condensed is hotter than vapour that has not."""
    refrigerant, pressure = judge.module.refrigerant, judge.frame(transducer).value
    glide = dew_temperature(refrigerant, pressure) - bubble_temperature(refrigerant, pressure)
    hotter = measured.value + 2 * measured.above < -glide
    text = f"{probe} is hotter than condensing: a reading, the refrigerant or the layout is wrong"
    judge.overrule(said, hotter, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
