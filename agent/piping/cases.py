"""The situations that a piping is explained in: a base case per mode, and what may differ from it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from agent.piping.graph import STEADY_MODES, Graph
from agent.piping.situation import Situation


def described(layout: Graph, modes: Collection[str] | None = None) -> tuple[str, ...]:
    """The modes that a layout describes, in their usual order; only those among ``modes`` where given."""
    return tuple(m for m in STEADY_MODES if m in layout.modes and (modes is None or m in modes))


def base_case(layout: Graph, mode: str, silent_valves: Collection[str] = ()) -> Situation:
    """Every inlet that has a valve shut, every compressor running, every coil with a valve evaporating.

    ``silent_valves`` are those that no reading tells of: never known.
    """
    return Situation.of(mode, _base_valves(layout, silent_valves), layout.compressors)


def other_cases(
    layout: Graph, mode: str, silent_valves: Collection[str] = ()
) -> Iterator[tuple[str, str, Situation]]:
    """The base case with one valve otherwise or not known: valve, in words how it is, situation."""
    base = _base_valves(layout, silent_valves)
    for valve, at_base in base.items():
        if at_base is not None:
            for state, words in ((not at_base, "at condenser" if at_base else "open"), (None, "not known")):
                yield valve, words, Situation.of(mode, base | {valve: state}, layout.compressors)


def _base_valves(layout: Graph, silent: Collection[str]) -> dict[str, bool | None]:
    return {valve: None if valve in silent else valve in layout.coil_valves for valve in layout.valves}
