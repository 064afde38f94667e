"""What looks wrong with a module's instruments and its refrigerant over hours, with the evidence for it.

The same relations and the same mistakes as for readings fresh from a gateway (`plausible`), held against
settled hours and against hours at rest; and the order of two probes on one pipe, which takes hours to tell.
They are suspicions: they raise no alarm, change nothing, and what cannot be told says so. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from agent.assess.byhour.hours import HOUR_US, Hour, Part
from agent.assess.byhour.rest import OFF
from agent.assess.frames import FloatArray
from agent.assess.instruments import loss_pa, uncertainty
from agent.assess.mode_codes import CODE
from agent.assess.module import Module
from agent.assess.plausible import plausible
from agent.assess.plausible.mistakes import LOOK_POINTS
from agent.assess.plausible.picture import Picture
from agent.assess.plausible.relations import BELOW_DEW_K, REST_K
from agent.assess.plausible.taken import PRESSURE, TEMPERATURE, Findings, Other, Suspicion, Taken
from agent.assess.signals import LIQUID_LINE, OUTDOOR_AIR
from agent.piping import STEADY_MODES, Effect, Fitness, Place
from agent.thermo import REFRIGERANTS, dew_slope, dew_temperature
from agent.thermo.atmosphere import SEA_LEVEL_PRESSURE_PA as ATMOSPHERE_PA

# Design choices, no source.
FEWEST_SETTLED, FEWEST_AT_REST = 6, 3  # hours
RESTED_HOURS = 3  # wholly off in a row, of which the last counts: pipes and air have come together
SWAPPED_K = 3.0  # that a later probe must read colder, beyond the errors of both
SWAPPED_SHARE = 0.9  # of the settled hours of a mode

# What mapped values may be without the mistake: SI as mapped, times and plus.
_MEANT = (Other("in degF", 5 / 9, -160 / 9), Other("in degC", 9 / 5, 32.0))
_REFERENCES = (Other("as gauge", 1.0, ATMOSPHERE_PA), Other("as absolute", 1.0, -ATMOSPHERE_PA))


def suspicions(module: Module, hours: Sequence[Hour], others: Sequence[Sequence[Hour]] = ()) -> Findings:
    """Suspicions over a module's hours, ascending.

    ``others``: the hours of the other modules of its system. One that runs keeps the pressure from rest, so
    that an hour counts as at rest only where every one of them is known to have stood.
    """
    rested = _rested(hours, others)
    settled = [hour for hour in hours if hour.settled_mode in STEADY_MODES]
    work = [(hour, str(hour.settled_mode)) for hour in settled] if len(settled) >= FEWEST_SETTLED else []
    rest = [(hour, OFF) for hour in rested] if len(rested) >= FEWEST_AT_REST else []
    found, unknown = list[Suspicion](), list(_too_few(settled, rested))
    signals = _signals(module)
    if work or rest:
        found += plausible.explained(_picture(module, signals, work + rest), signals)
    doubted = {name for each in found for name in each.signals}
    found += [each for each in _out_of_order(module, work) if not doubted & set(each.signals)]
    if rest and not any(each.kind == "rest" for each in found):
        unknown += _cannot_tell_at_rest(_picture(module, signals, rest))
    return Findings(tuple(found), tuple(unknown))


def _rested(hours: Sequence[Hour], others: Sequence[Sequence[Hour]]) -> list[Hour]:
    """The hours in which the module, and all beside it, had been off for long."""
    off = [hour for hour in hours if _wholly_off(hour)]
    for beside in others:
        stood = {hour.from_us for hour in beside if _wholly_off(hour)}
        off = [hour for hour in off if hour.from_us in stood]
    begun = {hour.from_us for hour in off}
    before = range(HOUR_US, RESTED_HOURS * HOUR_US, HOUR_US)
    return [hour for hour in off if all(hour.from_us - back in begun for back in before)]


def _wholly_off(hour: Hour) -> bool:
    return hour.parts.keys() == {OFF}


def _signals(module: Module) -> dict[str, Taken]:
    """What each signal measures, and what else its mapped values could mean."""
    layout = module.layout
    pressures = [layout.suction_transducer, layout.discharge_transducer]
    pipes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes)
    temperatures = dict.fromkeys((*pipes, LIQUID_LINE, OUTDOOR_AIR))
    nothing = np.empty(0, np.int64), (), np.empty(0)
    measured = {n: Taken(*nothing, TEMPERATURE, "mapped", _MEANT) for n in temperatures}
    measured |= {n: Taken(*nothing, PRESSURE, "mapped", (), _REFERENCES) for n in pressures if n is not None}
    return {name: taken for name, taken in measured.items() if name in module.signals}


def _picture(module: Module, signals: Mapping[str, Taken], rows: Sequence[tuple[Hour, str]]) -> Picture:
    """Hours as grid times, an hour's mean as its value."""
    parts = [hour.parts[mode] for hour, mode in rows]
    names = [name for name in module.signals if name in signals or name in module.layout.valves]
    values = {name: _means(parts, name) for name in names}
    return Picture(
        module=module,
        units={name: taken.unit for name, taken in signals.items()},
        value={name: value for name, value in values.items() if not np.isnan(value).all()},
        mode=np.array([CODE[mode] for _, mode in rows]),
        running={
            name: np.array([_ran(hour, name) for hour, _ in rows]) for name in module.layout.compressors
        },
        runs=np.array([int(mode != OFF) for _, mode in rows]),
        lasted=np.full(len(rows), True),
        refrigerant=module.refrigerant,
        step_us=HOUR_US,
        single=frozenset(),
    )


