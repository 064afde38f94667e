"""What a layout may not be: a graph that no refrigerant could flow through, or that contradicts itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from agent.piping.graph import Coil, Graph, Place

Where = tuple[str | int, ...]


class Problem(NamedTuple):
    """One thing wrong with a layout: where in the mapping, and what would be right."""

    path: Where
    message: str


def find_problems(graph: Graph) -> Iterator[Problem]:
    """Everything about a graph that cannot be."""
    yield from _suction(graph)
    yield from _discharge(graph)
    yield from _liquid(graph)
    yield from _coils(graph)
    yield from _modes(graph)
    yield from _signals(graph)


def _suction(graph: Graph) -> Iterator[Problem]:
    places, where = graph.places, ("suction_side",)
    compressors = {place for place in places if place.kind == "compressor"}
    for place in sorted(places):
        if place in graph.downstream(place):
            yield Problem(where, f"{place.kind} {place.name} lies on a loop; suction flow runs one way")
        elif place not in compressors and not graph.downstream(place) & compressors:
            yield Problem(where, f"from {place.kind} {place.name} no compressor is reached")
    for place in sorted(place for place in places if all(place != down for _, down in graph.suction)):
        if place.kind not in ("evaporator", "inlet"):
            text = f"{place.kind} {place.name} has nothing upstream; paths begin at an evaporator"
            yield Problem(where, text)
    transducers = _named(places, "transducer")
    if len(transducers) != 1:
        found = ", ".join(transducers) or "none"
        yield Problem(where, f"found transducers: {found}; exactly one measures suction pressure")


def _discharge(graph: Graph) -> Iterator[Problem]:
    where, places = ("discharge_side",), {place for edge in graph.discharge for place in edge}
    for place in sorted(places - graph.places):
        if place.kind == "compressor":
            yield Problem(where, f"compressor {place.name} is on no path of suction_side")
    transducers = _named(places, "transducer")
    if len(transducers) > 1:
        found = ", ".join(transducers)
        yield Problem(where, f"found transducers: {found}; at most one measures discharge pressure")
    probes = set(_named(graph.places, "probe"))
    shared = probes.intersection(_named(graph.places | places, "transducer"))
    if shared:
        text = f"a probe and a transducer share the name {', '.join(sorted(shared))}"
        yield Problem(("suction_side",), text)
    both = probes.intersection(_named(places, "probe"))
    if both:
        yield Problem(where, f"probes on both sides: {', '.join(sorted(both))}")


def _liquid(graph: Graph) -> Iterator[Problem]:
    where = ("liquid_side",)
    neighbours: dict[Place, set[Place]] = defaultdict(set)
    for one, other in graph.liquid:
        neighbours[one].add(other)
        neighbours[other].add(one)
    condensers = {place.name for edge in graph.discharge for place in edge if place.kind == "condenser"}
    known = condensers.union(_named(graph.places, "evaporator"))
    for place in sorted(neighbours):
        if place in neighbours[place]:
            yield Problem(where, f"{place.kind} {place.name} stands beside itself; name each place once")
        elif place.kind == "coil":
            if place.name not in known:
                text = "is neither an evaporator of suction_side nor a condenser of discharge_side"
                yield Problem(where, f"coil {place.name} {text}; there are {', '.join(sorted(known))}")
        elif len(neighbours[place]) == 1:
            yield Problem(where, f"{place.kind} {place.name} is a dead end; paths run from coil to coil")


def _coils(graph: Graph) -> Iterator[Problem]:
    for coil in graph.coils.values():
        feeding = _feeding(graph, coil)
        if feeding is not None and feeding != {coil.name}:
            found = f"{coil.pipe} brings vapour of {', '.join(sorted(feeding)) or 'no evaporator'}"
            text = f"{found}; right would be the pipe of {coil.name} alone"
            yield Problem(("coils", coil.name, "pipe"), text)


def _feeding(graph: Graph, coil: Coil) -> set[str] | None:
    """Which evaporators feed the pipe of a coil; None where either is no place of the layout."""
    pipe = Place("segment", coil.pipe)
    if not {pipe, Place("evaporator", coil.name)} <= graph.places:
        return None
    return {place.name for place in graph.upstream(pipe) if place.kind == "evaporator"}


def _modes(graph: Graph) -> Iterator[Problem]:
    for mode, piping in graph.modes.items():
        for coil in graph.coils.values():
            both_named = coil.name in piping.evaporators and coil.pipe in piping.high_side
            if both_named and _feeding(graph, coil) == {coil.name}:
                text = f"{coil.name} evaporates, and its pipe {coil.pipe} is on high_side; leave one out"
                yield Problem(("modes", mode), text)
        both = piping.evaporators & piping.condensers
        if mode == "simultaneous":  # there some rooms are heated and others cooled by one group of coils
            both = both & set(graph.coils)
        for name in sorted(both):
            text = f"{name} cannot evaporate and condense at once in {mode}; leave one out"
            yield Problem(("modes", mode, "condensers"), text)


def _signals(graph: Graph) -> Iterator[Problem]:
    """A signal tells one thing, though several inlets may share a valve."""
    tells: dict[str, list[str]] = defaultdict(list)
    for name in {*_named(graph.places, "probe"), *graph.discharge_probes}:
        tells[name].append("a probe")
    for name in {*_named(graph.places, "transducer"), graph.discharge_transducer or ""}:
        tells[name].append("a transducer")
    for name in graph.inlet_valves:
        tells[name].append("the valve of an inlet")
    more: list[tuple[str, str, Where]] = []
    more += [(name, "a probe of liquid_side", ("liquid_side",)) for name in graph.liquid_probes]
    more += [(c.valve, f"the valve of {c.name}", ("coils", c.name)) for c in graph.coils.values()]
    if graph.injection and graph.injection.valve:
        more.append((graph.injection.valve, "the valve of injection", ("injection",)))
    for name, what, where in more:
        if tells[name]:
            yield Problem(where, f"{name} is {tells[name][0]} and {what}; a signal tells one thing")
        tells[name].append(what)


def _named(places: frozenset[Place] | set[Place], kind: str) -> list[str]:
    return sorted(place.name for place in places if place.kind == kind)
