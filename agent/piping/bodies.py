"""Which probes share a body of metal: at rest they come to one temperature, save for what heats one end.

It knows no readings. Between two probes of a body lies no vessel, coil, expansion, exchanger or compressor,
and no length of pipe with a name of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.piping.graph import Graph, Place

_WITHIN = ("probe", "transducer", "inlet", "filter", "junction", "split")


@dataclass(frozen=True)
class Body:
    """Probes that share one, in order of their names."""

    probes: tuple[str, ...]
    is_plain: bool  # one straight run without anything near that stays warm at rest


def bodies(layout: Graph) -> list[Body]:
    """Every body that holds two probes or more."""
    found = []
    for edges in (layout.suction, layout.discharge, layout.liquid):
        found += _bodies(edges)
    return sorted(found, key=lambda body: body.probes)


def _bodies(edges: frozenset[tuple[Place, Place]]) -> list[Body]:
    neighbours: dict[Place, set[Place]] = {}
    for one, other in edges:
        neighbours.setdefault(one, set()).add(other)
        neighbours.setdefault(other, set()).add(one)
    found, seen = [], set[Place]()
    for start in neighbours:
        if start in seen:
            continue
        inside, touched = _reached(neighbours, start)
        seen |= inside
        probes = tuple(sorted(place.name for place in inside if place.kind == "probe"))
        if len(probes) > 1:
            kinds = {place.kind for place in inside | touched}
            plain = not kinds & {"inlet", "junction", "split", "compressor"}
            found.append(Body(probes, plain))
    return found


def _reached(neighbours: dict[Place, set[Place]], start: Place) -> tuple[set[Place], set[Place]]:
    """What belongs to the body of a place, and what it ends at."""
    inside, touched, waiting = set[Place](), set[Place](), [start]
    while waiting:
        place = waiting.pop()
        if place.kind not in _WITHIN:
            touched.add(place)
        elif place not in inside:
            inside.add(place)
            waiting += neighbours[place]
    return inside, touched
