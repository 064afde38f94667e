"""The situations that a piping is explained in: a base case per mode, and what may differ from it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from agent.piping.fitness import Situation
from agent.piping.graph import STEADY_MODES, Graph


def described(layout: Graph, modes: Collection[str] | None = None) -> tuple[str, ...]:
    """The modes that a layout describes, in their usual order; only those among ``modes`` where given."""
    return tuple(m for m in STEADY_MODES if m in layout.modes and (modes is None or m in modes))


def base_case(layout: Graph, mode: str) -> Situation:
    """Every inlet that has a valve shut, every compressor running, every other valve at work."""
    return Situation.of(mode, _base_valves(layout), layout.compressors)


def other_cases(layout: Graph, mode: str) -> Iterator[tuple[str, str, Situation]]:
    """The base case with one valve otherwise or not known: valve, in words how it is, situation."""
    base = _base_valves(layout)
    for valve, at_base in base.items():
        for state, words in ((not at_base, "off" if at_base else "open"), (None, "not known")):
            yield valve, words, Situation.of(mode, base | {valve: state}, layout.compressors)


def _base_valves(layout: Graph) -> dict[str, bool]:
    of_inlets = {inlet.valve for inlet in layout.inlets.values()}
    return {valve: valve not in of_inlets for valve in layout.valves}