def _means(parts: Sequence[Part], name: str) -> FloatArray:
    return np.array([part.signals[name].mean if name in part.signals else np.nan for part in parts])


def _ran(hour: Hour, compressor: str) -> int:
    """Whether a compressor ran for most of an hour: 1, 0, and -1 where it is not known."""
    if not hour.known.get(compressor):
        return -1
    return int(2 * hour.running[compressor] > hour.known[compressor])


def _out_of_order(module: Module, rows: Sequence[tuple[Hour, str]]) -> Iterator[Suspicion]:
    """Two probes on the way of one vapour, of which the later one is colder although nothing cools it."""
    layout = module.layout
    probes = [probe for probe in layout.suction_probes if probe in module.signals]
    for first, second in combinations(probes, 2):
        if Place("probe", second) not in layout.downstream(Place("probe", first)):
            continue
        for mode in STEADY_MODES:
            parts = [
                hour.parts[mode]
                for hour, known in rows
                if known == mode and _in_turn(module, hour, mode, first, second)
            ]
            if len(parts) >= FEWEST_SETTLED:
                yield from _colder(module, parts, mode, first, second)


def _in_turn(module: Module, hour: Hour, mode: str, first: str, second: str) -> bool:
    """Whether the same vapour passes both, and nothing but warmer streams joins on the way."""
    layout, part = module.layout, hour.parts[mode]
    valves = {v: part.signals[v].mean > 0 if v in part.signals else None for v in layout.valves}
    running = [name for name in layout.compressors if _ran(hour, name) == 1]
    fitness = layout.fitness(mode, valves, running or None)
    ahead, after = fitness[first], fitness[second]
    flows = ahead.verdict is Fitness.FIT and after.verdict in (Fitness.FIT, Fitness.MIXED)
    return flows and all(layout.inlets[name].effect is Effect.WARMS for name in after.joined - ahead.joined)


def _colder(module: Module, parts: Sequence[Part], mode: str, first: str, second: str) -> Iterator[Suspicion]:
    layout = module.layout
    ahead, after, pressure = (_means(parts, name) for name in (first, second, layout.suction_transducer))
    slope = np.asarray(dew_slope(module.refrigerant, pressure))
    lost_pa = loss_pa(module, first)[1] - loss_pa(module, second)[0]
    errors_k = 2 * np.hypot(uncertainty(module, first), uncertainty(module, second))
    bound_k = SWAPPED_K + errors_k + np.nan_to_num(slope * lost_pa)
    apart = after - ahead
    there = ~np.isnan(apart)
    if there.sum() < FEWEST_SETTLED or (apart < -bound_k)[there].mean() < SWAPPED_SHARE:
        return
    superheat_k = float(np.nanmedian(after - np.asarray(dew_temperature(module.refrigerant, pressure))))
    apart_k = float(np.nanmedian(apart))
    seen = (
        f"in {mode} {second} read {-apart_k:.1f} K below {first} over {int(there.sum())} settled hours, "
        "although it sits after it and nothing on the way cools the vapour by so much"
    )
    would = f"it would be ordinary if {first} and {second} were swapped"
    if superheat_k < -BELOW_DEW_K:
        would = f"being swapped would not explain it: {second} lies {-superheat_k:.1f} K below saturation"
    between = layout.downstream(Place("probe", first)) & layout.upstream(Place("probe", second))
    if any(place.kind == "vessel" for place in between):
        would += ", or while liquid boiled off in the vessel between them"
    look = f"{LOOK_POINTS}; the layout, whether it is the right one"
    yield Suspicion("order", (first, second), seen, would, look)


def _too_few(settled: Sequence[Hour], rested: Sequence[Hour]) -> Iterator[str]:
    if len(settled) < FEWEST_SETTLED:
        yield f"swapped probes and wrong units: {len(settled)} of {FEWEST_SETTLED} settled hours of running"
    if len(rested) < FEWEST_AT_REST:
        yield (
            f"gauge or absolute, and which refrigerant it is: {len(rested)} of {FEWEST_AT_REST} hours at "
            f"rest (an hour counts when everything stood still for {RESTED_HOURS - 1} h before it)"
        )


def _cannot_tell_at_rest(seen: Picture) -> Iterator[str]:
    """Gauge or absolute where something hides it, and the refrigerants that would look the same."""
    pressure_pa = seen.value.get(seen.module.layout.suction_transducer)
    if pressure_pa is None:
        yield "gauge or absolute, and which refrigerant it is: there was no suction pressure at rest"
        return
    yield from plausible.cannot_tell_at_rest(seen)
    at_pa = float(np.nanmedian(pressure_pa))
    stands_c = dew_temperature(seen.refrigerant, at_pa)
    apart_k = {name: dew_temperature(name, at_pa) - stands_c for name in REFRIGERANTS}
    alike = [
        f"{name} ({by_k:+.1f} K)"
        for name, by_k in apart_k.items()
        if name != seen.refrigerant and abs(by_k) <= REST_K
    ]
    if alike:
        yield (
            f"{seen.refrigerant} from {' or '.join(alike)}: at {at_pa / 1e3:.0f} kPa absolute, as at rest, "
            "they saturate at too nearly the same temperature"
        )
