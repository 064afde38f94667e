"""A layout, and what it can be asked. How one is written down belongs to ``reader``."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields
from typing import Any

from agent.piping.choice import Choices, choose
from agent.piping.fitness import ProbeFitness, fitness
from agent.piping.graph import NOT_KNOWN, Graph, Place
from agent.piping.reader import read
from agent.piping.situation import Situation


@dataclass(frozen=True, eq=False)
class Layout(Graph):
    """How one series of modules is piped."""

    @classmethod
    def from_mapping(cls, mapping: Mapping[str, Any]) -> Layout:
        """Build a layout from plain data.

        Raises LayoutError with every problem found, each naming its place in the mapping.
        """
        graph = read(mapping)
        return cls(**{field.name: getattr(graph, field.name) for field in fields(graph)})

    @classmethod
    def unknown(cls, compressors: Collection[str] = ("1",)) -> Layout:
        """Of a module whose piping nobody has described: no probe is known to sit anywhere.

        ``compressors``: names, at least one. Its pressures are ``suction_pressure`` and
        ``discharge_pressure``.
        """
        suction, discharge = (Place("transducer", f"{side}_pressure") for side in ("suction", "discharge"))
        each = [Place("compressor", name) for name in compressors or ("1",)]
        return cls(
            name=NOT_KNOWN,
            about="Nobody has described the piping of this module.",
            suction=frozenset((suction, compressor) for compressor in each),
            discharge=frozenset((compressor, discharge) for compressor in each),
            inlets={},
            modes={},
            segment_of={},
            is_known=False,
        )

    def fitness(
        self,
        mode: str,
        valves: Mapping[str, bool | None] | None = None,
        running: Collection[str] | None = None,
    ) -> dict[str, ProbeFitness]:
        """Fitness of every probe.

        ``valves``: signal to True where its inlet is open or its coil evaporates (None: not known);
        ``running``: compressors.
        """
        return fitness(self, Situation.of(mode, valves, running))

    def choose(
        self,
        mode: str,
        valves: Mapping[str, bool | None] | None = None,
        running: Collection[str] | None = None,
        available: Collection[str] | None = None,
    ) -> Choices:
        """The probes that speak for each place. ``available``: those that give readings (None: all)."""
        return choose(self, Situation.of(mode, valves, running), available)
