"""A layout read from plain data, as a YAML file holds it, and what it can be asked.

Reading collects every problem and refuses what cannot be a refrigerant path. It opens no file.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from agent.piping.choice import Choices, choose
from agent.piping.fitness import ProbeFitness, Situation, fitness
from agent.piping.graph import (
    DISCHARGE_KINDS,
    INLET_KINDS,
    RUN_ENDS,
    STEADY_MODES,
    SUCTION_KINDS,
    Effect,
    Graph,
    Inlet,
    ModePiping,
    Place,
    reachable,
)

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]*")


class Problem(NamedTuple):
    """One thing wrong with a layout: where in the mapping, and what would be right."""

    path: tuple[str | int, ...]
    message: str


class LayoutError(ValueError):
    """A layout that cannot be used, with every problem found in it."""

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        lines = (f"{'.'.join(map(str, p.path)) or 'layout'}: {p.message}" for p in self.problems)
        super().__init__(f"layout {name!r}: " + "; ".join(lines))


@dataclass(frozen=True, eq=False)
class Layout(Graph):
    """How one series of modules is piped."""

    @classmethod
    def from_mapping(cls, mapping: Mapping[str, Any]) -> Layout:
        """Build a layout from plain data.

        Raises LayoutError with every problem found, each naming its place in the mapping.
        """
        return _Reader(mapping).layout()

    def fitness(
        self,
        mode: str,
        valves: Mapping[str, bool | None] | None = None,
        running: Collection[str] | None = None,
    ) -> dict[str, ProbeFitness]:
        """Fitness of every probe. ``valves``: signal to open (None: not known); ``running``: compressors."""
        return fitness(self, Situation.of(mode, valves, running))

    def choose(
        self,
        mode: str,
        valves: Mapping[str, bool | None] | None = None,
        running: Collection[str] | None = None,
        available: Collection[str] | None = None,
    ) -> Choices:
        """The probes that speak for each place. ``available``: those that give readings (None: all)."""
        return choose(self, Situation.of(mode, valves, running), available)


def _segments(edges: frozenset[tuple[Place, Place]]) -> dict[Place, frozenset[str]]:
    """On which named pipe runs each place sits: a run goes on until the next one, or where pipes meet."""
    found: dict[Place, set[str]] = {}
    for start in {place for edge in edges for place in edge if place.kind == "segment"}:
        waiting = [start]
        while waiting:
            place = waiting.pop()
            for upstream, following in edges:
                if upstream == place and following.kind not in RUN_ENDS:
                    found.setdefault(following, set()).add(start.name)
                    waiting.append(following)
    return {place: frozenset(names) for place, names in found.items()}


class _Reader:
    """Reads one layout mapping, collecting problems instead of stopping at the first."""

    KEYS = ("layout", "about", "suction_side", "discharge_side", "inlets", "modes", "unproven")

    def __init__(self, mapping: Mapping[str, Any]) -> None:
        self.mapping = mapping
        self.problems: list[Problem] = []

    def layout(self) -> Layout:
        name = self.mapping.get("layout")
        if not isinstance(name, str) or not _NAME.fullmatch(name):
            self.wrong(("layout",), f"found {name!r}; a layout has a name of small letters, digits, - and _")
            name = str(name)
        for key in self.mapping:
            if key not in self.KEYS:
                self.wrong((key,), f"unknown key; a layout has {', '.join(self.KEYS)}")
        if not isinstance(self.mapping.get("about", ""), str):
            self.wrong(("about",), f"found {self.mapping['about']!r}; right would be text")
        suction = self.edges("suction_side", SUCTION_KINDS)
        discharge = self.edges("discharge_side", DISCHARGE_KINDS)
        places = {place for edge in suction for place in edge}
        inlets = self.inlets(places)
        modes = self.modes(places)
        unproven = self.unproven(places, inlets)
        self.check_graph(suction, discharge, places)
        if self.problems:
            raise LayoutError(name, self.problems)
        return Layout(
            name=name,
            about=" ".join(str(self.mapping.get("about", "")).split()),
            suction=suction,
            discharge=discharge,
            inlets=inlets,
            modes=modes,
            segment_of=_segments(suction),
            unproven=unproven,
        )

    def wrong(self, path: tuple[str | int, ...], message: str) -> None:
        self.problems.append(Problem(path, message))

    def edges(self, side: str, kinds: tuple[str, ...]) -> frozenset[tuple[Place, Place]]:
        paths = self.mapping.get(side, [] if side == "discharge_side" else None)
        if not isinstance(paths, list) or (not paths and side == "suction_side"):
            self.wrong(
                (side,), "missing or empty; it is a list of paths, each a list of places in flow order"
            )
            return frozenset()
        edges: set[tuple[Place, Place]] = set()
        for number, path in enumerate(paths):
            if not isinstance(path, list) or len(path) < 2:
                self.wrong((side, number), "a path is a list of two places or more, in flow order")
                continue
            places = [self.place(item, (side, number, index), kinds) for index, item in enumerate(path)]
            known = [place for place in places if place is not None]
            edges.update(zip(known, known[1:], strict=False))
        return frozenset(edges)

    def place(self, item: Any, where: tuple[str | int, ...], kinds: tuple[str, ...]) -> Place | None:
        if not isinstance(item, Mapping) or len(item) != 1:
            self.wrong(where, f"found {item!r}; a place is one pair such as 'probe: suction_pipe'")
            return None
        ((kind, name),) = item.items()
        if kind not in kinds:
            self.wrong(where, f"unknown kind of place {kind!r}; here stand {', '.join(kinds)}")
            return None
        if isinstance(name, bool) or not _NAME.fullmatch(str(name)):
            self.wrong(where, f"found the name {name!r}; a name is small letters, digits, - and _")
            return None
        return Place(kind, str(name))

    def inlets(self, places: set[Place]) -> dict[str, Inlet]:
        described = self.mapping.get("inlets", {})
        if not isinstance(described, Mapping):
            self.wrong(("inlets",), "it is a mapping of inlet name to its effect")
            return {}
        inlets: dict[str, Inlet] = {}
        for name, body in described.items():
            where = ("inlets", str(name))
            if not isinstance(body, Mapping) or set(body) - {"effect", "valve", "kind"}:
                self.wrong(where, f"found {body!r}; an inlet has effect, and where they apply valve and kind")
                continue
            kind = body.get("kind", name)
            if kind not in INLET_KINDS:
                self.wrong(where, f"unknown kind of inlet {kind!r}; known are {', '.join(INLET_KINDS)}")
                continue
            try:
                effect = Effect(str(body.get("effect")))
            except ValueError:
                self.wrong(where, f"effect is {body.get('effect')!r}; right would be {', '.join(Effect)}")
                continue
            valve = body.get("valve")
            if valve is not None and not (isinstance(valve, str) and _NAME.fullmatch(valve)):
                self.wrong(where, f"valve is {valve!r}; right would be the name of the signal that tells it")
                continue
            if Place("inlet", str(name)) not in places:
                self.wrong(where, "is on no path of suction_side; put 'inlet: NAME' where it joins")
            inlets[str(name)] = Inlet(str(name), str(kind), effect, valve)
        for place in sorted(places):
            if place.kind == "inlet" and place.name not in set(map(str, described)):
                self.wrong(("inlets",), f"{place.name} joins on a path but its effect is not described here")
        return inlets

    def modes(self, places: set[Place]) -> dict[str, ModePiping]:
        described = self.mapping.get("modes")
        if not isinstance(described, Mapping) or not described:
            self.wrong(("modes",), "missing; describe at least one of " + ", ".join(STEADY_MODES))
            return {}
        modes: dict[str, ModePiping] = {}
        for mode, body in described.items():
            where = ("modes", str(mode))
            if mode not in STEADY_MODES:
                self.wrong(where, f"only steady modes are described: {', '.join(STEADY_MODES)}")
                continue
            if not isinstance(body, Mapping) or set(body) - {"evaporators", "high_side"}:
                self.wrong(
                    where, f"found {body!r}; a mode has evaporators and, where one reverses, high_side"
                )
                continue
            evaporators = self.names(body.get("evaporators"), "evaporator", places, (*where, "evaporators"))
            high_side = self.names(body.get("high_side", []), "segment", places, (*where, "high_side"))
            if not evaporators:
                self.wrong(
                    (*where, "evaporators"), "name at least one evaporator that feeds the suction line"
                )
            modes[str(mode)] = ModePiping(evaporators, high_side)
        return modes

    def unproven(self, places: set[Place], inlets: dict[str, Inlet]) -> dict[str, frozenset[str]]:
        described = self.mapping.get("unproven", {})
        if not isinstance(described, Mapping):
            self.wrong(("unproven",), "it is a mapping of probe to the inlets whose side is not known")
            return {}
        found: dict[str, frozenset[str]] = {}
        for probe, names in described.items():
            if Place("probe", str(probe)) not in places:
                self.wrong(("unproven", str(probe)), "is no probe of suction_side")
            found[str(probe)] = self.names(names, "inlet", places, ("unproven", str(probe)))
        return found

    def names(
        self, found: Any, kind: str, places: set[Place], where: tuple[str | int, ...]
    ) -> frozenset[str]:
        if not isinstance(found, list):
            self.wrong(where, f"found {found!r}; it is a list of names")
            return frozenset()
        known = {place.name for place in places if place.kind == kind}
        for name in found:
            if str(name) not in known:
                self.wrong(where, f"no {kind} {name!r} on suction_side; there are {', '.join(sorted(known))}")
        return frozenset(map(str, found))

    def check_graph(
        self,
        suction: frozenset[tuple[Place, Place]],
        discharge: frozenset[tuple[Place, Place]],
        places: set[Place],
    ) -> None:
        if not suction:
            return
        reach = {place: reachable(suction, place) for place in places}
        compressors = {place for place in places if place.kind == "compressor"}
        transducers = sorted(place.name for place in places if place.kind == "transducer")
        sources = {place for place in places if all(place != down for _, down in suction)}
        side = ("suction_side",)
        for place in sorted(places):
            if place in reach[place]:
                self.wrong(side, f"{place.kind} {place.name} lies on a loop; suction flow runs one way")
            elif place not in compressors and not reach[place] & compressors:
                self.wrong(side, f"from {place.kind} {place.name} no compressor is reached")
        for place in sorted(sources):
            if place.kind not in ("evaporator", "inlet"):
                self.wrong(
                    side, f"{place.kind} {place.name} has nothing upstream; paths begin at an evaporator"
                )
        if len(transducers) != 1:
            found = ", ".join(transducers) or "none"
            self.wrong(side, f"found transducers: {found}; exactly one measures suction pressure")
        other_side = {place for edge in discharge for place in edge}
        for place in sorted(other_side - places):
            if place.kind == "compressor":
                self.wrong(("discharge_side",), f"compressor {place.name} is on no path of suction_side")
        high = sorted(place.name for place in other_side if place.kind == "transducer")
        if len(high) > 1:
            found = ", ".join(high)
            self.wrong(
                ("discharge_side",), f"found transducers: {found}; at most one measures discharge pressure"
            )
        probes = {p.name for p in places if p.kind == "probe"}
        shared = probes & {p.name for p in places | other_side if p.kind == "transducer"}
        if shared:
            self.wrong(side, f"a probe and a transducer share the name {', '.join(sorted(shared))}")
        both = probes & {p.name for p in other_side if p.kind == "probe"}
        if both:
            self.wrong(("discharge_side",), f"probes on both sides: {', '.join(sorted(both))}")
