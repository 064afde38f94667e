"""What each probe is worth for suction superheat, derived from the piping graph.

No table of special cases: a verdict follows from which streams pass the probe and what has joined
upstream of it, for a stated mode, valve positions and running compressors.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from agent.piping.graph import Graph, Inlet, Place


class Fitness(StrEnum):
    """What a probe is worth for suction superheat at a time."""

    FIT = "fit"
    PARTIAL = "partial"
    UNPROVEN = "unproven"
    MIXED = "mixed"
    IDLE = "idle"
    HIGH_SIDE = "high_side"


# From best to worst where one must stand for several possibilities.
_WORST_LAST = tuple(Fitness)
# The partial order that holds whatever the layout: each is better than those it names.
# `idle` and `high_side` compare with nothing: no vapour of the suction side is measured there.
BETTER_THAN: Mapping[Fitness, frozenset[Fitness]] = {
    Fitness.FIT: frozenset({Fitness.PARTIAL, Fitness.UNPROVEN, Fitness.MIXED}),
    Fitness.PARTIAL: frozenset({Fitness.UNPROVEN, Fitness.MIXED}),
    Fitness.UNPROVEN: frozenset({Fitness.MIXED}),
}


@dataclass(frozen=True)
class ProbeFitness:
    """A probe's verdict and its reason, the streams that pass it and the inlets joined upstream of it."""

    verdict: Fitness
    reason: str
    streams: frozenset[str] = frozenset()
    joined: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Situation:
    """What the piping is doing: mode, which valves are open, which compressors run; None: not known."""

    mode: str
    valves: tuple[tuple[str, bool | None], ...] = ()
    running: frozenset[str] | None = None

    @classmethod
    def of(
        cls,
        mode: str,
        valves: Mapping[str, bool | None] | None = None,
        running: Collection[str] | None = None,
    ) -> Situation:
        return cls(
            mode, tuple(sorted((valves or {}).items())), None if running is None else frozenset(running)
        )

    def better(self, layout: Graph) -> Iterator[tuple[Situation, list[str]]]:
        """Situations of the same mode in which more can be read, each with what keeps from them now."""
        inlets = [i for i in layout.inlets.values() if i.valve and not self.is_shut(i)]
        valves = [f"{i.name} is {'not known shut' if self.is_unknown(i) else 'open'}" for i in inlets]
        running = [f"compressor {c} stands" for c in layout.compressors if c not in (self.running or ())]
        if self.running is None:
            running = ["which compressors run is not known"]
        shut = tuple((valve, False) for valve in layout.valves)
        everything = frozenset(layout.compressors)
        yield Situation(self.mode, shut, self.running), valves
        yield Situation(self.mode, self.valves, everything), running
        yield Situation(self.mode, shut, everything), valves + running

    def is_shut(self, inlet: Inlet) -> bool:
        return inlet.valve is not None and dict(self.valves).get(inlet.valve) is False

    def is_unknown(self, inlet: Inlet) -> bool:
        return inlet.valve is not None and dict(self.valves).get(inlet.valve) is None


def fitness(layout: Graph, situation: Situation) -> dict[str, ProbeFitness]:
    """Fitness of every probe of the layout.

    In a mode that the layout does not describe, and in every transient mode, no stream counts as
    settled and nothing is fit. Where it is not known which compressors run, a probe gets the worst
    verdict over all the possibilities.
    """
    verdicts = {
        probe: ProbeFitness(Fitness.HIGH_SIDE, "it sits on the discharge side")
        for probe in layout.discharge_probes
    }
    if situation.mode not in layout.modes:
        reason = f"no settled stream of vapour in mode {situation.mode}"
        return verdicts | {p: ProbeFitness(Fitness.IDLE, reason) for p in layout.suction_probes}
    if situation.running is not None:
        possibilities = [_Flow(layout, situation, situation.running)]
    else:
        possibilities = [_Flow(layout, situation, running) for running in _subsets(layout.compressors)]
    for probe in layout.suction_probes:
        found = [flow.verdict(probe) for flow in possibilities]
        worst = max(found, key=lambda f: _WORST_LAST.index(f.verdict))
        if any(f.verdict != worst.verdict for f in found):
            reason = f"{worst.reason} (which compressors run is not known)"
            worst = ProbeFitness(worst.verdict, reason, worst.streams, worst.joined)
        verdicts[probe] = worst
    return verdicts


