"""What the piping is doing at a time, as far as it is known, and what else it might be doing.

It knows nothing of what a probe is worth in a situation.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, product
from typing import NamedTuple

from agent.piping.graph import Coil, Graph, Inlet


class Change(NamedTuple):
    """One way in which a situation may differ, and what is the case now instead."""

    valves: Mapping[str, bool] = {}
    doubts: tuple[str, ...] = ()
    running: frozenset[str] | None = None


@dataclass(frozen=True)
class Situation:
    """What the piping is doing: mode, states of the valves, which compressors run; None: not known.

    A valve's state is True where its inlet is open, and for a coil's valve where the coil evaporates.
    """

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
        """Situations of the same mode in which more may be read, each with what keeps from them now.

        Every inlet shut, every compressor running, a coil in the other role, and all of these together;
        those that differ in least come first.
        """
        changes = [self._other_roles(coil) for coil in reversed(layout.coils_by_valve(self.mode))]
        changes += [self._all_running(layout), self._all_shut(layout)]
        chosen = list(product(*([Change(), *change] for change in changes)))
        for each in sorted(chosen, key=lambda several: sum(bool(change.doubts) for change in several))[1:]:
            valves, doubts, running = dict(self.valves), list[str](), self.running
            for change in reversed(each):
                valves |= change.valves
                doubts += change.doubts
                running = running if change.running is None else change.running
            yield Situation.of(self.mode, valves, running), doubts

    def possible_running(self, layout: Graph) -> list[frozenset[str]]:
        """The sets of compressors that may be running."""
        if self.running is not None:
            return [self.running]
        names = layout.compressors
        return [frozenset(some) for size in range(1, len(names) + 1) for some in combinations(names, size)]

    def possible_roles(self, layout: Graph) -> list[frozenset[str]]:
        """Which coils with a valve may be evaporating, most of them first.

        Where a role is not known, the line is taken to be fed by something.
        """
        coils = layout.coils_by_valve(self.mode)
        states = ([True, False] if self.role(coil) is None else [self.role(coil)] for coil in coils)
        found = [
            frozenset(coil.name for coil, evaporates in zip(coils, roles, strict=True) if evaporates)
            for roles in product(*states)
        ]
        piping = layout.modes.get(self.mode)
        fed = [roles for roles in found if roles or (piping and piping.evaporators)]
        return fed or found

    def role(self, coil: Coil) -> bool | None:
        """Whether the coil evaporates, as its valve tells; None: not known."""
        return dict(self.valves).get(coil.valve)

    def is_shut(self, inlet: Inlet) -> bool:
        return inlet.valve is not None and dict(self.valves).get(inlet.valve) is False

    def is_unknown(self, inlet: Inlet) -> bool:
        return inlet.valve is not None and dict(self.valves).get(inlet.valve) is None

    def _all_shut(self, layout: Graph) -> list[Change]:
        inlets = [i for i in layout.inlets.values() if i.valve and not self.is_shut(i)]
        doubts = [f"{i.name} is {'not known shut' if self.is_unknown(i) else 'open'}" for i in inlets]
        return [Change(dict.fromkeys(layout.inlet_valves, False), tuple(doubts))] if doubts else []

    def _all_running(self, layout: Graph) -> list[Change]:
        doubts = [f"compressor {c} stands" for c in layout.compressors if c not in (self.running or ())]
        if self.running is None:
            doubts = ["which compressors run is not known"]
        return [Change({}, tuple(doubts), frozenset(layout.compressors))] if doubts else []

    def _other_roles(self, coil: Coil) -> list[Change]:
        now = self.role(coil)
        doubt = (role_not_known(coil.name) if now is None else says_role(coil.name, now),)
        return [Change({coil.valve: role}, doubt) for role in (True, False) if role is not now]


def role_not_known(coil: str) -> str:
    return f"what {coil} does is not known"


def says_role(coil: str, evaporates: bool) -> str:
    return f"{coil} evaporates now" if evaporates else f"{coil} does not evaporate now"
