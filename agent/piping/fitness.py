"""What each probe is worth for suction superheat, derived from the piping graph.

No table of special cases: a verdict follows from which streams pass the probe and what has joined
upstream of it, for a stated mode, states of the valves and running compressors.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations, product

from agent.piping.graph import Graph, Inlet, Place
from agent.piping.situation import Situation, role_not_known, says_role


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


def fitness(layout: Graph, situation: Situation) -> dict[str, ProbeFitness]:
    """Fitness of every probe of the layout.

    In a mode that the layout does not describe, and in every transient mode, no stream counts as
    settled and nothing is fit. Where it is not known which compressors run, or what a coil does, a probe
    gets the worst verdict over all the possibilities.
    """
    verdicts = {
        probe: ProbeFitness(Fitness.HIGH_SIDE, "it sits on the discharge side")
        for probe in layout.discharge_probes
    }
    if situation.mode not in layout.modes:
        reason = f"no settled stream of vapour in mode {situation.mode}"
        return verdicts | {p: ProbeFitness(Fitness.IDLE, reason) for p in layout.suction_probes}
    possible = list(product(situation.possible_running(layout), situation.possible_roles(layout)))
    flows = {each: _Flow(layout, situation, *each) for each in possible}
    for probe in layout.suction_probes:
        found = {each: flow.verdict(probe) for each, flow in flows.items()}
        worst = max(found.values(), key=lambda f: _WORST_LAST.index(f.verdict))
        as_bad = [f for f in found.values() if f.verdict is worst.verdict]
        matters = _what_matters({each: f.verdict for each, f in found.items()})
        reason = f"{worst.reason} ({' and '.join(matters)})" if matters else worst.reason
        passing = frozenset[str]().union(*(f.streams for f in as_bad))
        joined = frozenset[str]().union(*(f.joined for f in as_bad))
        verdicts[probe] = ProbeFitness(worst.verdict, reason, passing, joined)
    return verdicts


def streams(layout: Graph, situation: Situation) -> frozenset[str]:
    """The streams that may flow: evaporators and inlets that are streams of their own."""
    if situation.mode not in layout.modes:
        return frozenset()
    running = layout.compressors if situation.running is None else situation.running
    evaporating = situation.possible_roles(layout)[0]
    return frozenset(place.name for place in _Flow(layout, situation, running, evaporating).streams)


def _what_matters(verdicts: Mapping[tuple[frozenset[str], frozenset[str]], Fitness]) -> list[str]:
    """What is not known and alone changes the verdict. Keys: compressors running, coils evaporating."""
    matters = set()
    for one, other in combinations(verdicts, 2):
        if verdicts[one] is not verdicts[other]:
            roles = one[1] ^ other[1]
            if not roles:
                matters.add("which compressors run is not known")
            elif one[0] == other[0] and len(roles) == 1:
                matters.add(role_not_known(*roles))
    return sorted(matters)


class _Flow:
    """Which streams pass where, for one set of running compressors and one of evaporating coils."""

    def __init__(
        self, layout: Graph, situation: Situation, running: Collection[str], evaporating: Collection[str]
    ) -> None:
        self.layout = layout
        self.situation = situation
        self.piping = layout.modes[situation.mode]
        pulled = {Place("compressor", name) for name in running}
        self.flowing = {p for p in layout.places if p in pulled or layout.downstream(p) & pulled}
        self.open = [inlet for inlet in layout.inlets.values() if not situation.is_shut(inlet)]
        by_valve = layout.coils_by_valve(situation.mode)
        self.not_evaporating = [coil for coil in by_valve if coil.name not in evaporating]
        sources = [Place("evaporator", name) for name in (*self.piping.evaporators, *evaporating)]
        sources += [Place("inlet", inlet.name) for inlet in self.open if inlet.is_stream]
        self.streams = {source for source in sources if source in self.flowing}

    def verdict(self, probe: str) -> ProbeFitness:
        place = Place("probe", probe)
        pipes = self.layout.segment_of.get(place, frozenset())
        reversed_pipes = pipes & self.piping.high_side
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
        is_dead = any(coil.pipe in pipes for coil in self.not_evaporating)
        if is_dead or not self.streams or not (passing or joined):
            return ProbeFitness(
                Fitness.IDLE,
                f"no returning vapour passes here in {self.situation.mode}{self._because(place, upstream)}",
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

    def _because(self, place: Place, upstream: frozenset[Place]) -> str:
        stopped = sorted(p.name for p in self.layout.downstream(place) | {place} if p.kind == "compressor")
        if place not in self.flowing and stopped:
            return f": compressor {' and '.join(stopped)} stands"
        told = [c for c in self.not_evaporating if self.situation.role(c) is not None]
        coils = [c.name for c in told if Place("evaporator", c.name) in upstream]
        if not coils:
            return ""
        return f": {' and '.join(says_role(coil, False) for coil in coils)}, the pipe may be hot"

    def _joins(self, inlets: list[Inlet]) -> str:
        parts = []
        for inlet in sorted(inlets, key=lambda i: i.name):
            effect = {"warms": "warms", "cools": "cools", "either": "may warm or cool"}[inlet.effect]
            doubt = ", not known shut" if self.situation.is_unknown(inlet) else ""
            parts.append(f"{inlet.name} ({effect}{doubt})")
        return f"{' and '.join(parts)} {'joins' if len(parts) == 1 else 'join'}"
