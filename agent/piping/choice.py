"""Which probe speaks for which place, with the reason in a sentence.

A choice is made per place from the fitness of the probes that are there and give readings. A `mixed`
probe never gives a verdict on vapour quality.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import combinations

from agent.piping.fitness import Fitness, ProbeFitness, fitness, streams
from agent.piping.graph import STEADY_MODES, Effect, Graph, Inlet, Place
from agent.piping.pressure import pressure_lost
from agent.piping.situation import Situation, role_not_known

LAYOUT_NOT_KNOWN = "the layout is not known"
RETURN = "return_superheat"
ACCUMULATOR_OUTLET = "accumulator_outlet_superheat"
COMPRESSOR_INLET = "compressor_inlet_superheat"
RISE = "oil_return_rise"
ACCUMULATOR_CHANGE = "accumulator_change"


class Standing(StrEnum):
    """How good a choice is."""

    FIT = "fit"
    COVERING = "covering"  # several partial probes together see every stream; the lowest carries the verdict
    SECOND_BEST = "second_best"
    AFTER_ACCUMULATOR = "after_accumulator"  # second best, and near zero is normal there
    UPPER_BOUND = "upper_bound"  # only warmer streams have joined: high proves nothing
    MIXED = "mixed"  # for gas density at the compressor, not for vapour quality
    NOT_DECIDABLE = "not_decidable"  # not in this situation
    NOT_MEASURABLE = "not_measurable"  # in no valve position of this mode


@dataclass(frozen=True)
class Choice:
    """The probes that speak for a place; for a difference the later probe, then its reference."""

    standing: Standing
    probes: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class Choices:
    """All that the piping has to say in one situation.

    ``lacks``: per place, the failed probes that it would take.
    """

    fitness: Mapping[str, ProbeFitness]
    places: Mapping[str, Choice]
    described: bool = True  # the layout says what flows in this mode
    lacks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def choose(layout: Graph, situation: Situation, available: Collection[str] | None = None) -> Choices:
    """Choose the probes of every place.

    ``available`` holds the probes that give readings (None: all on the layout).
    """
    return _Chooser(layout, situation, available).choices()


class _Chooser:
    def __init__(self, layout: Graph, situation: Situation, available: Collection[str] | None) -> None:
        self.layout = layout
        self.situation = situation
        self.available = set(layout.suction_probes if available is None else available)
        self.fitness = fitness(layout, situation)
        self.accumulators = {place for place in layout.places if place.kind == "vessel"}
        self.lost = pressure_lost(layout, situation)
        self.finders: dict[str, Callable[[], Choice | None]] = {
            RETURN: self.return_superheat,
            ACCUMULATOR_OUTLET: self.accumulator_outlet,
            COMPRESSOR_INLET: self.compressor_inlet,
            RISE: self.rise,
            ACCUMULATOR_CHANGE: self.accumulator_change,
        }

    def choices(self) -> Choices:
        places = {name: self.find(name) or self.nothing(name) for name in self.finders}
        return Choices(self.fitness, places, self.situation.mode in self.layout.modes)

    def find(self, place: str) -> Choice | None:
        return None if self.lost else self.finders[place]()

    def return_superheat(self) -> Choice | None:
        ahead = [p for p in self.with_verdict(Fitness.FIT) if self.is_ahead(p)]
        if ahead:
            best = min(reversed(ahead), key=self.inlets_ahead)
            return Choice(Standing.FIT, (best,), self.fitness[best].reason)
        partial = [p for p in self.with_verdict(Fitness.PARTIAL) if self.is_ahead(p)]
        covering = self.covering(partial)
        if covering:
            reason = "together they see every stream of returning vapour; the lowest carries the verdict"
            if len(covering) == 1:
                reason = f"ahead of the accumulator all passes here; {self.fitness[covering[0]].reason}"
            return Choice(Standing.COVERING, covering, reason)
        outlet = self.accumulator_outlet()
        if outlet and outlet.standing is Standing.FIT:
            reason = "taken after the accumulator, where near zero is normal while it holds liquid"
            return Choice(Standing.AFTER_ACCUMULATOR, outlet.probes, reason)
        if partial:
            return Choice(Standing.SECOND_BEST, tuple(partial), self.unseen(partial))
        return None

    def accumulator_outlet(self) -> Choice | None:
        fit = [p for p in self.with_verdict(Fitness.FIT) if self.is_after(p)]
        if fit:
            return Choice(Standing.FIT, (fit[0],), "ahead of every open inlet")
        partial = [p for p in self.with_verdict(Fitness.PARTIAL) if self.is_after(p)]
        if partial:
            several = "; the lowest is shown" if len(partial) > 1 else ""
            return Choice(Standing.SECOND_BEST, tuple(partial), self.fitness[partial[0]].reason + several)
        return None

    def compressor_inlet(self) -> Choice | None:
        late = [probe for probe in self.giving() if self.is_last(probe)]
        flowing = [p for p in late if self.fitness[p].verdict in (Fitness.MIXED, Fitness.FIT)]
        if not flowing:
            return None
        probe = flowing[-1]
        if self.fitness[probe].verdict is Fitness.FIT:
            return Choice(Standing.FIT, (probe,), self.fitness[probe].reason)
        warmer = all(i.effect is Effect.WARMS for i in self.joined(probe) + self.doubtful(probe))
        reason = self.fitness[probe].reason + "; good for gas density, not for vapour quality"
        return Choice(Standing.UPPER_BOUND if warmer else Standing.MIXED, (probe,), reason)

    def rise(self) -> Choice | None:
        reference = self.accumulator_outlet()
        if reference is None or reference.standing is not Standing.FIT:
            reference = self.return_superheat()
        if reference is None or reference.standing is not Standing.FIT:
            return None
        for probe in self.with_verdict(Fitness.MIXED):
            joined = self.joined(probe)
            if [inlet.kind for inlet in joined] == ["oil_return"] and not self.doubtful(probe):
                shut = self.shut_between(probe, reference.probes[0])
                reason = f"only {joined[0].name} joins between them{f' ({shut})' if shut else ''}"
                return Choice(Standing.FIT, (probe, reference.probes[0]), reason)
        return None

    def shut_between(self, late: str, early: str) -> str:
        """The inlets between two probes that would join there as well, and what tells that they do not."""
        between = self.layout.upstream(Place("probe", late)) - self.layout.upstream(Place("probe", early))
        found = [i for i in self.layout.inlets.values() if Place("inlet", i.name) in between]
        return ", ".join(f"{i.name}: {i.valve} told shut" for i in found if self.situation.is_shut(i))

    def accumulator_change(self) -> Choice | None:
        before, after = self.return_superheat(), self.accumulator_outlet()
        if not (before and after and before.standing is after.standing is Standing.FIT):
            return None
        return Choice(
            Standing.FIT, (*after.probes, *before.probes), "fit probes on both sides of the accumulator"
        )

    def nothing(self, place: str) -> Choice:
        """Why nothing speaks for a place: not in this situation, or never in this mode."""
        mode = self.situation.mode
        if not self.layout.is_known:
            return Choice(Standing.NOT_DECIDABLE, (), LAYOUT_NOT_KNOWN)
        if mode not in STEADY_MODES:
            return Choice(Standing.NOT_DECIDABLE, (), f"in mode {mode} values are kept, not judged")
        if mode not in self.layout.modes:
            return Choice(Standing.NOT_DECIDABLE, (), f"layout {self.layout.name} does not describe {mode}")
        for better, doubts in self.situation.better(self.layout):
            if _Chooser(self.layout, better, self.available).find(place):
                reason = self.lost or f"not attributable: {' and '.join(doubts)}"
                return Choice(Standing.NOT_DECIDABLE, (), reason)
        return Choice(Standing.NOT_MEASURABLE, (), self.lost or self.lacking(place))

    def shut_oil_return(self) -> str | None:
        """An oil return whose valve is shut, ahead of a probe that would show it."""
        for inlet in self.layout.inlets.values():
            place = Place("inlet", inlet.name)
            late = [p for p in self.available if Place("probe", p) in self.layout.downstream(place)]
            if inlet.kind == "oil_return" and self.situation.is_shut(inlet) and late:
                return inlet.name
        return None

    def lacking(self, place: str) -> str:
        """What would have to be there for a place to be measured in this mode."""
        mode = self.situation.mode
        if place == RISE:
            return self.lacking_for_rise()
        if place == COMPRESSOR_INLET:
            return "no probe sits after the inlets"
        if place == ACCUMULATOR_OUTLET:
            return "no probe sits between the accumulator and the first inlet"
        if place == ACCUMULATOR_CHANGE:
            return f"it takes a fit probe on each side of the accumulator in {mode}"
        seen = "; ".join(f"{probe} is {self.fitness[probe].verdict}" for probe in self.giving())
        return f"no probe is fit in {mode}: {seen or 'none gives readings'}"

    def lacking_for_rise(self) -> str:
        oil = [p for p in self.giving() if any(inlet.kind == "oil_return" for inlet in self.joined(p))]
        if oil:
            others = sorted(inlet.name for inlet in self.joined(oil[0]) if inlet.kind != "oil_return")
            if others:
                return f"{' and '.join(others)} cannot be told from the oil return at {oil[0]}"
            return f"no fit reference ahead of {oil[0]} in {self.situation.mode}"
        if shut := self.shut_oil_return():
            return f"{shut} is shut: no oil comes back to be seen"
        doubtful = [p for p in self.giving() if self.doubts_oil(p)]
        if doubtful:
            return f"it is not proven that {doubtful[0]} sits after the oil return"
        return "no probe sits after the oil return"

    def giving(self) -> list[str]:
        """Suction probes that give readings, in flow order."""
        return [probe for probe in self.layout.suction_probes if probe in self.available]

    def joined(self, probe: str) -> list[Inlet]:
        return [self.layout.inlets[name] for name in sorted(self.fitness[probe].joined)]

    def doubtful(self, probe: str) -> list[Inlet]:
        """Open inlets that may or may not have joined ahead of the probe."""
        names = self.layout.unproven.get(probe, frozenset())
        found = [self.layout.inlets[name] for name in sorted(names)]
        return [inlet for inlet in found if not self.situation.is_shut(inlet)]

    def doubts_oil(self, probe: str) -> bool:
        return any(inlet.kind == "oil_return" for inlet in self.doubtful(probe))

    def with_verdict(self, verdict: Fitness) -> list[str]:
        """Available suction probes with this verdict, in flow order."""
        return [probe for probe in self.giving() if self.fitness[probe].verdict is verdict]

    def covering(self, partial: list[str]) -> tuple[str, ...]:
        """The smallest set of partial probes that together see every stream that returns there."""
        for size in range(1, len(partial) + 1):
            for chosen in combinations(partial, size):
                if frozenset().union(*(self.fitness[p].streams for p in chosen)) >= self.returning():
                    return chosen
        return ()

    def unseen(self, partial: list[str]) -> str:
        seen = frozenset().union(*(self.fitness[p].streams for p in partial))
        missed = sorted(self.returning() - seen)
        coils = self.layout.coils_by_valve(self.situation.mode)
        unknown = [coil.name for coil in coils if coil.name in missed and self.situation.role(coil) is None]
        parts = [role_not_known(coil) for coil in unknown]
        unseen = [name for name in missed if name not in unknown]
        parts += [f"no probe sees {' or '.join(unseen)}"] if unseen else []
        several = "; the lowest carries the verdict" if len(partial) > 1 else ""
        return " and ".join(parts) + several

    def returning(self) -> frozenset[str]:
        """The streams that come back ahead of the accumulator; where there is none, all of them."""
        inlets = self.layout.inlets
        return frozenset(
            name
            for name in streams(self.layout, self.situation)
            if name not in inlets or self.is_ahead_of_accumulator(Place("inlet", name))
        )

    def inlets_ahead(self, probe: str) -> int:
        """How many inlets could join upstream: the fewer, the less rests on what a valve is said to do."""
        return sum(place.kind == "inlet" for place in self.layout.upstream(Place("probe", probe)))

    def is_ahead(self, probe: str) -> bool:
        """Ahead of every accumulator; where there is none, ahead of every inlet."""
        if self.accumulators:
            return self.is_ahead_of_accumulator(Place("probe", probe))
        return not self.is_late(probe)

    def is_ahead_of_accumulator(self, place: Place) -> bool:
        before = self.layout.upstream(place) & self.accumulators
        return not before and (
            not self.accumulators or bool(self.layout.downstream(place) & self.accumulators)
        )

    def is_after(self, probe: str) -> bool:
        return bool(self.layout.upstream(Place("probe", probe)) & self.accumulators)

    def is_late(self, probe: str) -> bool:
        """After an inlet, whatever its valve does now."""
        return self.inlets_ahead(probe) > 0

    def is_last(self, probe: str) -> bool:
        """After the accumulator and every inlet that may be open: what the compressor takes in."""
        open_inlets = {
            Place("inlet", i.name) for i in self.layout.inlets.values() if not self.situation.is_shut(i)
        }
        doubtful = {Place("inlet", inlet.name) for inlet in self.doubtful(probe)}
        later = self.layout.downstream(Place("probe", probe)) & (open_inlets - doubtful)
        return self.is_late(probe) and not later and (self.is_after(probe) or not self.accumulators)
