"""What holds between the signals of an ordinary module, whatever its load: the yardstick for a mapping.

Each relation is wide enough for any healthy module and for most faults of the circuit, so that breaking one
says "look at the mapping" and not "look at the refrigerant". The bounds are common practice, no source,
except where physics gives them: nothing on a suction line is colder than saturation at its pressure, heat
flows from warm to cold, and a module that has stood for long has one temperature.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from agent.assess.failing.scene import VAPOUR
from agent.assess.frames import BoolArray, FloatArray
from agent.assess.mode_codes import CODE
from agent.assess.plausible.picture import Picture
from agent.assess.plausible.taken import PRESSURE, TEMPERATURE, Signals
from agent.assess.signals import LIQUID_LINE, OUTDOOR_AIR
from agent.piping import Fitness, loss_side
from agent.piping.graph import Place, reachable
from agent.thermo import bubble_temperature, dew_slope, dew_temperature
from agent.thermo.atmosphere import SEA_LEVEL_PRESSURE_PA as ATMOSPHERE_PA

LOWEST_C, HIGHEST_C = -60.0, 150.0  # anywhere on a module
SUCTION_C, DISCHARGE_C, STANDING_C = (-48.0, 30.0), (5.0, 72.0), (-50.0, 66.0)  # saturation
MOST_SUPERHEAT_K = 35.0
BELOW_DEW_K = 1.5  # beyond the instruments' limits of error
BELOW_CONDENSING_K = 12.0  # a long pipe of hot gas loses heat
BELOW_DISCHARGE_K = 5.0  # a clamp on a hot pipe reads low
AIR_C = (-45.0, 56.0)
LEAST_RATIO = 1.1  # of the pressures while a compressor runs
AIR_K = 3.0
REST_SPREAD_K = 3.0  # between the temperatures of a module that has come to rest
REST_K = 2.5  # between them and saturation then
REST_RATIO = 1.03  # of the pressures then
ROOM_C = 15.0  # no room is cooled to less: in warmer weather the rooms' end of the circuit sets the pressure
ATMOSPHERE_APART_PA = 15e3  # by how much pressures may miss one atmosphere and still be told to lie one apart
OIL_WARMS_K = 10.0  # what may lift a mixed stream above saturated condensing, where that is low
TOO_COLD, TOO_HOT = "nothing at a module is so cold", "nothing at a module is so hot"
BROKEN_SHARE = 0.8  # of the times at which a relation applies and does not hold


class Relation(NamedTuple):
    """One relation at the grid times; ``seen``: a sentence on how it is broken, where it is."""

    key: tuple[str, ...]  # its name, then its signals
    applies: BoolArray
    holds: BoolArray
    seen: str

    @property
    def broken(self) -> bool:
        here = int(self.applies.sum())
        return here > 0 and int((self.applies & ~self.holds).sum()) >= BROKEN_SHARE * here


def relations(seen: Picture, signals: Signals) -> Iterator[Relation]:
    """Every relation that the signals of the module allow to look at."""
    layout = seen.module.layout
    measured = {n: t for n, t in signals.items() if n in seen.value}
    for name, taken in measured.items():
        if taken.dimension == PRESSURE:
            yield _pressure(seen, name)
        elif taken.dimension == TEMPERATURE:
            yield _temperature(seen, name)
    low, high = layout.suction_transducer, layout.discharge_transducer
    if low in measured and high in measured:
        yield _order(seen, low, high)
    if OUTDOOR_AIR in measured:
        yield _air(seen)
    if low in measured:
        yield _rest(seen, [n for n, t in measured.items() if t.dimension == TEMPERATURE])


def _pressure(seen: Picture, name: str) -> Relation:
    layout = seen.module.layout
    pressure = seen.value[name]
    saturation = dew_temperature(seen.refrigerant, pressure)
    usual = {layout.suction_transducer: SUCTION_C, layout.discharge_transducer: DISCHARGE_C}
    lowest, highest = usual.get(name, STANDING_C)
    least = np.where(seen.works, lowest, STANDING_C[0])
    most = np.where(seen.works, highest, STANDING_C[1])
    holds = (saturation >= least) & (saturation <= most)
    applies = ~np.isnan(pressure)
    broken = _median(pressure, applies & ~holds)
    text = f"{name} is {_kpa(broken)} taken as {seen.units[name]}"
    if broken < 0:
        text += ", and nothing has less than a vacuum"
    elif broken < 95e3:
        text += ", a vacuum"
    elif broken < 110e3:
        text += ", which is what the open air has"
    else:
        at_c = _median(saturation, applies & ~holds)
        text += f", where {seen.refrigerant} saturates at {at_c:.0f} degC" if at_c == at_c else ", beyond "
        text += "" if at_c == at_c else f"what {seen.refrigerant} has anywhere in a module"
    return Relation(("pressure", name), applies, holds, text)


def _temperature(seen: Picture, name: str) -> Relation:
    """A probe between the bounds that its place and the mode give it."""
    value, suction_c, discharge_c = seen.value[name], seen.suction_c, seen.discharge_c
    coldest, hottest = AIR_C if name == OUTDOOR_AIR else (LOWEST_C, HIGHEST_C)
    low, high = np.full(value.shape, coldest), np.full(value.shape, hottest)
    why_low, why_high = TOO_COLD, TOO_HOT
    returning, hot = _streams(seen, name)
    if name == LIQUID_LINE:
        returning, hot = np.full(value.shape, False), np.full(value.shape, False)
        if suction_c is not None:
            low = np.where(seen.works, np.fmax(low, suction_c - 5.0), low)
        if discharge_c is not None:
            high = np.where(seen.works, np.fmin(high, discharge_c + 4.0), high)
        why_low, why_high = "below saturated suction", "above saturated condensing"
    if suction_c is not None and returning.any():
        low = np.where(returning, np.fmax(low, suction_c - _margin_k(seen, name)), low)
        why_low = "below saturated suction, and no suction pipe can be"
        dry = returning & (seen.fitness[name] != Fitness.MIXED)
        high = np.where(dry, np.fmin(high, suction_c + MOST_SUPERHEAT_K), high)
        why_high = f"more than {MOST_SUPERHEAT_K:.0f} K above saturated suction where vapour returns"
    if discharge_c is not None and returning.any():
        mixed = seen.fitness[name] == Fitness.MIXED
        highest_c = discharge_c + 2.0 + np.where(mixed, OIL_WARMS_K, 0.0)
        above = returning & (value > highest_c)
        high = np.where(returning, np.fmin(high, highest_c), high)
        if above.any():
            why_high = "above saturated condensing where vapour returns"
    if discharge_c is not None and hot.any():
        lost_k = BELOW_CONDENSING_K if name in seen.fitness else BELOW_DISCHARGE_K
        low = np.where(hot, np.fmax(low, discharge_c - lost_k), low)
        why_low = "below saturated condensing where hot gas passes"
    impossible = (value < coldest) | (value > hottest)
    if (impossible & (value > hottest)).sum() >= BROKEN_SHARE * len(value):
        why_high = TOO_HOT
    applies = impossible | (~np.isnan(value) & seen.calm(name, value) & seen.calm_pressures)
    holds = (value >= low) & (value <= high)
    return Relation(
        ("temperature", name), applies, holds, _told(seen, name, applies, low, why_low, high, why_high)
    )


def _streams(seen: Picture, name: str) -> tuple[BoolArray, BoolArray]:
    """Where returning vapour passes a probe, and where hot gas does."""
    layout = seen.module.layout
    if name in seen.fitness:
        returning = seen.works & np.isin(seen.fitness[name], VAPOUR)
        return returning, seen.works & (seen.fitness[name] == Fitness.HIGH_SIDE)
    hot = np.full(seen.mode.shape, False)
    if name in layout.discharge_probes:
        for compressor in layout.compressors:
            if Place("probe", name) in reachable(layout.discharge, Place("compressor", compressor)):
                hot |= seen.running[compressor] == 1
    return np.full(seen.mode.shape, False), hot & seen.works


def _told(
    seen: Picture,
    name: str,
    applies: BoolArray,
    low: FloatArray,
    why_low: str,
    high: FloatArray,
    why_high: str,
) -> str:
    value = seen.value[name]
    under, over = applies & (value < low), applies & (value > high)
    here, why = (under, why_low) if under.sum() > over.sum() else (over, why_high)
    text = f"{name} reads {_median(value, here):.1f} degC, {why}"
    for words, saturation in (
        ("saturated suction", seen.suction_c),
        ("saturated condensing", seen.discharge_c),
    ):
        if words in why and saturation is not None:
            text = text.replace(words, f"{words} ({_median(saturation, here):.1f} degC)")
    return text


def _margin_k(seen: Picture, probe: str) -> float:
    """How far below saturation a healthy probe may read."""
    transducer = seen.module.layout.suction_transducer
    u_k, u_pa = (_limit(seen, name) for name in (probe, transducer))
    slope = _median(dew_slope(seen.refrigerant, seen.value[transducer]), np.full(seen.mode.shape, True))
    after = loss_side(seen.module.layout, probe) in ("lower", "either")
    u_pa += seen.module.unknown_loss_pa if after else 0.0
    return BELOW_DEW_K + u_k + (slope * u_pa if slope == slope else 0.0)


def _limit(seen: Picture, name: str) -> float:
    signal = seen.module.signals[name]
    return signal.half_width + signal.step / 2


def _order(seen: Picture, low: str, high: str) -> Relation:
    suction, discharge = seen.value[low], seen.value[high]
    applies = seen.works & ~np.isnan(suction) & ~np.isnan(discharge)
    holds = discharge >= LEAST_RATIO * suction
    here = applies & ~holds
    text = (
        f"{low} is {_kpa(_median(suction, here))} and {high} {_kpa(_median(discharge, here))} while it runs"
    )
    return Relation(("order", low, high), applies, holds, text)


def _air(seen: Picture) -> Relation:
    """Heat goes out to the air in cooling and comes in from it in heating."""
    air = seen.value[OUTDOOR_AIR]
    none = np.full(air.shape, np.nan)
    suction_c = none if seen.suction_c is None else seen.suction_c
    discharge_c = none if seen.discharge_c is None else seen.discharge_c
    cooling, heating = (seen.works & (seen.mode == CODE[mode]) for mode in ("cooling", "heating"))
    saturation = np.where(cooling, discharge_c, np.where(heating, suction_c, np.nan))
    applies = ~np.isnan(air + saturation) & seen.calm_pressures
    holds = np.where(cooling, saturation - air, air - saturation) >= -AIR_K
    here = applies & ~holds
    rejects = (here & cooling).any()
    text = (
        f"{OUTDOOR_AIR} reads {_median(air, here):.1f} degC, "
        f"{'above saturated condensing' if rejects else 'below saturated suction'} "
        f"({_median(saturation, here):.1f} degC), which "
        f"{'gives heat to' if rejects else 'takes heat from'} that air"
    )
    return Relation(("air", OUTDOOR_AIR), applies, holds, text)


def _rest(seen: Picture, temperatures: list[str]) -> Relation:
    """At rest the coldest liquid sets the pressure, and nothing is far from the air outside.

    The coldest may lie in the rooms, so that only where no room is colder is a low pressure strange. How
    much of a blend is liquid is not known: its temperature lies anywhere between bubble and dew.
    """
    layout = seen.module.layout
    both = (layout.suction_transducer, layout.discharge_transducer)
    transducers = [name for name in both if name is not None and name in seen.value]
    pressures = np.stack([seen.value[t] for t in transducers])
    pipes = [n for n in temperatures if n in layout.suction_probes or n == LIQUID_LINE]
    air = [name for name in temperatures if name == OUTDOOR_AIR]
    nowhere = np.full(seen.mode.shape, np.nan)
    places = np.stack([seen.value[name] for name in pipes + air] or [nowhere])
    coldest, warmest = places.min(axis=0), places.max(axis=0)
    bubble_c, dew_c = (
        f(seen.refrigerant, pressures.mean(axis=0)) for f in (bubble_temperature, dew_temperature)
    )
    saturation = np.where(bubble_c > warmest, bubble_c, dew_c)
    highest, lowest = pressures.max(axis=0), pressures.min(axis=0)
    equal = highest <= REST_RATIO * lowest
    one_apart = np.abs(highest - lowest - ATMOSPHERE_PA) <= ATMOSPHERE_APART_PA
    one_apart &= ~equal & seen.calm_pressures
    applies = seen.stands & (equal | one_apart) & (warmest - coldest <= REST_SPREAD_K) & ~np.isnan(saturation)
    applies &= len(pipes) > 0
    too_high, too_low = bubble_c > warmest + REST_K, dew_c < np.fmin(coldest, ROOM_C) - REST_K
    holds = equal & ~too_high & ~too_low
    here = applies & ~holds
    if (here & one_apart).sum() > (here & equal).sum():
        values = " and ".join(f"{name} {_kpa(_median(seen.value[name], here))}" for name in transducers)
        text = f"at rest, where pressures come to be equal, one atmosphere lies between {values}"
    else:
        off_k = _median(saturation - np.clip(saturation, coldest, warmest), here)
        text = (
            f"at rest {' and '.join(transducers)} make {seen.refrigerant} saturate at "
            f"{_median(saturation, here):.1f} degC, {abs(off_k):.1f} K {'above' if off_k > 0 else 'below'} "
            f"every pipe and the air ({_median(coldest, here):.1f} to {_median(warmest, here):.1f} degC)"
        )
    return Relation(("rest", *transducers), applies, holds, text)


def _median(values: FloatArray, here: BoolArray) -> float:
    found = values[here & ~np.isnan(values)]
    return float(np.median(found)) if found.size else float("nan")


def _kpa(pressure_pa: float) -> str:
    return f"{pressure_pa / 1e3:.0f} kPa absolute"


def glide_k(seen: Picture, transducer: str) -> float:
    """Between bubble and dew at the pressure [K]."""
    pressure = seen.value[transducer]
    glide = dew_temperature(seen.refrigerant, pressure) - bubble_temperature(seen.refrigerant, pressure)
    return _median(glide, np.full(pressure.shape, True))


def dew_shift_k(seen: Picture, transducer: str, by_pa: float) -> float:
    """What a pressure that is wrong by so much makes of the saturation temperature [K]."""
    pressure = seen.value[transducer]
    everywhere = np.full(pressure.shape, True)
    return _median(dew_slope(seen.refrigerant, pressure), everywhere) * by_pa
