"""The situations that a piping is explained in: a base case per mode, and what may differ from it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from agent.piping.graph import STEADY_MODES, Graph
from agent.piping.situation import Situation


def described(layout: Graph, modes: Collection[str] | None = None) -> tuple[str, ...]:
    """The modes that a layout describes, in their usual order; only those among ``modes`` where given."""
    return tuple(m for m in STEADY_MODES if m in layout.modes and (modes is None or m in modes))


def base_case(layout: Graph, mode: str, silent_valves: Collection[str] = ()) -> Situation:
    """Every inlet that has a valve shut, every compressor running, every coil that has a valve evaporating.

    ``silent_valves`` are those that no reading tells of: never known.
    """
    return Situation.of(mode, _base_valves(layout, silent_valves), layout.compressors)


def other_cases(
    layout: Graph, mode: str, silent_valves: Collection[str] = ()
) -> Iterator[tuple[str, str, Situation]]:
    """The base case with one valve otherwise or not known.

    Each with what it speaks of, the valve or the coil that it serves, and in words how that is.
    """
    base = _base_valves(layout, silent_valves)
    coils = {coil.valve: coil.name for coil in layout.coils_by_valve(mode)}
    for valve, at_base in base.items():
        if at_base is None or (valve in layout.coil_valves and valve not in coils):
            continue
        words = ("does not evaporate", "in a role not known") if valve in coils else ("open", "not known")
        for state, how in zip((not at_base, None), words, strict=True):
            yield coils.get(valve, valve), how, Situation.of(mode, base | {valve: state}, layout.compressors)


def _base_valves(layout: Graph, silent: Collection[str]) -> dict[str, bool | None]:
    return {valve: None if valve in silent else valve in layout.coil_valves for valve in layout.valves}
