"""The places of a piping in one line: upstream before downstream, one branch after the other."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from enum import StrEnum
from typing import NamedTuple

from agent.piping.graph import Graph, Place


class Side(StrEnum):
    """Where a place sits. Compressors belong to the suction side."""

    SUCTION = "suction"
    DISCHARGE = "discharge"


class Node(NamedTuple):
    """A place of the whole piping: equal names on the two sides are two places."""

    side: Side
    place: Place


Pipe = tuple[Node, Node]


def pipes_of(layout: Graph) -> frozenset[Pipe]:
    """Every connection of the whole piping."""

    def discharge(place: Place) -> Node:
        on_suction = place.kind == "compressor" and place in layout.places
        return Node(Side.SUCTION if on_suction else Side.DISCHARGE, place)

    suction = {(Node(Side.SUCTION, up), Node(Side.SUCTION, down)) for up, down in layout.suction}
    return frozenset(suction | {(discharge(up), discharge(down)) for up, down in layout.discharge})


def flow_order(layout: Graph) -> list[Node]:
    """Every place once, the suction side first. A loop of the discharge side is cut somewhere."""
    pipes = pipes_of(layout)
    order: list[Node] = []
    done: set[Node] = set()
    for side in Side:
        here = {node for pipe in pipes for node in pipe if node.side is side}
        ends = here - {up for up, down in pipes if down.side is side}
        for start in [*sorted(ends, key=_key), *sorted(here - ends, key=_key)]:
            _walk(start, pipes, here, done, order)
    return order


def _walk(
    start: Node, pipes: Iterable[Pipe], here: Collection[Node], done: set[Node], order: list[Node]
) -> None:
    """Append what flows to a place, then the place; without recursion, as paths may be long."""
    upstream: dict[Node, list[Node]] = {}
    for up, down in pipes:
        if up in here:
            upstream.setdefault(down, []).append(up)
    waiting = [(start, False)]
    while waiting:
        node, is_ready = waiting.pop()
        if is_ready:
            order.append(node)
        elif node not in done:
            done.add(node)
            waiting.append((node, True))
            first_last = sorted(
                upstream.get(node, ()), key=lambda n: _first_source(n, upstream), reverse=True
            )
            waiting += [(each, False) for each in first_last]


def _first_source(node: Node, upstream: dict[Node, list[Node]]) -> tuple[tuple[str, int, str], ...]:
    """Where a branch begins: evaporators come before inlets, and each in the order of its name."""
    seen, waiting, sources = {node}, [node], []
    while waiting:
        here = waiting.pop()
        fed_by = upstream.get(here, [])
        if not fed_by:
            sources.append(here)
        waiting += [each for each in fed_by if each not in seen]
        seen.update(fed_by)
    return min(map(_key, sources), default=_key(node)), _key(node)


def _key(node: Node) -> tuple[str, int, str]:
    """Numbers in their order, then names."""
    name = node.place.name
    return node.place.kind, int(name) if name.isdigit() and len(name) < 10 else 0, name
