"""What is odd about a signal's values as such, whatever the module does: fillers, words, steps, pauses.

Pure, and without physics: that is in `relations`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

import numpy as np

from agent.assess.frames import FloatArray
from agent.assess.module import SECOND, Module
from agent.assess.plausible.taken import (
    CURRENT,
    FREQUENCY,
    PRESSURE,
    STATE,
    TEMPERATURE,
    Signals,
    Suspicion,
    Taken,
)
from agent.assess.signals import MODE_SIGNAL

# What gateways and bus masters send for "no value"; common practice, no source. The ends of 16 and 32 bits
# also in tenths.
FILLERS = frozenset(
    {-999, -9999, 999, 9999, 850, -127, 32767, -32768, 65535, 3276.7, -3276.8, 6553.5, 2**31 - 1}
)
# Where a measured value may lie, in SI: a filler within is a value like any other.
ORDINARY = {
    TEMPERATURE: (-50.0, 150.0),
    PRESSURE: (120e3, 5e6),
    FREQUENCY: (0.0, 200.0),
    CURRENT: (0.0, 200.0),
}
ALIKE = 3  # measured signals with one and the same number are a filler, whatever the number
STILL_VALUES = 10  # at least so many equal values until a signal counts as standing still
STEP_CHANGES = 8  # at least so many, or a ramp of equal strides looks like a step
STEP_CHANCE = 1e-4  # that values finer than they look fall on a coarse step by chance
PERIOD_VALUES = 4
PERIOD_FACTOR = 1.5


def fillers(signals: Signals) -> Iterator[Suspicion]:
    """Numbers that stand for "no value"."""
    alike = _all_alike(signals)
    if alike is not None:
        number, names = alike
        yield Suspicion(
            "filler",
            names,
            f"every measured value is {number:g}: {', '.join(names)}",
            "a gateway sends this when it has nothing from the module, or before its first poll",
            "the bus between gateway and module, and the module's address",
        )
        return
    for name, taken in signals.items():
        lowest, highest = ORDINARY.get(taken.dimension, (-np.inf, np.inf))
        outside = ~((taken.value >= lowest) & (taken.value <= highest))
        found = Counter(
            raw for raw, out in zip(taken.raw, outside, strict=True) if out and _number(raw) in FILLERS
        )
        if taken.dimension != STATE and found:
            filler, count = found.most_common(1)[0]
            yield Suspicion(
                "filler",
                (name,),
                f"{name} was exactly {filler} in {count} of {len(taken.raw)} values",
                'many gateways send this number for "no value": an open or shorted probe, or no such point',
                "the probe and its wiring, and which number the gateway sends for a missing value",
            )


def without_fillers(signals: Signals, found: Iterable[Suspicion]) -> Signals:
    """The signals that have values to be held against each other."""
    gone = {name for each in found for name in each.signals}
    return {name: taken for name, taken in signals.items() if name not in gone}


def unknown_words(signals: Signals) -> Iterator[Suspicion]:
    """Values of a state that the mapping gives no meaning."""
    for name, taken in signals.items():
        if not taken.strange:
            continue
        known = ", ".join(sorted(taken.words)) if taken.words else "numbers, because values is not stated"
        shown = ", ".join(repr(each) for each in taken.strange[:5])
        what = (
            "the mode is unknown then, and nothing is judged" if name == MODE_SIGNAL else "it is missing then"
        )
        yield Suspicion(
            "word",
            (name,),
            f"{name} came as {shown}; the configuration knows {known}",
            f"{what}; it would have a meaning if values of the signal named it",
            "the gateway's list of values for this point",
        )


def still(module: Module, signals: Signals, flowing: Iterable[str]) -> Iterator[Suspicion]:
    """Signals that never move while the others do. ``flowing``: those that have to move while it runs."""
    fine = {n: t for n, t in signals.items() if n in module.signals and module.is_fine(n)}
    fixed = {n for n, t in fine.items() if _long(module, t) and np.ptp(t.numbers) == 0}
    moving = [n for n, t in fine.items() if _long(module, t) and n not in fixed]
    for name in sorted(fixed & set(flowing)):
        if len(moving) >= ALIKE:
            raw, taken = fine[name].raw[0], fine[name]
            minutes = (taken.time_us[-1] - taken.time_us[0]) / (60 * SECOND)
            yield Suspicion(
                "still",
                (name,),
                f"{name} was exactly {raw} in all {len(taken.raw)} values over {minutes:.0f} min, "
                f"while {', '.join(moving[:3])} and others moved",
                "a gateway repeats the last value of a point that it cannot read, or sends a constant",
                "this point at the gateway, and the probe or transducer behind it",
            )


def steps(module: Module, signals: Signals) -> Iterator[Suspicion]:
    """Values that come coarser than configured, so that the uncertainty is stated too small."""
    for name, taken in signals.items():
        signal = module.signals.get(name)
        if signal is None or not signal.half_width:
            continue
        allowed = signal.step or signal.half_width / 2
        values = taken.value[~np.isnan(taken.value)]
        changes = int(np.count_nonzero(np.diff(values)))
        common = _common_step(np.unique(values), allowed)
        if common and changes >= STEP_CHANGES and _chance(common / allowed, changes) < STEP_CHANCE:
            factor = common / allowed
            yield Suspicion(
                "step",
                (name,),
                f"all {changes} changes of {name} are in steps {factor:.3g} times the "
                f"{'configured one' if signal.step else 'accuracy halved'}",
                "the uncertainty is stated too small, and small movements are not seen",
                "what the gateway rounds to; state it as step of the signal",
            )


def periods(module: Module, signals: Signals) -> Iterator[Suspicion]:
    """Signals that come less often than configured."""
    for name, taken in signals.items():
        signal = module.signals.get(name)
        every_us = period_us(taken, PERIOD_VALUES)
        if signal is None or every_us is None or signal.on_change:
            continue
        if every_us > PERIOD_FACTOR * signal.interval_us:
            late = every_us > signal.max_age_us
            configured_s = signal.interval_us // SECOND
            yield Suspicion(
                "period",
                (name,),
                f"{name} comes every {every_us / SECOND:.0f} s, configured is every {configured_s} s",
                f"its value is missing between two reports (max_age_s {signal.max_age_us // SECOND})"
                if late
                else "the windows in which values must settle are too short for it",
                "how often the gateway polls; state it as every_s",
            )


def period_us(taken: Taken, least: int = 2) -> int | None:
    """The usual time between two samples; None where there are fewer than ``least``."""
    times = np.unique(taken.time_us)
    return int(np.median(np.diff(times))) if len(times) >= least else None


def smallest_step(numbers: FloatArray) -> float | None:
    """The smallest difference between distinct values as received; None where they never differed."""
    distinct = np.unique(numbers[np.isfinite(numbers)])
    differences = np.diff(distinct)
    real = differences[differences > 1e-9 * np.abs(distinct).max(initial=1.0)]
    return float(f"{real.min():.6g}") if real.size else None


def _all_alike(signals: Signals) -> tuple[float, tuple[str, ...]] | None:
    """The one number of all measured signals, where their dimensions are several."""
    measured = {n: t for n, t in signals.items() if t.dimension in (TEMPERATURE, PRESSURE) and len(t.raw)}
    numbers = {float(each) for t in measured.values() for each in t.numbers}
    if len(measured) < ALIKE or len(numbers) != 1 or len({t.dimension for t in measured.values()}) < 2:
        return None
    return numbers.pop(), tuple(measured)


def _number(raw: float | int | str) -> float | None:
    return float(raw) if isinstance(raw, int | float) else None


def _long(module: Module, taken: Taken) -> bool:
    times = taken.time_us
    return len(times) >= STILL_VALUES and int(times[-1] - times[0]) >= module.repeated_us


def _common_step(distinct: FloatArray, unit: float) -> float | None:
    """The largest step that all the values lie on, in whole steps of `unit`."""
    counts = np.round((distinct - distinct[:1]) / unit)
    if len(distinct) < 2 or (np.abs((distinct - distinct[0]) / unit - counts) > 0.05).any():
        return None
    return float(np.gcd.reduce(counts.astype(np.int64))) * unit


def _chance(factor: float, changes: int) -> float:
    return float(factor**-changes) if factor > 1.5 else 1.0
