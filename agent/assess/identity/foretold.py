"""What a layout foretells of two probes on it, read from its graph: no layout is special here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from agent.assess.identity.seen import Apart, Follows, Level, Scene, Step
from agent.assess.identity.verdicts import (
    FAULT_POINTS,
    HINT_POINTS,
    SAYS_NOTHING,
    Outcome,
    contradicted,
    explained,
    hint,
    with_a_fault,
)
from agent.piping import Effect, Fitness, Layout, Place, ProbeFitness, Situation, fitness

# Usual oil circulation lifts the gas by so much at 0.5 % and at 2 % (R-410A at 5 degC, oil at 70 degC; by
# energy balance). Less than twice its uncertainty cannot be told from nothing.
LEAST_RISE_K, HEALTHY_RISE_K = 0.54, 2.1
ALIKE_K = 1.0  # beyond the instruments, that pipe may warm or cool gas by; design choice, no source
STRAP_K = 2.0  # that a bare strap reads warm by at most, in air of 35 degC; common practice, no source
ANSWERS_K, STILL_K = 1.0, 0.5  # that a difference moves by when a valve opens: it does, it does not
DRY_K = 3.0  # nearer to saturation a warm inlet only boils liquid away, and differences tell nothing
RETURNING = (Fitness.FIT, Fitness.PARTIAL, Fitness.MIXED, Fitness.UNPROVEN)
LOOSE = "{0} reads warm: a loose or bare clamp, warm air around it, or its own error"
GAINED = "{0}, or heat gained in the accumulator and on bare pipe"
WET = "near saturation, where a difference tells nothing"


class Between(NamedTuple):
    """What lies between two probes that the same streams pass, from the earlier to the later one."""

    inlets: frozenset[str]
    vessel: bool


@lru_cache(maxsize=4096)
def worth(layout: Layout, situation: Situation) -> Mapping[str, ProbeFitness]:
    """Fitness of every probe of the layout; empty where it does not describe the mode."""
    return fitness(layout, situation) if situation.mode in layout.modes else {}


def situation_of(layout: Layout, scene: Scene) -> Situation:
    """The scene as this layout would have it; a valve that nothing tells of is not known."""
    running = None if scene.running is None else scene.running & set(layout.compressors)
    valves = {valve: scene.valves.get(valve) for valve in layout.valves}
    return Situation.of(scene.mode, valves, running or None)


@lru_cache(maxsize=16384)
def between(layout: Layout, situation: Situation, one: str, other: str) -> Between | None:
    """What lies between ``one`` and a later ``other``; None: not one after the other, or not known."""
    known = worth(layout, situation)
    first, then = known.get(one), known.get(other)
    if first is None or then is None or not {first.verdict, then.verdict} <= set(RETURNING):
        return None
    here, there = Place("probe", one), Place("probe", other)
    if here not in layout.upstream(there) or first.streams != then.streams:
        return None
    if layout.unproven.get(one) or layout.unproven.get(other):
        return None
    passed = layout.downstream(here) & layout.upstream(there)
    return Between(then.joined - first.joined, any(place.kind == "vessel" for place in passed))


def of_level(layout: Layout, situation: Situation, probe: str, level: Level) -> Outcome:
    """How warm a pipe is, against what flows in it."""
    found = worth(layout, situation).get(probe)
    if found is None or level is Level.NEITHER:
        return SAYS_NOTHING
    if found.verdict is Fitness.HIGH_SIDE:
        return (
            explained(f"{found.reason}, where {probe} sits")
            if level is Level.HOT
            else contradicted(f"at {probe} it would be hot: {found.reason}")
        )
    if found.verdict in RETURNING:
        return (
            explained(f"vapour returns past {probe}")
            if level is Level.COLD
            else contradicted(f"vapour returns past {probe}: no hot gas comes there")
        )
    if level is Level.HOT and _is_dead(layout, probe):
        return contradicted(
            f"at {probe} nothing flows in {situation.mode}, and it would be as the air around it"
        )
    return SAYS_NOTHING


def _is_dead(layout: Layout, probe: str) -> bool:
    """No hot gas comes to a probe even where nothing returns past it.

    Not so on the pipe of a coil that may condense, nor beside a compressor.
    """
    place = Place("probe", probe)
    pipes = layout.segment_of.get(place, frozenset())
    beside = not any(each.kind == "vessel" for each in layout.downstream(place))
    return not beside and not any(coil.pipe in pipes for coil in layout.coils.values())


def of_apart(layout: Layout, situation: Situation, one: str, other: str, apart: Apart) -> Outcome:
    """How far two probes are apart. ``one`` and ``other``: their places, as ``apart`` has them."""
    lies = between(layout, situation, one, other)
    if lies is None:
        turned = between(layout, situation, other, one)
        return SAYS_NOTHING if turned is None else _later(layout, situation, turned, apart.turned)
    return _later(layout, situation, lies, apart)


def _later(layout: Layout, situation: Situation, lies: Between, apart: Apart) -> Outcome:
    """``apart.other`` is the later one."""
    if apart.dry_k < DRY_K:
        return Outcome(None, 0.0, WET)
    inlets = _that_joins(layout, situation, lies.inlets)
    if inlets:
        if any(layout.inlets[name].effect is not Effect.WARMS for name in inlets):
            return SAYS_NOTHING
        return _with_inlets(inlets, lies.vessel, apart)
    return _without_inlets(lies.vessel, apart)


def _that_joins(layout: Layout, situation: Situation, inlets: frozenset[str]) -> list[str]:
    """Inlets in order; those whose valve nobody knows the state of only where there is no other."""
    known = [n for n in inlets if not situation.is_unknown(layout.inlets[n])]
    return sorted(known or inlets)


def _without_inlets(vessel: bool, apart: Apart) -> Outcome:
    later, k, u_k = apart.other, apart.k, apart.u_k
    where = "only the accumulator lies" if vessel else "nothing joins"
    alike = f"{where} between them, and they would read alike"
    if k > max(2 * u_k, u_k + ALIKE_K):
        loose = LOOSE.format(later)
        fault = with_a_fault(alike, GAINED.format(loose) if vessel else loose)
        cold_air = not apart.to_air_k > 0
        beyond_a_strap = apart.follows is not Follows.AIR and (k > 2 * u_k + STRAP_K or cold_air)
        return fault._replace(points=FAULT_POINTS + HINT_POINTS) if beyond_a_strap else fault
    if k < -(u_k + ALIKE_K):
        fault_words = LOOSE.format(apart.one)
        if vessel:
            fault_words += ", or liquid boils off in the accumulator"
        return with_a_fault(alike, fault_words)
    if k <= u_k and k >= -(u_k + ALIKE_K) and 2 * u_k < HEALTHY_RISE_K:
        return explained(f"{where} between them")
    return SAYS_NOTHING


def _with_inlets(inlets: list[str], vessel: bool, apart: Apart) -> Outcome:
    later, k, u_k = apart.other, apart.k, apart.u_k
    names = " and ".join(inlets)
    joins = f"{names} {'joins' if len(inlets) == 1 else 'join'} between them"
    if k > max(2 * u_k, u_k + ALIKE_K):
        return explained(f"{joins}, which warms")
    loose = LOOSE.format(apart.one)
    little = f"little or nothing comes through {names}, as with a blocked return; or {loose}"
    would = f"{joins} and would warm {later}"
    if k < -u_k:
        cold = ", or liquid boils off in the accumulator" if vessel else ""
        both = with_a_fault(would, f"{loose}, and {little.partition(';')[0]}{cold}")
        return both._replace(points=FAULT_POINTS + HINT_POINTS)
    if k > u_k or 2 * u_k >= HEALTHY_RISE_K:
        return SAYS_NOTHING  # these instruments do not show a healthy rise
    fault = with_a_fault(would, little)
    return fault if k + u_k < LEAST_RISE_K else fault._replace(points=HINT_POINTS)


def of_follows(layout: Layout, situation: Situation, one: str, other: str, apart: Apart) -> Outcome:
    """What a difference goes with, where there is one."""
    if abs(apart.k) <= 2 * apart.u_k or apart.follows is Follows.CANNOT_TELL:
        return SAYS_NOTHING
    lies = between(layout, situation, one, other) or between(layout, situation, other, one)
    if lies is None:
        return SAYS_NOTHING
    if lies.inlets and apart.follows is Follows.AIR:
        why = "what joins between them would not make it follow the air"
        return hint(why)._replace(points=FAULT_POINTS)
    if not lies.inlets and apart.follows is Follows.FLOW:
        return hint("neither a loose clamp nor warm air would do so")
    return explained("")


def of_step(
    layout: Layout, situation: Situation, one: str, other: str, step: Step, inlets: frozenset[str]
) -> Outcome:
    """What an opening valve does. ``inlets``: what it opens on this layout."""
    moves = abs(step.k) >= ANSWERS_K
    if not inlets:
        loud = moves and step.dry_k >= DRY_K
        return contradicted("no such valve leads into its suction line") if loud else SAYS_NOTHING
    lies = between(layout, situation, one, other)
    if lies is None:
        turned = between(layout, situation, other, one)
        if turned is None:
            return SAYS_NOTHING
        lies, step = turned, step.turned
    names = " and ".join(sorted(inlets))
    if step.dry_k < DRY_K:
        return Outcome(None, 0.0, WET)
    if not _lets_in(layout, one, other, inlets):
        why = f"{names} does not join between them"
        return contradicted(why) if moves else explained(why)
    if any(layout.inlets[name].effect is not Effect.WARMS for name in inlets):
        return SAYS_NOTHING
    if step.k >= ANSWERS_K:
        return explained(f"{names} joins between them")
    if step.k < STILL_K:
        fault = f"{step.valve} is told to open and lets little or nothing through"
        return with_a_fault(f"{names} joins between them and would warm {step.other}", fault)
    return SAYS_NOTHING


def _lets_in(layout: Layout, one: str, other: str, inlets: frozenset[str]) -> bool:
    """Whether one of the inlets joins between two probes, in whatever order they are given."""
    ahead = [
        {inlet for inlet in inlets if Place("inlet", inlet) in layout.upstream(Place("probe", probe))}
        for probe in (one, other)
    ]
    return ahead[0] != ahead[1]


def of_warmth(layout: Layout, probe: str) -> Outcome:
    """A probe that stays warm while the module stands is close to a compressor's shell."""
    place = Place("probe", probe)
    if place not in layout.places:
        return SAYS_NOTHING
    after = {each.kind for each in layout.downstream(place)}
    if after & {"inlet", "vessel"}:
        return hint(f"{probe} is not the last before the compressors, whose shells stay warm")
    return explained(f"{probe} is the last before the compressors, whose shells stay warm")
