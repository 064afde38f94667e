"""A module's piping as a directed graph in flow order: what joins and splits where, where probes sit.

It knows nothing of modes in force, readings, or of how a layout is written down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

NOT_KNOWN = "unknown"  # the name of no described layout
STEADY_MODES = ("cooling", "heating", "simultaneous")
# A vessel holds liquid: an accumulator. What is only passed through is a filter or an exchanger.
SUCTION_KINDS = (
    "evaporator", "segment", "probe", "transducer", "junction", "vessel", "filter", "exchanger", "inlet",
    "split", "compressor",
)  # fmt: skip
DISCHARGE_KINDS = (
    "compressor", "segment", "probe", "transducer", "junction", "vessel", "filter", "split", "condenser",
)  # fmt: skip
# The flow of the liquid side reverses with the mode, so that its paths have no direction.
LIQUID_KINDS = ("coil", "segment", "probe", "junction", "vessel", "filter", "exchanger", "expansion")
INJECTION_KINDS = ("vapour", "liquid")
INLET_KINDS = (
    "oil_return", "hot_gas_bypass", "subcooler_bypass", "accumulator_bleed", "liquid_injection",
    "equalising_line",
)  # fmt: skip
# Stream inlets bring refrigerant back from the system: ahead of them a probe has not seen all that returns.
STREAM_INLETS = ("subcooler_bypass",)
RUN_ENDS = ("segment", "junction", "vessel", "split")  # where a named pipe run ends or the next begins


class Effect(StrEnum):
    """What an inlet does to the temperature of the stream it joins."""

    WARMS = "warms"
    COOLS = "cools"
    EITHER = "either"


class Place(NamedTuple):
    """A place on the piping; equal kind and name are the same place in every path."""

    kind: str
    name: str


@dataclass(frozen=True)
class Inlet:
    """Something that joins the suction line."""

    name: str
    kind: str
    effect: Effect
    valve: str | None = None  # the signal that tells whether it is open; None: always open

    @property
    def is_stream(self) -> bool:
        return self.kind in STREAM_INLETS


@dataclass(frozen=True)
class Coil:
    """An evaporator of the suction side whose role a valve tells, where the mode does not."""

    name: str
    valve: str  # the signal that tells whether it evaporates
    pipe: str  # the segment that brings its vapour, and only its


@dataclass(frozen=True)
class Injection:
    """Refrigerant injected into compressors, past the suction line; it cools the discharge."""

    kind: str
    into: frozenset[str]
    valve: str | None = None  # the signal of its opening, a ratio; None: nothing tells


@dataclass(frozen=True)
class ModePiping:
    """What a steady mode does with the piping.

    Which evaporators feed it and which segments turn high side; which coils condense and which expansions
    expand. A coil with a valve condenses at most while it does not evaporate.
    """

    evaporators: frozenset[str]
    high_side: frozenset[str] = frozenset()
    condensers: frozenset[str] = frozenset()
    expands: frozenset[str] = frozenset()


@dataclass(frozen=True, eq=False)
class Graph:
    """A module's piping as a directed graph in flow order.

    ``suction`` and ``discharge`` hold the edges (upstream place, downstream place), ``liquid`` pairs of
    neighbours in no order.
    ``segment_of`` tells on which named pipe run a place of the suction side sits.
    ``unproven`` holds, per probe, the inlets whose side it is not known to sit on.
    """

    name: str
    about: str
    suction: frozenset[tuple[Place, Place]]
    discharge: frozenset[tuple[Place, Place]]
    inlets: Mapping[str, Inlet]
    modes: Mapping[str, ModePiping]
    segment_of: Mapping[Place, frozenset[str]]
    unproven: Mapping[str, frozenset[str]] = field(default_factory=dict)
    coils: Mapping[str, Coil] = field(default_factory=dict)
    injection: Injection | None = None
    liquid: frozenset[tuple[Place, Place]] = frozenset()
    is_known: bool = True  # False: nobody has described the piping

    @cached_property
    def places(self) -> frozenset[Place]:
        """Every place of the suction side."""
        return frozenset(place for edge in self.suction for place in edge)

    @cached_property
    def suction_probes(self) -> tuple[str, ...]:
        """Probes of the suction side, in flow order as far as there is one."""
        probes = [place for place in self.places if place.kind == "probe"]
        return tuple(p.name for p in sorted(probes, key=lambda p: (len(self.upstream(p)), p.name)))

    @cached_property
    def discharge_probes(self) -> tuple[str, ...]:
        return tuple(sorted({p.name for edge in self.discharge for p in edge if p.kind == "probe"}))

    @cached_property
    def liquid_probes(self) -> tuple[str, ...]:
        return tuple(sorted({p.name for edge in self.liquid for p in edge if p.kind == "probe"}))

    @cached_property
    def expansions(self) -> tuple[str, ...]:
        """The valves of the liquid side that expand; their openings are signals under these names."""
        return tuple(sorted({p.name for edge in self.liquid for p in edge if p.kind == "expansion"}))

    def expansions_at(self, coil: str) -> tuple[str, ...]:
        """The expansions next to a coil on the liquid side; without all of them shut it may be fed."""
        reached = [Place("coil", coil)]
        for place in reached:  # grows as it is walked
            if place.kind != "expansion":
                beside = {end for edge in self.liquid if place in edge for end in edge}
                reached += sorted(p for p in beside if p not in reached and p.kind != "coil")
        return tuple(place.name for place in reached if place.kind == "expansion")

    def discharge_of(self, compressor: str) -> str | None:
        """The discharge probe that only this compressor's gas reaches; of several the nearest to it."""
        own = reachable(self.discharge, Place("compressor", compressor))
        others = [
            reachable(self.discharge, Place("compressor", c)) for c in self.compressors if c != compressor
        ]
        alone = [place for place in own.difference(*others) if place.kind == "probe"]
        nearest = max(alone, key=lambda p: (len(reachable(self.discharge, p)), p.name), default=None)
        return nearest.name if nearest else None

    @cached_property
    def compressors(self) -> tuple[str, ...]:
        return tuple(sorted(place.name for place in self.places if place.kind == "compressor"))

    @cached_property
    def inlet_valves(self) -> tuple[str, ...]:
        """Signals that tell whether an inlet is open."""
        return tuple(sorted({inlet.valve for inlet in self.inlets.values() if inlet.valve}))

    @cached_property
    def coil_valves(self) -> tuple[str, ...]:
        """Signals that tell whether a coil evaporates."""
        return tuple(sorted(coil.valve for coil in self.coils.values()))

    @cached_property
    def valves(self) -> tuple[str, ...]:
        """Every signal that a situation holds the state of: inlets open, coils evaporating."""
        return (*self.inlet_valves, *self.coil_valves)

    def coils_by_valve(self, mode: str) -> tuple[Coil, ...]:
        """Coils whose role in a mode a valve tells: not named as evaporators, pipe not on the high side."""
        piping = self.modes.get(mode)
        if piping is None:
            return ()
        found = [self.coils[name] for name in sorted(self.coils)]
        return tuple(c for c in found if c.name not in piping.evaporators and c.pipe not in piping.high_side)

    @cached_property
    def suction_transducer(self) -> str:
        return next(place.name for place in self.places if place.kind == "transducer")

    @cached_property
    def discharge_transducer(self) -> str | None:
        return next((p.name for edge in self.discharge for p in edge if p.kind == "transducer"), None)

    def downstream(self, place: Place) -> frozenset[Place]:
        """Every place that flow from ``place`` can reach; ``place`` itself is not among them."""
        return self._reach[place]

    def runs_after(self, place: Place) -> frozenset[str]:
        """The named pipe runs that what leaves a place of the suction side flows in."""
        if place.kind == "segment":
            return frozenset({place.name})
        return frozenset() if place.kind in RUN_ENDS else self.segment_of.get(place, frozenset())

    def upstream(self, place: Place) -> frozenset[Place]:
        """Every place whose flow can reach ``place``; ``place`` itself is not among them."""
        return frozenset(other for other in self.places if place in self._reach[other])

    @cached_property
    def _reach(self) -> dict[Place, frozenset[Place]]:
        return {place: reachable(self.suction, place) for place in self.places}


def reachable(edges: frozenset[tuple[Place, Place]], start: Place) -> frozenset[Place]:
    """Every place that can be come to from ``start`` along the edges."""
    following: dict[Place, list[Place]] = {}
    for upstream, downstream in edges:
        following.setdefault(upstream, []).append(downstream)
    seen: set[Place] = set()
    waiting = list(following.get(start, ()))
    while waiting:
        place = waiting.pop()
        if place not in seen:
            seen.add(place)
            waiting += following.get(place, ())
    return frozenset(seen)
