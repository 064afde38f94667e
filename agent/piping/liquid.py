"""What each probe of the liquid side is worth for subcooling: whether what condenses passes it as liquid.

Derived from the graph, as for the suction side. The paths have no direction: in a mode, liquid flows from
what condenses to what expands. It knows no pressure and judges no value.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from enum import StrEnum
from itertools import combinations, product
from typing import NamedTuple

from agent.piping.graph import Graph, Place
from agent.piping.situation import Situation, role_not_known


class LiquidFitness(StrEnum):
    """What a probe is worth for subcooling, from best to worst."""

    FIT = "fit"  # all condensed liquid passes it, and no probe before the expansion sits later
    EARLIER = "earlier"  # all passes it too, but a later probe is to be preferred
    PARTIAL = "partial"  # liquid of some of the condensers
    UNPROVEN = "unproven"  # which way the liquid flows there, or what condenses, is not told
    EXPANDED = "expanded"  # an expansion lies between
    IDLE = "idle"  # no condensed liquid passes it


_WORST_LAST = tuple(LiquidFitness)


class SubcoolingFitness(NamedTuple):
    """A liquid probe's verdict, its reason in a sentence, and the condensers whose liquid passes it.

    ``behind``: the exchangers and vessels that all of it has passed on its way.
    """

    verdict: LiquidFitness
    reason: str
    condensers: frozenset[str] = frozenset()
    behind: frozenset[Place] = frozenset()


def subcooling_probes(
    layout: Graph, situation: Situation, available: Collection[str] | None = None
) -> dict[str, SubcoolingFitness]:
    """What each liquid probe is worth for subcooling in a situation.

    ``available``: the probes that give readings (None: all); others are not preferred to them. Where it is
    not known what a coil does, a probe gets the worst verdict over all the possibilities. A coil whose
    valve tells no more than that it does not evaporate may condense or stand.
    """
    if situation.mode not in layout.modes:
        reason = f"no settled stream of liquid in mode {situation.mode}"
        return dict.fromkeys(layout.liquid_probes, SubcoolingFitness(LiquidFitness.IDLE, reason))
    flows = [_Flow(layout, situation.mode, roles) for roles in _possible_roles(layout, situation)]
    found: dict[str, SubcoolingFitness] = {}
    for probe in layout.liquid_probes:
        verdicts = [flow.verdict(probe) for flow in flows]
        worst = max(verdicts, key=lambda v: _WORST_LAST.index(v.verdict))
        doubts = _doubts(situation, layout, flows, [v.verdict for v in verdicts])
        found[probe] = worst._replace(reason=f"{worst.reason} ({' and '.join(doubts)})") if doubts else worst
    fit = {p for p, v in found.items() if v.verdict is LiquidFitness.FIT}
    for probe in fit:
        usable = fit if available is None else fit.intersection(available)
        later = [p for p in usable if Place("probe", probe) in flows[0].upstream(p)]
        if later:
            last = max(later, key=lambda p: (len(flows[0].upstream(p)), p))
            reason = f"{last} sits later, nearer the expansion"
            found[probe] = found[probe]._replace(verdict=LiquidFitness.EARLIER, reason=reason)
    return found


def _possible_roles(layout: Graph, situation: Situation) -> list[Mapping[str, str]]:
    """What each coil with a valve may be doing. Something condenses in every steady mode."""
    piping = layout.modes[situation.mode]
    coils = [coil.name for coil in layout.coils_by_valve(situation.mode)]
    found: list[Mapping[str, str]] = []
    for evaporating in situation.possible_roles(layout):
        states = [
            ["evaporates"]
            if c in evaporating
            else ["condenses", "stands"]
            if c in piping.condensers
            else ["stands"]
            for c in coils
        ]
        found += [dict(zip(coils, roles, strict=True)) for roles in product(*states)]
    condensing = [r for r in found if piping.condensers - set(coils) or "condenses" in r.values()]
    return condensing or found


def _doubts(
    situation: Situation, layout: Graph, flows: list[_Flow], verdicts: list[LiquidFitness]
) -> list[str]:
    """What is not known and changes the verdict: the coils in which two possibilities differ least."""
    pairs = combinations(zip(flows, verdicts, strict=True), 2)
    differing = [
        frozenset(coil for coil in one.roles if one.roles[coil] != other.roles[coil])
        for (one, its), (other, others) in pairs
        if its is not others
    ]
    least = min(map(len, differing), default=0)
    coils = sorted(frozenset[str]().union(*(some for some in differing if len(some) == least)))
    return [
        role_not_known(coil)
        if situation.role(layout.coils[coil]) is None
        else f"whether {coil} condenses or stands is not known"
        for coil in coils
    ]


class _Side(NamedTuple):
    """What lies to one side of a probe: what condenses, what takes liquid, what is passed on the way."""

    condensers: frozenset[str]
    takers: frozenset[str]
    within: frozenset[Place]


class _Flow:
    """Where liquid comes from and goes to, for one set of roles of the coils with a valve."""

    def __init__(self, layout: Graph, mode: str, roles: Mapping[str, str]) -> None:
        piping = layout.modes[mode]
        self.mode = mode
        self.roles = roles
        self.neighbours: dict[Place, set[Place]] = {}
        for one, other in layout.liquid:
            self.neighbours.setdefault(one, set()).add(other)
            self.neighbours.setdefault(other, set()).add(one)
        doing = {
            name: frozenset(c for c in roles if roles[c] == name) for name in ("evaporates", "condenses")
        }
        self.condensers = (piping.condensers - set(roles)) | doing["condenses"]
        self.evaporators = piping.evaporators | doing["evaporates"]
        self.expanding = set(piping.expands)
        for coil in doing["evaporates"]:  # what evaporates has been expanded, by the valve nearest to it
            near = self.reach(Place("coil", coil), (), lambda place: place.kind in ("coil", "expansion"))
            self.expanding |= {place.name for place in near if place.kind == "expansion"}

    def verdict(self, probe: str) -> SubcoolingFitness:
        place = Place("probe", probe)
        sides = self.sides(place)
        if not any(side.condensers for side in sides):
            return self.nothing(place)
        if len(sides) < len(self.neighbours[place]):
            return SubcoolingFitness(LiquidFitness.UNPROVEN, "it sits on one of several ways that meet again")
        into, out_of = self.directions(sides)
        if not into:
            return SubcoolingFitness(LiquidFitness.IDLE, f"nothing beyond it takes liquid in {self.mode}")
        if any(one is other for one in into for other in out_of):
            return SubcoolingFitness(LiquidFitness.UNPROVEN, "which way liquid flows here is not told")
        seen = frozenset[str]().union(*(side.condensers for side in into))
        unseen = self.condensers - seen
        if unseen:
            reason = f"it sees liquid of {_listed(seen)} but not of {_listed(unseen)}"
            return SubcoolingFitness(LiquidFitness.PARTIAL, reason, seen)
        behind = frozenset(p for side in into for p in side.within if p.kind in ("exchanger", "vessel"))
        after = f", after {_listed([place.name for place in behind])}" if behind else ""
        takers = frozenset[str]().union(*(side.takers for side in out_of))
        reason = f"all liquid of {_listed(seen)}{after}, ahead of {_listed(takers)}"
        return SubcoolingFitness(LiquidFitness.FIT, reason, seen, behind)

    def nothing(self, probe: Place) -> SubcoolingFitness:
        """Why no condensed liquid comes to a probe."""
        if not self.condensers:
            reason = f"what condenses in {self.mode} is not told"
            return SubcoolingFitness(LiquidFitness.UNPROVEN, reason)
        here = self.reach(probe, (), self.is_end)
        ends = {place for place in here if self.is_end(place)}
        between = set()
        for end in ends:
            beyond = self.reach(end, here - ends, lambda place: place.kind == "coil")
            if end.kind == "expansion" and self.condensers & _names(beyond, "coil"):
                between.add(end.name)
        if between:
            verb = "expands" if len(between) == 1 else "expand"
            reason = f"{_listed(between)} {verb} between what condenses and it"
            return SubcoolingFitness(LiquidFitness.EXPANDED, reason)
        return SubcoolingFitness(LiquidFitness.IDLE, f"no condensed liquid comes here in {self.mode}")

    def upstream(self, probe: str) -> frozenset[Place]:
        """What liquid has passed before it comes to a probe."""
        into, _ = self.directions(self.sides(Place("probe", probe)))
        return frozenset[Place]().union(*(side.within for side in into))

    def sides(self, probe: Place) -> list[_Side]:
        """One for each way from a probe; ways that meet again within are one."""
        pieces: list[set[Place]] = []
        for neighbour in self.neighbours[probe]:
            piece = {neighbour}
            if not self.is_end(neighbour):
                piece = self.reach(neighbour, {probe}, self.is_end)
            met = [other for other in pieces if any(not self.is_end(place) for place in other & piece)]
            pieces = [other for other in pieces if other not in met] + [piece.union(*met)]
        return [
            _Side(
                _names(piece, "coil") & self.condensers,
                (_names(piece, "coil") & self.evaporators) | (_names(piece, "expansion") & self.expanding),
                frozenset(place for place in piece if not self.is_end(place)),
            )
            for piece in pieces
        ]

    def directions(self, sides: list[_Side]) -> tuple[list[_Side], list[_Side]]:
        """From which sides liquid can come to a probe, and to which it can go on."""
        ways = [(one, other) for one in sides for other in sides if one is not other]
        ways = [(one, other) for one, other in ways if one.condensers and other.takers]
        return [one for one in sides if any(one is way[0] for way in ways)], [
            other for other in sides if any(other is way[1] for way in ways)
        ]

    def is_end(self, place: Place) -> bool:
        """Where the liquid of one region ends: at a coil, and at what expands."""
        return place.kind == "coil" or (place.kind == "expansion" and place.name in self.expanding)

    def reach(self, start: Place, barred: Collection[Place], is_end: Callable[[Place], bool]) -> set[Place]:
        """Every place that can be come to from ``start``, itself among them, without passing an end."""
        seen, waiting = {start}, [start]
        while waiting:
            place = waiting.pop()
            if place == start or not is_end(place):
                new = self.neighbours.get(place, set()) - seen - set(barred)
                seen |= new
                waiting += new
        return seen


def _names(places: Collection[Place], kind: str) -> frozenset[str]:
    return frozenset(place.name for place in places if place.kind == kind)


def _listed(names: Collection[str]) -> str:
    return " and ".join(sorted(names))
