"""From the hours of a module to what they show of its piping."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import combinations, pairwise

import numpy as np

from agent.assess.byhour.hours import HOUR_US, Hour
from agent.assess.identity.alike import FEWEST_HOURS, median, scene
from agent.assess.identity.glimpse import CODE, NOT_KNOWN, Doing, Glimpse, glimpse
from agent.assess.identity.seen import Level, Scene, Seen, Step
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.assess.signals import OUTDOOR_AIR
from agent.piping import STEADY_MODES

# Design choices, no source.
TOGETHER_US = 2 * HOUR_US  # within which two signals are exchanged
FEWEST_OPEN = 20  # grid times that a valve was open, and as many shut


def suction_temperatures(module: Module) -> tuple[str, ...]:
    """The temperatures on the suction side. Where no layout says, what its name puts nowhere else."""
    layout = module.layout
    if layout.is_known:
        return tuple(probe for probe in layout.suction_probes if probe in module.signals)
    others = {layout.suction_transducer, layout.discharge_transducer, OUTDOOR_AIR}
    return tuple(
        name
        for name, signal in sorted(module.signals.items())
        if signal.half_width
        and name not in others
        and not name.startswith("discharge")
        and "liquid" not in name
    )


def see(
    module: Module,
    hours: Sequence[Hour],
    valves: Collection[str],
    inlet_valves: Collection[str],
    injections: Collection[str],
) -> Seen:
    """``valves`` of any kind, ``inlet_valves`` of them, ``injections``: signals known as such."""
    signals = suction_temperatures(module)
    known_valves = tuple(sorted(set(valves) & module.signals.keys()))
    glimpses = [glimpse(module, hour, signals, known_valves) for hour in hours]
    alike = _alike(glimpses)
    begin_us, changes = _changed(alike, signals)
    if changes:
        hours = [hour for hour in hours if hour.from_us >= begin_us]
        glimpses = [each for each in glimpses if each.from_us >= begin_us]
        alike = _alike(glimpses)
    u_k = tuple(uncertainty(module, name) for name in signals)
    scenes = tuple(
        scene(doing, tuple(same), signals, u_k, known_valves)
        for doing, same in alike.items()
        if len(same) >= FEWEST_HOURS
    )
    warm, rest_hours = _warm_at_rest(glimpses, signals, u_k)
    settled = Counter(each.settled_mode for each in glimpses)
    ran = frozenset[str]().union(*(each.ran for each in glimpses))
    moving = [_moves(hours, name) for name in injections if name in module.signals]
    return Seen(
        signals=signals,
        scenes=scenes,
        steps=tuple(_steps(hours, scenes, inlet_valves)),
        warm_at_rest=warm,
        rest_hours=rest_hours,
        modes={mode: settled[mode] for mode in STEADY_MODES if settled[mode] >= FEWEST_HOURS},
        ran=ran,
        together=max((each.together for each in glimpses), default=0),
        never_ran=frozenset[str]().union(*(each.told_of for each in glimpses)) - ran,
        injects=any(moving) if moving else None,
        lacking=_lacking(signals, scenes, alike, settled),
        changes=changes,
    )


def _lacking(
    signals: Collection[str],
    scenes: Collection[Scene],
    alike: Mapping[Doing, Sequence[Glimpse]],
    settled: Mapping[str | None, int],
) -> str:
    """What it takes and is not there; empty: nothing is lacking."""
    if len(signals) < 2:
        return "it takes two temperatures on the suction side"
    if scenes:
        return ""
    same = max(map(len, alike.values()), default=0)
    text = f"{same} of {FEWEST_HOURS} settled hours in which valves and compressors did the same"
    mode = max(STEADY_MODES, key=lambda mode: settled[mode])
    return f"{text}, out of {settled[mode]} settled in {mode}" if settled[mode] > same else text


def _moves(hours: Iterable[Hour], name: str) -> bool:
    stats = [part.signals[name] for hour in hours for part in hour.parts.values() if name in part.signals]
    return bool(stats) and max(each.most for each in stats) - min(each.least for each in stats) > 0.05


def _alike(glimpses: Iterable[Glimpse]) -> dict[Doing, list[Glimpse]]:
    """Hours by what the module did in them, mode by mode."""
    alike: dict[Doing, list[Glimpse]] = {}
    for each in glimpses:
        if each.doing is not None:
            alike.setdefault(each.doing, []).append(each)
    return {doing: alike[doing] for mode in STEADY_MODES for doing in alike if doing.mode == mode}


def _changed(alike: Mapping[Doing, Sequence[Glimpse]], signals: Sequence[str]) -> tuple[int, tuple[str, ...]]:
    """Since when signals are exchanged, and which: one turned hot, and another cold, about then."""
    turned: dict[bool, list[tuple[int, str, str]]] = {True: [], False: []}
    for doing, same in alike.items():
        if len(same) < 2 * FEWEST_HOURS:
            continue
        for name, codes in zip(signals, np.array([each.levels for each in same]).T, strict=True):
            told = np.flatnonzero(codes != NOT_KNOWN)
            is_hot = codes[told] == CODE[Level.HOT]
            if len(told) < 2 * FEWEST_HOURS or is_hot[:FEWEST_HOURS].all() == is_hot[-FEWEST_HOURS:].all():
                continue
            other = int(np.flatnonzero(is_hot != is_hot[-1])[-1])
            if other + FEWEST_HOURS < len(told):
                turned[bool(is_hot[-1])].append((same[told[other + 1]].from_us, name, doing.mode))
    pairs = [
        (max(one[0], other[0]), f"{one[1]} turned hot and {other[1]} cold in {one[2]}: they were exchanged")
        for one in turned[True]
        for other in turned[False]
        if one[2] == other[2] and abs(one[0] - other[0]) <= TOGETHER_US
    ]
    begin_us = max((at_us for at_us, _ in pairs), default=0)
    return begin_us, tuple(dict.fromkeys(words for _, words in pairs))


def _steps(hours: Sequence[Hour], scenes: Sequence[Scene], valves: Collection[str]) -> Iterable[Step]:
    """From hours in which a valve was open and shut, each settled; of pipes that are not hot."""
    for mode in STEADY_MODES:
        levels = [each.levels for each in scenes if each.mode == mode]
        every = sorted({name for each in levels for name in each})
        signals = [name for name in every if Level.HOT not in {each.get(name) for each in levels}]
        parts = [hour.parts[mode] for hour in hours if mode in hour.parts]
        for valve in sorted({valve for part in parts for valve in part.opened if valve in valves}):
            opened = [part.opened[valve] for part in parts if valve in part.opened]
            for one, other in combinations(signals, 2):
                both = [each for each in opened if one in each and other in each]
                number = sum(min(each[one].number, each[other].number) for each in both)
                if number < FEWEST_OPEN:
                    continue
                steps = np.array([each[other].step_k - each[one].step_k for each in both])
                weights = np.array([min(each[one].number, each[other].number) for each in both])
                dry = np.array([min(each[one].dry_k, each[other].dry_k) for each in both])
                yield Step(
                    valve, one, other, mode, float(np.average(steps, weights=weights)), number,
                    float(np.average(dry, weights=weights)),
                )  # fmt: skip


def _warm_at_rest(
    glimpses: Iterable[Glimpse], signals: Sequence[str], u_of: Sequence[float]
) -> tuple[dict[str, float], int]:
    """How much warmer than another each stays, clearly, while the module stands."""
    resting = [
        hour.at_rest
        for before, hour in pairwise(glimpses)
        if hour.at_rest is not None and before.at_rest is not None and before.to_us == hour.from_us
    ]
    if len(resting) < FEWEST_HOURS:
        return {}, len(resting)
    columns = zip(signals, np.array(resting).T, strict=True)
    means = {name: median(column) for name, column in columns if not np.isnan(column).all()}
    if len(means) < 2:
        return {}, len(resting)
    # The middle one of several: a coil stands in colder air than what is within the casing.
    other = sorted(means, key=lambda name: means[name])[(len(means) - 1) // 2]
    u = dict(zip(signals, u_of, strict=True))
    warmer = {name: k - means[other] for name, k in means.items()}
    return {n: k for n, k in warmer.items() if k > 2 * 2 * float(np.hypot(u[n], u[other]))}, len(resting)
