"""What the suction transducer says of the pressure at a probe: nothing, the same, or within a loss of it.

It knows no figures.
"""

from __future__ import annotations

from agent.piping.graph import Graph, Place
from agent.piping.situation import Situation, role_not_known, says_role


def pressure_lost(layout: Graph, situation: Situation) -> str | None:
    """Why the suction transducer does not read suction pressure in a situation; None where it does."""
    mode = situation.mode
    if mode not in layout.modes:
        return None
    place = Place("transducer", layout.suction_transducer)
    pipes = layout.segment_of.get(place, frozenset())
    reversed_pipes = sorted(pipes & layout.modes[mode].high_side)
    if reversed_pipes:
        return f"{place.name} sits on {', '.join(reversed_pipes)}, high-pressure gas in {mode}"
    for coil in layout.coils_by_valve(mode):
        if coil.pipe in pipes and any(coil.name not in roles for roles in situation.possible_roles(layout)):
            unknown = situation.role(coil) is None
            now = role_not_known(coil.name) if unknown else says_role(coil.name, False)
            return f"{place.name} sits on {coil.pipe}, and {now}"
    return None


def loss_side(layout: Graph, probe: str) -> str:
    """Where the pressure at a probe can differ from that at the suction transducer.

    ``none``: side by side; ``higher``: the probe is upstream, its pressure can only be higher;
    ``lower``: it is downstream; ``either``: neither lies in the flow of the other.
    """
    place, transducer = Place("probe", probe), Place("transducer", layout.suction_transducer)
    apart = ("vessel", "segment", "junction", "evaporator", "split")
    if transducer in layout.downstream(place):
        between = layout.downstream(place) & layout.upstream(transducer)
        return "higher" if any(p.kind in apart for p in between) else "none"
    if place in layout.downstream(transducer):
        between = layout.downstream(transducer) & layout.upstream(place)
        return "lower" if any(p.kind in apart for p in between) else "none"
    return "either"
