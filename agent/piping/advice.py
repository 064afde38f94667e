"""Where one more probe would make measurable what is not: found by trying every pipe.

No table of special cases: a probe is put on each edge of the suction side in turn, and the choice is made
anew. It knows nothing of what a probe costs or whether a clamp can be reached.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from agent.piping.cases import base_case, described, other_cases
from agent.piping.choice import Choice, Standing, choose
from agent.piping.fitness import Situation
from agent.piping.graph import Graph, Place

_TRIED = Place("probe", "the probe tried")  # no probe of a layout can have a name with spaces
_PASSED_OVER = ("probe", "transducer", "segment")  # they do not tell where on the piping one stands
_WEAK = (Standing.SECOND_BEST, Standing.AFTER_ACCUMULATOR)
_NOTHING, _BETTER_THAN_NOTHING, _GOOD = range(3)


class Position(NamedTuple):
    """A stretch of pipe: what stands ahead of it, what follows, and the named runs that it is on."""

    after: Place
    ahead_of: Place
    runs: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Advice:
    """One probe with which a place could be measured, or better than now, in these modes.

    Either a ``probe`` of the layout that gives no readings, or a new one at a ``position``.
    """

    modes: tuple[str, ...]
    standing: Standing
    where: str  # in words
    probe: str | None = None
    position: Position | None = None


class _Trial(NamedTuple):
    layout: Graph
    available: frozenset[str]
    probe: str | None
    edge: tuple[Place, Place] | None


def advise(
    layout: Graph, place: str, modes: Collection[str] | None = None, available: Collection[str] | None = None
) -> tuple[Advice, ...]:
    """The probes that a place lacks: first the one that helps in most modes, then for the modes left.

    ``available`` holds the probes that give readings (None: all on the layout). Empty where the place is
    measured well in every mode, or where no single probe helps.
    """
    giving = frozenset(layout.suction_probes if available is None else available)
    trials = list(_trials(layout, giving))
    left, found = set(described(layout, modes)), list[Advice]()
    while left:
        tried = [(trial, _gained(layout, giving, trial, place, left)) for trial in trials]
        gains = [(trial, gained) for trial, gained in tried if gained]
        if not gains:
            break
        trial, gained = max(gains, key=lambda each: _worth(layout, giving, place, *each))
        modes_gained = tuple(mode for mode in described(layout) if mode in gained)
        standing = _choice(trial.layout, trial.available, place, base_case(layout, modes_gained[0])).standing
        position = _position(layout, *trial.edge) if trial.edge else None
        where = _in_words(layout, position) if position else f"readings of {trial.probe}"
        found.append(Advice(modes_gained, standing, where, trial.probe, position))
        left -= gained
    return tuple(found)


def _trials(layout: Graph, available: frozenset[str]) -> Iterator[_Trial]:
    """The piping with one probe more: one that is there and silent, or a new one on each stretch of pipe."""
    for probe in layout.suction_probes:
        if probe not in available:
            yield _Trial(layout, available | {probe}, probe, None)
    tried = set()
    for upstream, downstream in sorted(layout.suction):
        if downstream.kind == "segment":  # the named run begins here, and is tried behind its name
            continue
        position = _position(layout, upstream, downstream)
        if position in tried:
            continue
        tried.add(position)
        edges = layout.suction - {(upstream, downstream)} | {(upstream, _TRIED), (_TRIED, downstream)}
        runs = {**layout.segment_of, _TRIED: layout.runs_after(upstream)}
        changed = replace(layout, suction=edges, segment_of=runs)
        yield _Trial(changed, available | {_TRIED.name}, None, (upstream, downstream))


def _gained(
    layout: Graph, available: frozenset[str], trial: _Trial, place: str, modes: Collection[str]
) -> frozenset[str]:
    """The modes in which a trial makes a place better measured in the base case."""
    return frozenset(
        mode for mode in modes if _gain(layout, available, trial, place, base_case(layout, mode)) > 0
    )


def _gain(layout: Graph, available: frozenset[str], trial: _Trial, place: str, situation: Situation) -> int:
    after = _rank(_choice(trial.layout, trial.available, place, situation))
    return after - _rank(_choice(layout, available, place, situation))


def _worth(
    layout: Graph, available: frozenset[str], place: str, trial: _Trial, gained: frozenset[str]
) -> tuple[int, ...]:
    """What makes one trial better than another, the weightiest first.

    Modes in which the place becomes well measured, modes in which it gains at all, other positions of the
    valves in which it gains too; a probe that is there before a new one; a pipe that everything passes
    before a branch; and of several such pipes the last.
    """
    good = sum(
        _rank(_choice(trial.layout, trial.available, place, base_case(layout, mode))) == _GOOD
        for mode in gained
    )
    others = [case for mode in sorted(gained) for _, _, case in other_cases(layout, mode)]
    also = sum(_gain(layout, available, trial, place, case) > 0 for case in others)
    if trial.edge is None:
        return good, len(gained), also, 1, 0, 0
    before = layout.upstream(trial.edge[1])
    after = layout.downstream(trial.edge[0])
    passing = sum(p.kind == "evaporator" for p in before) + sum(p.kind == "compressor" for p in after)
    return good, len(gained), also, 0, passing, len(before)


def _choice(layout: Graph, available: Collection[str], place: str, situation: Situation) -> Choice:
    return choose(layout, situation, available).places[place]


def _rank(choice: Choice) -> int:
    if not choice.probes:
        return _NOTHING
    return _BETTER_THAN_NOTHING if choice.standing in _WEAK else _GOOD


def _position(layout: Graph, upstream: Place, downstream: Place) -> Position:
    """The stretch of pipe that an edge is part of, named by what stands at its ends."""
    runs = layout.runs_after(upstream)
    while upstream.kind in _PASSED_OVER and _is_inline(layout, upstream):
        upstream = next(up for up, down in layout.suction if down == upstream)
    while downstream.kind in _PASSED_OVER and _is_inline(layout, downstream):
        downstream = next(down for up, down in layout.suction if up == downstream)
    return Position(upstream, downstream, runs)


def _is_inline(layout: Graph, place: Place) -> bool:
    """Nothing meets or parts here."""
    into, out = (sum(edge[end] == place for edge in layout.suction) for end in (1, 0))
    return into == out == 1


def _in_words(layout: Graph, position: Position) -> str:
    runs = f"on {' and '.join(sorted(position.runs))}, " if position.runs else ""
    after, ahead_of = (_called(layout, place) for place in (position.after, position.ahead_of))
    if position.ahead_of.kind in ("split", "compressor"):
        return f"a probe {runs}after {after}, ahead of {ahead_of}"
    return f"a probe {runs}between {after} and {ahead_of}"


def _called(layout: Graph, place: Place) -> str:
    """A place as one speaks of it: the accumulator, oil_return, the split, compressor 2."""
    if place.kind in ("vessel", "split"):
        alone = sum(other.kind == place.kind for other in layout.places) == 1
        if alone and place.kind == "split":
            return "the split"
        return f"the {place.name}" if alone else f"{place.kind} {place.name}"
    return place.name if place.kind in ("evaporator", "inlet") else f"{place.kind} {place.name}"
