"""The mistakes that a mapping or a wiring is made with, each as what the module would be without it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

import numpy as np

from agent.assess.frames import FloatArray
from agent.assess.mode_codes import CODE
from agent.assess.plausible.picture import Picture
from agent.assess.plausible.taken import PRESSURE, TEMPERATURE, Other, Signals
from agent.thermo import REFRIGERANTS

LOOK_UNIT = "the unit that the gateway sends, and the signal's unit in the configuration"
LOOK_REFERENCE = (
    "the transducer's data sheet and the signal's reference; with the module at rest, have it compared "
    "with a gauge by certified people"
)
LOOK_POINTS = "the points in the mapping, then the wiring and where the probes are clamped"
LOOK_TRANSDUCERS = "the points in the mapping, then the wiring of the transducers"
LOOK_MODE = "the values of the mode in the configuration, against what the module does"
LOOK_REFRIGERANT = "the nameplate and the service label, after everything else; this alone proves nothing"


class Mistake(NamedTuple):
    """What may have gone wrong, in the words after "if", and the module as it would be then."""

    words: str
    look: str
    signals: tuple[str, ...]  # whose values it changes
    without: Callable[[], Picture]


def mistakes(seen: Picture, signals: Signals, broken: frozenset[str], at_rest: bool) -> Iterator[Mistake]:
    """Every mistake that has to do with the signals of broken relations; the likelier first.

    A wrong refrigerant only where pressure and temperature at rest disagree: nothing else speaks of it.
    """
    pressures = [n for n, t in signals.items() if t.dimension == PRESSURE and n in seen.value]
    temperatures = [n for n, t in signals.items() if t.dimension == TEMPERATURE and n in seen.value]
    yield from _read_otherwise(seen, signals, pressures, broken)
    yield from _read_otherwise(seen, signals, temperatures, broken)
    for first, second in _pairs(pressures, broken):
        yield _swapped(seen, first, second, LOOK_TRANSDUCERS)
    for first, second in _pairs(temperatures, broken):
        yield _swapped(seen, first, second, LOOK_POINTS)
    cooling, heating = CODE["cooling"], CODE["heating"]
    turned = np.where(seen.mode == cooling, heating, np.where(seen.mode == heating, cooling, seen.mode))
    if (turned != seen.mode).any():
        words = "the mode's values for cooling and heating were swapped"
        yield Mistake(words, LOOK_MODE, (), lambda: replace(seen, mode=turned))
    if at_rest:
        yield from (_refrigerant(seen, name) for name in REFRIGERANTS if name != seen.refrigerant)


def _read_otherwise(
    seen: Picture, signals: Signals, names: Sequence[str], broken: frozenset[str]
) -> Iterator[Mistake]:
    """Another unit or reference: of all of a kind that are configured alike, and of one alone."""
    groups = [tuple(names)] if len(names) > 1 and len({signals[n].unit for n in names}) == 1 else []
    groups += [(name,) for name in names if name in broken or signals[name].dimension == PRESSURE]
    for group in groups:
        for others, look in (
            (signals[group[0]].references, LOOK_REFERENCE),
            (signals[group[0]].units, LOOK_UNIT),
        ):
            for other in others:
                yield _otherwise(seen, group, other, signals[group[0]].dimension, look)


def _otherwise(seen: Picture, names: tuple[str, ...], other: Other, dimension: str, look: str) -> Mistake:
    changed = {name: other.factor * seen.value[name] + other.shift for name in names}
    if len(names) == 1:
        subject = f"{names[0]} came {other.name} (then {_shown(changed[names[0]], dimension)})"
    elif dimension == PRESSURE:
        values = " and ".join(_shown(each, dimension) for each in changed.values())
        subject = f"the pressures came {other.name} (then {values})"
    else:
        subject = f"every temperature came {other.name}"
    return Mistake(subject, look, names, lambda: seen.with_values(**changed))


def _pairs(names: Sequence[str], broken: frozenset[str]) -> Iterator[tuple[str, str]]:
    return (pair for pair in combinations(names, 2) if broken & set(pair))


def _swapped(seen: Picture, first: str, second: str, look: str) -> Mistake:
    changed = {first: seen.value[second], second: seen.value[first]}
    words = f"{first} and {second} were swapped"
    return Mistake(words, look, (first, second), lambda: seen.with_values(**changed))


def _refrigerant(seen: Picture, name: str) -> Mistake:
    words = f"the circuit held {name} and not {seen.refrigerant} (no more than a possibility)"
    return Mistake(words, LOOK_REFRIGERANT, (), lambda: replace(seen, refrigerant=name))


def _shown(values: FloatArray, dimension: str) -> str:
    middle = float(np.nanmedian(values))
    return f"{middle / 1e3:.0f} kPa absolute" if dimension == PRESSURE else f"{middle:.1f} degC"
