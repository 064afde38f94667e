"""A layout read from plain data, as a YAML file holds it.

Reading collects every problem and refuses what cannot be a refrigerant path. It opens no file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from agent.piping.checks import Problem, Where, find_problems
from agent.piping.graph import (
    DISCHARGE_KINDS,
    INJECTION_KINDS,
    INLET_KINDS,
    LIQUID_KINDS,
    NOT_KNOWN,
    RUN_ENDS,
    STEADY_MODES,
    SUCTION_KINDS,
    Coil,
    Effect,
    Graph,
    Injection,
    Inlet,
    ModePiping,
    Place,
)

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]*")


class LayoutError(ValueError):
    """A layout that cannot be used, with every problem found in it."""

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        lines = (f"{'.'.join(map(str, p.path)) or 'layout'}: {p.message}" for p in self.problems)
        super().__init__(f"layout {name!r}: " + "; ".join(lines))


def read(mapping: Mapping[str, Any]) -> Graph:
    """The graph that a mapping describes. Raises LayoutError with every problem found."""
    return _Reader(mapping).graph()


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

    KEYS = (
        "layout", "about", "suction_side", "discharge_side", "liquid_side", "inlets", "coils", "injection",
        "modes", "unproven",
    )  # fmt: skip

    def __init__(self, mapping: Mapping[str, Any]) -> None:
        self.mapping = mapping
        self.problems: list[Problem] = []

    def graph(self) -> Graph:
        name = self.mapping.get("layout")
        if not isinstance(name, str) or not _NAME.fullmatch(name):
            self.wrong(("layout",), f"found {name!r}; a layout has a name of small letters, digits, - and _")
            name = str(name)
        if name == NOT_KNOWN:
            text = f"the name {NOT_KNOWN} is kept for modules whose piping nobody has described"
            self.wrong(("layout",), f"{text}; right would be another name")
        for key in self.mapping:
            if key not in self.KEYS:
                self.wrong((key,), f"unknown key; a layout has {', '.join(self.KEYS)}")
        if not isinstance(self.mapping.get("about", ""), str):
            self.wrong(("about",), f"found {self.mapping['about']!r}; right would be text")
        suction = self.edges("suction_side", SUCTION_KINDS)
        discharge = self.edges("discharge_side", DISCHARGE_KINDS)
        liquid = self.edges("liquid_side", LIQUID_KINDS)
        self.places = {place for edge in suction for place in edge}
        self.liquid_places = {place for edge in liquid for place in edge}
        inlets = self.inlets()
        coils = self.coils()
        injection = self.injection()
        modes = self.modes(coils)
        graph = Graph(
            name=name,
            about=" ".join(str(self.mapping.get("about", "")).split()),
            suction=suction,
            discharge=discharge,
            inlets=inlets,
            modes=modes,
            segment_of=_segments(suction),
            unproven=self.unproven(),
            coils=coils,
            injection=injection,
            liquid=liquid,
        )
        if suction:
            self.problems += find_problems(graph)
        if self.problems:
            raise LayoutError(name, self.problems)
        return graph

    def wrong(self, path: Where, message: str) -> None:
        self.problems.append(Problem(path, message))

    def edges(self, side: str, kinds: tuple[str, ...]) -> frozenset[tuple[Place, Place]]:
        order = "from coil to coil" if side == "liquid_side" else "in flow order"
        paths = self.mapping.get(side, None if side == "suction_side" else [])
        if not isinstance(paths, list) or (not paths and side == "suction_side"):
            self.wrong((side,), f"missing or empty; it is a list of paths, each a list of places {order}")
            return frozenset()
        edges: set[tuple[Place, Place]] = set()
        for number, path in enumerate(paths):
            if not isinstance(path, list) or len(path) < 2:
                self.wrong((side, number), f"a path is a list of two places or more, {order}")
                continue
            places = [self.place(item, (side, number, index), kinds) for index, item in enumerate(path)]
            known = [place for place in places if place is not None]
            edges.update(zip(known, known[1:], strict=False))
        return frozenset(edges)

    def place(self, item: Any, where: Where, kinds: tuple[str, ...]) -> Place | None:
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

    def inlets(self) -> dict[str, Inlet]:
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
            if valve is not None and not self.is_valve(valve, where):
                continue
            if Place("inlet", str(name)) not in self.places:
                self.wrong(where, "is on no path of suction_side; put 'inlet: NAME' where it joins")
            inlets[str(name)] = Inlet(str(name), str(kind), effect, valve)
        for place in sorted(self.places):
            if place.kind == "inlet" and place.name not in set(map(str, described)):
                self.wrong(("inlets",), f"{place.name} joins on a path but its effect is not described here")
        return inlets

    def coils(self) -> dict[str, Coil]:
        described = self.mapping.get("coils", {})
        if not isinstance(described, Mapping):
            self.wrong(("coils",), "it is a mapping of coil to the valve that tells its role, and its pipe")
            return {}
        coils: dict[str, Coil] = {}
        for name, body in described.items():
            where = ("coils", str(name))
            if not isinstance(body, Mapping) or set(body) != {"valve", "pipe"}:
                self.wrong(where, f"found {body!r}; a coil has valve and pipe")
                continue
            self.names([name], "evaporator", where)
            self.names([body["pipe"]], "segment", (*where, "pipe"))
            if self.is_valve(body["valve"], where):
                coils[str(name)] = Coil(str(name), body["valve"], str(body["pipe"]))
        return coils

    def is_valve(self, valve: Any, where: Where) -> bool:
        good = isinstance(valve, str) and bool(_NAME.fullmatch(valve))
        if not good:
            self.wrong(where, f"valve is {valve!r}; right would be the name of the signal that tells it")
        return good

    def injection(self) -> Injection | None:
        if "injection" not in self.mapping:
            return None
        body, where = self.mapping["injection"], ("injection",)
        if not isinstance(body, Mapping) or set(body) - {"valve"} != {"kind", "into"}:
            self.wrong(where, f"found {body!r}; injection has kind, into and, where a signal tells it, valve")
            return None
        if body["kind"] not in INJECTION_KINDS:
            self.wrong(where, f"kind is {body['kind']!r}; right would be {', '.join(INJECTION_KINDS)}")
        into = self.names(body["into"], "compressor", (*where, "into"))
        if body["into"] == []:
            self.wrong((*where, "into"), "name at least one compressor")
        valve = body.get("valve")
        if valve is not None and not self.is_valve(valve, where):
            return None
        return Injection(str(body["kind"]), into, valve)

    def modes(self, coils: Mapping[str, Coil]) -> dict[str, ModePiping]:
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
            if not isinstance(body, Mapping) or set(body) - {
                "evaporators",
                "high_side",
                "condensers",
                "expands",
            }:
                right = "a mode has evaporators and, where they apply, high_side, condensers and expands"
                self.wrong(where, f"found {body!r}; {right}")
                continue
            evaporators = self.names(body.get("evaporators", []), "evaporator", (*where, "evaporators"))
            high_side = self.names(body.get("high_side", []), "segment", (*where, "high_side"))
            condensers = self.names(body.get("condensers", []), "coil", (*where, "condensers"))
            expands = self.names(body.get("expands", []), "expansion", (*where, "expands"))
            if not evaporators and all(coil.pipe in high_side for coil in coils.values()):
                self.wrong(
                    (*where, "evaporators"), "name at least one evaporator that feeds the suction line"
                )
            modes[str(mode)] = ModePiping(evaporators, high_side, condensers, expands)
        return modes

    def unproven(self) -> dict[str, frozenset[str]]:
        described = self.mapping.get("unproven", {})
        if not isinstance(described, Mapping):
            self.wrong(("unproven",), "it is a mapping of probe to the inlets whose side is not known")
            return {}
        found: dict[str, frozenset[str]] = {}
        for probe, names in described.items():
            if Place("probe", str(probe)) not in self.places:
                self.wrong(("unproven", str(probe)), "is no probe of suction_side")
            found[str(probe)] = self.names(names, "inlet", ("unproven", str(probe)))
        return found

    def names(self, found: Any, kind: str, where: Where) -> frozenset[str]:
        if not isinstance(found, list):
            self.wrong(where, f"found {found!r}; it is a list of names")
            return frozenset()
        liquid = kind in ("coil", "expansion")
        side, places = ("liquid_side", self.liquid_places) if liquid else ("suction_side", self.places)
        if liquid and any(problem.path[0] == side for problem in self.problems):
            return frozenset(map(str, found))  # what is missing there may be what could not be read
        known = sorted(place.name for place in places if place.kind == kind)
        for name in found:
            if str(name) not in known:
                self.wrong(where, f"no {kind} {name!r} on {side}; there are {', '.join(known) or 'none'}")
        return frozenset(map(str, found))