def streams(layout: Graph, situation: Situation) -> frozenset[str]:
    """The streams that flow: evaporators of the mode and inlets that are streams of their own."""
    if situation.mode not in layout.modes:
        return frozenset()
    running = layout.compressors if situation.running is None else situation.running
    return frozenset(place.name for place in _Flow(layout, situation, running).streams)


def _subsets(names: tuple[str, ...]) -> Iterable[frozenset[str]]:
    return (frozenset(chosen) for size in range(1, len(names) + 1) for chosen in combinations(names, size))


class _Flow:
    """Which streams pass where, for one set of running compressors."""

    def __init__(self, layout: Graph, situation: Situation, running: Collection[str]) -> None:
        self.layout = layout
        self.situation = situation
        self.piping = layout.modes[situation.mode]
        pulled = {Place("compressor", name) for name in running}
        self.flowing = {p for p in layout.places if p in pulled or layout.downstream(p) & pulled}
        self.open = [inlet for inlet in layout.inlets.values() if not situation.is_shut(inlet)]
        sources = [Place("evaporator", name) for name in self.piping.evaporators]
        sources += [Place("inlet", inlet.name) for inlet in self.open if inlet.is_stream]
        self.streams = {source for source in sources if source in self.flowing}

    def verdict(self, probe: str) -> ProbeFitness:
        place = Place("probe", probe)
        reversed_pipes = self.layout.segment_of.get(place, frozenset()) & self.piping.high_side
        if reversed_pipes:
            pipe = ", ".join(sorted(reversed_pipes))
            return ProbeFitness(
                Fitness.HIGH_SIDE, f"{pipe} carries high-pressure gas in {self.situation.mode}"
            )
        upstream = self.layout.upstream(place)
        passing = self.streams & upstream if place in self.flowing else set()
        doubtful = [i for i in self.open if i.name in self.layout.unproven.get(probe, ())]
        joined = [i for i in self.open if Place("inlet", i.name) in upstream and i not in doubtful]
        if place not in self.flowing:
            joined = doubtful = []
        if len(passing) == 1:  # a stream does not join itself on its own branch
            joined = [i for i in joined if Place("inlet", i.name) not in passing]
        streams, names = frozenset(s.name for s in passing), frozenset(i.name for i in joined)
        if not passing and not joined:
            return ProbeFitness(
                Fitness.IDLE,
                f"no returning vapour passes here in {self.situation.mode}{self._standing(place)}",
            )
        if joined:
            return ProbeFitness(Fitness.MIXED, f"{self._joins(joined)} upstream", streams, names)
        if doubtful:
            sides = " and ".join(sorted(i.name for i in doubtful))
            reason = f"the layout does not say on which side of {sides} it sits"
            return ProbeFitness(Fitness.UNPROVEN, reason, streams)
        if passing == self.streams and self._after_divided_vessel(upstream):
            reason = "it sees one of several branches, each with a vessel of its own"
            return ProbeFitness(Fitness.PARTIAL, reason, streams)
        if passing == self.streams:
            return ProbeFitness(Fitness.FIT, "all returning vapour, before anything is mixed in", streams)
        unseen = " and ".join(sorted(s.name for s in self.streams - passing))
        seen = " and ".join(sorted(streams))
        return ProbeFitness(Fitness.PARTIAL, f"it sees {seen} but not {unseen}", streams)

    def _after_divided_vessel(self, upstream: frozenset[Place]) -> bool:
        """Past a vessel that stands on one branch of a split: what it holds back is not the same on all."""
        vessels = {place for place in upstream if place.kind == "vessel"}
        for split in (place for place in upstream if place.kind == "split"):
            branches = {down for up, down in self.layout.suction if up == split} & self.flowing
            if len(branches) > 1 and self.layout.downstream(split) & vessels:
                return True
        return False

    def _standing(self, place: Place) -> str:
        stopped = sorted(p.name for p in self.layout.downstream(place) | {place} if p.kind == "compressor")
        if place in self.flowing or not stopped:
            return ""
        return f": compressor {' and '.join(stopped)} stands"

    def _joins(self, inlets: list[Inlet]) -> str:
        parts = []
        for inlet in sorted(inlets, key=lambda i: i.name):
            effect = {"warms": "warms", "cools": "cools", "either": "may warm or cool"}[inlet.effect]
            doubt = ", not known shut" if self.situation.is_unknown(inlet) else ""
            parts.append(f"{inlet.name} ({effect}{doubt})")
        return f"{' and '.join(parts)} {'joins' if len(parts) == 1 else 'join'}"
