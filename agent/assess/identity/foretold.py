"""What a layout foretells of two probes on it, read from its graph: no layout is special here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from agent.assess.identity.seen import Apart, Follows, Level, Scene, Step
from agent.assess.identity.verdicts import (
    SAYS_NOTHING,
    Explains,
    Outcome,
    contradicted,
    explained,
    hint,
    with_a_fault,
)
from agent.piping import Effect, Fitness, Layout, Place, ProbeFitness, Situation, fitness

# Usual oil circulation of 2 % lifts the gas by so much (R-410A, oil at 70 degC; by energy balance), and less
# than its uncertainty twice over cannot be told from nothing.
HEALTHY_RISE_K = 2.1
ALIKE_K = 1.0  # beyond the instruments, that pipe may warm or cool gas by; design choice, no source
ANSWERS_K, STILL_K = 1.0, 0.5  # that a difference moves by when a valve opens: it does, it does not
DRY_K = 3.0  # nearer to saturation a warm inlet only boils liquid away
RETURNING = (Fitness.FIT, Fitness.PARTIAL, Fitness.MIXED, Fitness.UNPROVEN)
LOOSE = "{0} reads warm: a loose or bare clamp, warm air, or its own error"


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


def of_level(layout: Layout, situation: Situation, probe: str, level: Level, signal: str) -> Outcome:
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
        return SAYS_NOTHING if turned is None else _later(layout, turned, apart.turned)
    return _later(layout, lies, apart)


def _later(layout: Layout, lies: Between, apart: Apart) -> Outcome:
    """``apart.other`` is the later one."""
    later, k, u_k = apart.other, apart.k, apart.u_k
    if lies.inlets:
        names = " and ".join(sorted(lies.inlets))
        if any(layout.inlets[name].effect is not Effect.WARMS for name in lies.inlets):
            return SAYS_NOTHING
        joins = f"{names} {'joins' if len(lies.inlets) == 1 else 'join'} between them"
        return _with_inlets(joins, names, lies.vessel, later, k, u_k)
    where = "only the accumulator lies" if lies.vessel else "nothing joins"
    if k > max(2 * u_k, u_k + ALIKE_K):
        return with_a_fault(f"{where} between them, and they would read alike", LOOSE.format(later))
    if k < -(u_k + 2 * ALIKE_K):
        if lies.vessel:
            fault = f"liquid boils off in the accumulator, or {later} reads cold"
            return with_a_fault(f"{where} between them", fault)
        return with_a_fault(f"{where} between them, and they would read alike", LOOSE.format(apart.one))
    if abs(k) <= u_k + ALIKE_K:
        return explained(f"{where} between them")
    return SAYS_NOTHING


def _with_inlets(joins: str, names: str, vessel: bool, later: str, k: float, u_k: float) -> Outcome:
    if k > 2 * u_k:
        return explained(f"{joins}, which warms")
    if k > u_k:
        return SAYS_NOTHING
    if k >= -u_k:
        if 2 * u_k >= HEALTHY_RISE_K:
            return SAYS_NOTHING  # these instruments do not show a healthy rise
        fault = f"little or nothing comes through {names}: a blocked return, or liquid swallows the heat"
        return with_a_fault(f"{joins} and would warm {later}", fault)
    if vessel:
        fault = (
            f"nothing comes through {names} and liquid boils off in the accumulator, or {later} reads cold"
        )
        return with_a_fault(f"{joins} and would warm {later}", fault)
    return contradicted(f"{joins} and would warm {later}, never cool it")


def of_follows(layout: Layout, situation: Situation, one: str, other: str, apart: Apart) -> Outcome:
    """What a difference goes with, where there is one."""
    if abs(apart.k) <= 2 * apart.u_k or apart.follows is Follows.CANNOT_TELL:
        return SAYS_NOTHING
    lies = between(layout, situation, one, other) or between(layout, situation, other, one)
    if lies is None:
        return SAYS_NOTHING
    if lies.inlets and apart.follows is Follows.AIR:
        return hint("what joins between them would not make it follow the air")
    if not lies.inlets and apart.follows is Follows.FLOW:
        return hint("a loose clamp would follow the air")
    return Outcome(Explains.EXPLAINS, 0.0, "")


def of_step(
    layout: Layout, situation: Situation, one: str, other: str, step: Step, inlets: frozenset[str]
) -> Outcome:
    """What an opening valve does. ``inlets``: what it opens on this layout."""
    moves = abs(step.k) >= ANSWERS_K
    if not inlets:
        return contradicted("no such valve leads into its suction line") if moves else SAYS_NOTHING
    lies = between(layout, situation, one, other)
    if lies is None:
        turned = between(layout, situation, other, one)
        if turned is None:
            return SAYS_NOTHING
        lies, step = turned, step.turned
    names = " and ".join(sorted(inlets))
    if not _lets_in(layout, one, other, inlets):
        if moves:
            return contradicted(f"{names} does not join between them")
        return explained(f"{names} does not join between them")
    if any(layout.inlets[name].effect is not Effect.WARMS for name in inlets) or step.dry_k < DRY_K:
        return SAYS_NOTHING
    if step.k >= ANSWERS_K:
        return explained(f"{names} joins between them")
    if step.k < STILL_K:
        return contradicted(f"{names} joins between them, and {step.other} would get warmer")
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
    return Outcome(
        Explains.EXPLAINS, 0.0, f"{probe} is the last before the compressors, whose shells stay warm"
    )
