"""Which alarm holds back which: one from which others follow is told alone, and they say what holds them.

An alarm is held back only where all that it is computed from is in doubt by the root: liquid that another
probe shows is told, whatever else has failed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from agent.alarms.catalogue import (
    FEED_STALE,
    PROBE_UNFIT,
    SUPERHEAT_HIGH,
    SUPERHEAT_HUNTING,
    SUPERHEAT_LOW,
    WATCH_BLIND,
)
from agent.alarms.entry import Entry
from agent.alarms.highside import DISCHARGE_SUPERHEAT_LOW, SUBCOOLING_HIGH, SUBCOOLING_LOW
from agent.alarms.instruments import PROBE_FAILED
from agent.alarms.oil import OIL_RETURN_ABSENT, OIL_RETURN_EXCESS
from agent.assess.assessment import DISCHARGE_MARGIN, SUBCOOLING, Assessment, Cause, Quantity, Status
from agent.piping import COMPRESSOR_INLET, RETURN, RISE

ROOTS = (FEED_STALE.name, PROBE_FAILED.name)  # the first that stands is named

# What an alarm is computed from, as names of quantities; one that ends in ":" stands for those of every
# compressor. Nothing: from the piping and the mode alone, or from what no single probe spoils.
COMPUTED_FROM: Mapping[str, tuple[str, ...]] = {
    SUPERHEAT_LOW.name: (RETURN, COMPRESSOR_INLET),
    SUPERHEAT_HIGH.name: (RETURN,),
    SUPERHEAT_HUNTING.name: (RETURN,),
    PROBE_UNFIT.name: (),
    WATCH_BLIND.name: (RETURN,),
    DISCHARGE_SUPERHEAT_LOW.name: (DISCHARGE_MARGIN,),
    SUBCOOLING_LOW.name: (SUBCOOLING,),
    SUBCOOLING_HIGH.name: (SUBCOOLING,),
    OIL_RETURN_ABSENT.name: (RISE,),
    OIL_RETURN_EXCESS.name: (RISE,),
}
_SPEAKS = (Status.DECIDED, Status.NOT_SETTLED)
# Why nothing is decided, where that lies with the module and not with what is read of it.
_OF_THE_MODULE = (Cause.MODE, Cause.PIPING, Cause.CHANGE, Cause.SPREAD, Cause.SLOPE, Cause.FALLING)


class Root(NamedTuple):
    """An alarm that stands and from which others follow."""

    name: str
    signals: frozenset[str] | None = None  # what it is about; None: all that comes in of the module


def held_back(
    entries: Iterable[Entry],
    roots: Collection[Root],
    assessment: Assessment | None,
    pressures: frozenset[str] = frozenset(),
) -> dict[str, str]:
    """Per alarm that is held back, by which root. ``pressures``: the signals of the transducers."""
    found = {}
    for entry in entries:
        for root in roots:
            if entry.name in ROOTS or entry.never_suppressed:
                continue
            if root.signals is None or _rests_on(entry.name, root.signals, assessment, pressures):
                found[entry.name] = root.name
                break
    return found


def _rests_on(
    name: str, signals: frozenset[str], assessment: Assessment | None, pressures: frozenset[str]
) -> bool:
    """Whether the signals are in all that the alarm is computed from now."""
    if assessment is None:
        return False
    sources = [
        (of, quantity)
        for of, quantity in assessment.quantities.items()
        if any(
            of == each or (each[-1] == ":" and of.startswith(each)) for each in COMPUTED_FROM.get(name, ())
        )
    ]
    speaking = [_uses(of, each, pressures) for of, each in sources if each.said.status in _SPEAKS]
    if speaking:
        return all(uses & signals for uses in speaking)
    read = {*assessment.fitness, *pressures}
    return bool(signals & read) and any(_is_unread(quantity) for _, quantity in sources)


def _uses(name: str, quantity: Quantity, pressures: frozenset[str]) -> frozenset[str]:
    probes = frozenset(quantity.said.probes)
    return probes if name == RISE else probes | pressures


def _is_unread(quantity: Quantity) -> bool:
    """Nothing speaks, and that lies with what is read."""
    said = quantity.said
    return said.status not in _SPEAKS and said.cause not in _OF_THE_MODULE
