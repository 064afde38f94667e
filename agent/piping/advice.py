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
from agent.piping.graph import Graph, Place
from agent.piping.situation import Situation

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
    """The piping with one probe more, which is a silent one or stands on an edge."""

    layout: Graph
    available: frozenset[str]
    probe: str | None = None
    edge: tuple[Place, Place] | None = None


def advise(
    layout: Graph,
    place: str,
    modes: Collection[str] | None = None,
    available: Collection[str] | None = None,
    silent_valves: Collection[str] = (),
) -> tuple[Advice, ...]:
    """The probes that a place lacks: first the one that helps in most modes, then for the modes left.

    ``available`` holds the probes that give readings (None: all on the layout), ``silent_valves`` the valves
    that no reading tells of. Empty where the place is measured well in every mode, or no single probe helps.
    """
    giving = frozenset(layout.suction_probes if available is None else available)
    return _Adviser(layout, place, giving, silent_valves).advice(described(layout, modes))


class _Adviser:
    """Tries every probe for one place."""

    def __init__(
        self, layout: Graph, place: str, available: frozenset[str], silent_valves: Collection[str]
    ) -> None:
        self.place = place
        self.silent_valves = silent_valves
        self.now = _Trial(layout, available)
        self.trials = list(_trials(layout, available))

    def advice(self, modes: Collection[str]) -> tuple[Advice, ...]:
        left, found = list(modes), list[Advice]()
        while left:
            gained = [
                [mode for mode in left if self.gain(trial, self.base(mode)) > 0] for trial in self.trials
            ]
            helping = [(trial, some) for trial, some in zip(self.trials, gained, strict=True) if some]
            if not helping:
                break
            trial, helped = max(helping, key=lambda each: self.worth(*each))
            found.append(self.said(trial, helped))
            left = [mode for mode in left if mode not in helped]
        return tuple(found)

    def said(self, trial: _Trial, modes: list[str]) -> Advice:
        standing = self.choice(trial, self.base(modes[0])).standing
        if trial.edge is None:
            return Advice(tuple(modes), standing, f"readings of {trial.probe}", trial.probe)
        position = _position(self.now.layout, *trial.edge)
        return Advice(tuple(modes), standing, _in_words(self.now.layout, position), None, position)

    def base(self, mode: str) -> Situation:
        return base_case(self.now.layout, mode, self.silent_valves)

    def choice(self, trial: _Trial, situation: Situation) -> Choice:
        return choose(trial.layout, situation, trial.available).places[self.place]

    def gain(self, trial: _Trial, situation: Situation) -> int:
        return _rank(self.choice(trial, situation)) - _rank(self.choice(self.now, situation))

    def worth(self, trial: _Trial, modes: list[str]) -> tuple[int, ...]:
        """What makes one trial better than another, the weightiest first.

        Modes in which the place becomes well measured, modes in which it gains at all, other positions of the
        valves in which it gains too; a probe that is there before a new one; a pipe that everything passes
        before a branch; and of several such pipes the last.
        """
        layout = self.now.layout
        good = sum(_rank(self.choice(trial, self.base(mode))) == _GOOD for mode in modes)
        others = [case for mode in modes for _, _, case in other_cases(layout, mode, self.silent_valves)]
        also = sum(self.gain(trial, case) > 0 for case in others)
        if trial.edge is None:
            return good, len(modes), also, 1, 0, 0
        upstream, downstream = trial.edge
        before = layout.upstream(upstream) | {upstream}
        after = layout.downstream(downstream) | {downstream}
        passing = sum(p.kind == "evaporator" for p in before) + sum(p.kind == "compressor" for p in after)
        return good, len(modes), also, 0, passing, len(before)


def _trials(layout: Graph, available: frozenset[str]) -> Iterator[_Trial]:
    """The piping with one probe more: one that is there and silent, or a new one on each stretch of pipe."""
    for probe in layout.suction_probes:
        if probe not in available:
            yield _Trial(layout, available | {probe}, probe)
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


def whereabouts(layout: Graph, probe: str) -> str:
    """Where a probe of the suction line sits, in words; empty where it sits on none."""
    place = Place("probe", probe)
    upstream = next((up for up, down in sorted(layout.suction) if down == place), None)
    return "" if upstream is None else _stretch(layout, _position(layout, upstream, place))


def stretches(layout: Graph, place: Place) -> tuple[list[Position], list[Position]]:
    """The stretches of the suction line that end at a place and that begin there; a probe's own twice."""
    ahead = [_position(layout, up, down) for up, down in sorted(layout.suction) if down == place]
    after = [_position(layout, up, down) for up, down in sorted(layout.suction) if up == place]
    return ahead, after


def called(layout: Graph, position: Position) -> str:
    """A stretch of the suction line in words."""
    return _stretch(layout, position)


def has_nothing_between(layout: Graph, position: Position) -> bool:
    """Whether a stretch has no probe and no named run on it: often it is short."""
    return (position.after, position.ahead_of) in layout.suction


def _in_words(layout: Graph, position: Position) -> str:
    return f"a probe {_stretch(layout, position)}"


def _stretch(layout: Graph, position: Position) -> str:
    runs = f"on {' and '.join(sorted(position.runs))}, " if position.runs else ""
    after, ahead_of = (_called(layout, place) for place in (position.after, position.ahead_of))
    if position.ahead_of.kind in ("split", "compressor"):
        return f"{runs}after {after}, ahead of {ahead_of}"
    return f"{runs}between {after} and {ahead_of}"


def _called(layout: Graph, place: Place) -> str:
    """A place as one speaks of it: the accumulator, oil_return, the split, compressor 2."""
    if place.kind in ("vessel", "split"):
        alone = sum(other.kind == place.kind for other in layout.places) == 1
        if alone and place.kind == "split":
            return "the split"
        return f"the {place.name}" if alone else f"{place.kind} {place.name}"
    return place.name if place.kind in ("evaporator", "inlet") else f"{place.kind} {place.name}"
