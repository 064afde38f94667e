"""The choice of probes where some of them have failed: it falls to the next best, and says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from agent.assess.failing.failures import KINDS, Failures, Kind
from agent.assess.frames import IntArray
from agent.assess.module import Module
from agent.piping import Choice, Choices, Situation, Standing, choose

Known = tuple[tuple[Situation, Choices], ...]

_SAID = {
    Kind.SPIKE: "has just jumped",
    Kind.JUMP: "has failed: it jumped",
    Kind.FROZEN: "has failed: it stands still",
    Kind.IMPOSSIBLE: "has failed: it cannot be true",
    Kind.OPEN_OR_SHORT: "has failed: an open or short circuit",
}


def says_failed(signal: str, kind: Kind) -> str:
    return f"{signal} {_SAID[kind]}"


def without_failed(
    module: Module, probes: Sequence[str], situation: IntArray, situations: Known, failed: Failures
) -> tuple[IntArray, Known]:
    """Number the situations anew, with what has failed in each, and choose among the rest."""
    if not any(failed.unusable(probe) is not None for probe in probes):
        return situation, situations
    columns = np.column_stack([situation, *(failed.kinds(probe) for probe in probes)])
    distinct, which = np.unique(columns, axis=0, return_inverse=True)
    known = []
    for number, *kinds in distinct.tolist():
        bad = {probe: KINDS[kind] for probe, kind in zip(probes, kinds, strict=True) if kind}
        state, intact = situations[number]
        known.append((state, _without(module, state, intact, probes, bad) if bad else intact))
    return which.ravel().astype(np.int64), tuple(known)


def _without(
    module: Module, state: Situation, intact: Choices, probes: Sequence[str], bad: dict[str, Kind]
) -> Choices:
    left = choose(module.layout, state, [probe for probe in probes if probe not in bad])
    lacks = {name: tuple(p for p in choice.probes if p in bad) for name, choice in intact.places.items()}
    lacks = {name: lost for name, lost in lacks.items() if lost}
    places = dict(left.places)
    for name, lost in lacks.items():
        words = " and ".join(says_failed(probe, bad[probe]) for probe in lost)
        choice = left.places[name]
        if choice.probes:
            places[name] = replace(choice, reason=f"{words}; {choice.reason}")
        else:
            places[name] = Choice(Standing.NOT_DECIDABLE, (), words)
    return replace(left, places=places, lacks=lacks)
