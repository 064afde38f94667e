"""From the hours of a module to what they show of its piping."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np

from agent.assess.baseline import LIKE_SPEED
from agent.assess.frames import FloatArray
from agent.assess.hours import HOUR_US, Hour, settled_in, total_speed
from agent.assess.identity.seen import Apart, Follows, Level, Scene, Seen, Step
from agent.assess.instruments import uncertainty
from agent.assess.module import Module
from agent.assess.rest import OFF, stands
from agent.assess.signals import OUTDOOR_AIR
from agent.piping import STEADY_MODES
from agent.thermo import dew_temperature

# Design choices, no source.
FEWEST_HOURS = 6  # settled, of one scene
HOT, COLD = 0.85, 0.5  # of the way from saturation at suction to condensing
LEAST_LIFT_K = 15.0  # from saturation at suction to condensing; below it hot and cold lie too close
WARMEST_AIR_C, ABOVE_AIR_K = 30.0, 5.0  # a hot pipe is hotter than any air that gas returns from
BELOW_CONDENSING_K = 10.0  # at least, of a cold pipe
MOSTLY = 0.9  # of an hour that something was so
TOGETHER_US = 2 * HOUR_US  # within which two signals are exchanged
THEN_HOURS = 8  # the first and the last hours of a scene that are held against each other
FOLLOWS = 0.7  # of the other explanation's residual: below that one of two follows clearly better
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
    known_valves = sorted(set(valves) & module.signals.keys())
    groups = _groups(hours, known_valves)
    begin_us, changes = _changed(module, groups, signals)
    if changes:
        hours = [hour for hour in hours if hour.from_us >= begin_us]
        groups = _groups(hours, known_valves)
    scenes = tuple(_scenes(module, groups, known_valves, signals))
    warm, rest_hours = _warm_at_rest(module, hours, signals)
    seen_modes = {mode: len(settled_in(hours, mode)) for mode in STEADY_MODES}
    known = {name for hour in hours for name, number in hour.known.items() if number}
    ran = {name for hour in hours for name, number in hour.running.items() if number}
    moving = [_moves(hours, name) for name in injections if name in module.signals]
    return Seen(
        signals=signals,
        scenes=scenes,
        steps=tuple(_steps(hours, scenes, inlet_valves)),
        warm_at_rest=warm,
        rest_hours=rest_hours,
        modes={mode: number for mode, number in seen_modes.items() if number >= FEWEST_HOURS},
        ran=frozenset(ran),
        together=max((_together(hour) for hour in hours), default=0),
        never_ran=frozenset(known - ran),
        injects=any(moving) if moving else None,
        lacking=_lacking(signals, scenes, seen_modes),
        changes=changes,
    )


def _lacking(signals: Collection[str], scenes: Collection[Scene], modes: Mapping[str, int]) -> str:
    if len(signals) < 2:
        return "it takes two temperatures on the suction side"
    if not scenes:
        most = max(modes.values(), default=0)
        return f"{most} of {FEWEST_HOURS} settled hours in which valves and compressors did the same"
    return ""


def _together(hour: Hour) -> int:
    """How many compressors ran at the same time at least: more running than there were grid times."""
    grid = max(hour.known.values(), default=0)
    return -(-sum(hour.running.values()) // grid) if grid else 0


def _moves(hours: Iterable[Hour], name: str) -> bool:
    stats = [part.signals[name] for hour in hours for part in hour.parts.values() if name in part.signals]
    return bool(stats) and max(each.most for each in stats) - min(each.least for each in stats) > 0.05


_Group = tuple[str, tuple[bool | None, ...], frozenset[str] | None]  # mode, states of valves, what runs


def _groups(hours: Sequence[Hour], valves: Sequence[str]) -> dict[_Group, list[Hour]]:
    """Settled hours in which valves and compressors did the same."""
    groups: dict[_Group, list[Hour]] = {}
    for mode in STEADY_MODES:
        for hour in settled_in(hours, mode):
            if not _switches(hour):
                states = tuple(_state(hour, mode, valve) for valve in valves)
                groups.setdefault((mode, states, _running(hour)), []).append(hour)
    return groups


def _changed(
    module: Module, groups: Mapping[_Group, Sequence[Hour]], signals: Sequence[str]
) -> tuple[int, tuple[str, ...]]:
    """Since when signals are exchanged, and which: one turned hot, and another cold, about then."""
    turned: dict[bool, list[tuple[int, str, str]]] = {True: [], False: []}
    for (mode, *_), same in groups.items():
        if len(same) < 2 * FEWEST_HOURS:
            continue
        for name, levels in _hourly_levels(module, same, mode, signals).items():
            told = [(hour.from_us, level) for hour, level in zip(same, levels, strict=True) if level]
            is_hot = np.array([level is Level.HOT for _, level in told])
            if len(told) < 2 * FEWEST_HOURS or is_hot[:FEWEST_HOURS].all() == is_hot[-FEWEST_HOURS:].all():
                continue
            other = int(np.flatnonzero(is_hot != is_hot[-1])[-1])
            if other + FEWEST_HOURS < len(told):
                turned[bool(is_hot[-1])].append((told[other + 1][0], name, mode))
    pairs = [
        (max(one[0], other[0]), f"{one[1]} turned hot and {other[1]} cold in {one[2]}: they were exchanged")
        for one in turned[True]
        for other in turned[False]
        if one[2] == other[2] and abs(one[0] - other[0]) <= TOGETHER_US
    ]
    begin_us = max((at_us for at_us, _ in pairs), default=0)
    return begin_us, tuple(dict.fromkeys(words for _, words in pairs))


def _scenes(
    module: Module, groups: Mapping[_Group, Sequence[Hour]], valves: Sequence[str], signals: Sequence[str]
) -> Iterable[Scene]:
    for (mode, states, running), same in groups.items():
        if len(same) >= FEWEST_HOURS:
            levels = _levels(module, same, mode, signals)
            cold = [name for name in signals if name in levels and levels[name][0] is not Level.HOT]
            yield Scene(
                mode,
                dict(zip(valves, states, strict=True)),
                running,
                len(same),
                {name: level for name, (level, _) in levels.items()},
                {name: words for name, (_, words) in levels.items()},
                tuple(_pairs(module, same, mode, cold)),
            )


def _running(hour: Hour) -> frozenset[str] | None:
    """Which compressors ran in an hour; None: not known."""
    if not hour.known or not all(hour.known.values()):
        return None
    return frozenset(name for name, number in hour.known.items() if 2 * hour.running[name] > number)


def _switches(hour: Hour) -> bool:
    """A compressor ran in a part of the hour only."""
    shares = [hour.running[name] / number for name, number in hour.known.items() if number]
    return any(1 - MOSTLY < share < MOSTLY for share in shares)


def _state(hour: Hour, mode: str, valve: str) -> bool | None:
    stats = hour.parts[mode].signals.get(valve)
    if stats is None or 1 - MOSTLY < stats.mean < MOSTLY:
        return None
    return stats.mean >= MOSTLY


def _means(hours: Sequence[Hour], mode: str, name: str | None) -> FloatArray:
    found = [hour.parts[mode].signals.get(name or "") for hour in hours]
    return np.array([np.nan if stats is None else stats.mean for stats in found])


def _levels(
    module: Module, hours: Sequence[Hour], mode: str, signals: Sequence[str]
) -> dict[str, tuple[Level, str]]:
    found = {}
    low = _saturated(module, hours, mode, module.layout.suction_transducer)
    for name, levels in _hourly_levels(module, hours, mode, signals).items():
        told = [level for level in levels if level is not None]
        if len(told) >= FEWEST_HOURS:
            most = max(Level, key=told.count)
            level = most if 2 * told.count(most) > len(told) else Level.NEITHER
            above_k = float(np.nanmedian(_means(hours, mode, name) - low))
            found[name] = (level, f"{name} is {above_k:.0f} K above saturation at suction in {mode}")
    return found


def _hourly_levels(
    module: Module, hours: Sequence[Hour], mode: str, signals: Sequence[str]
) -> dict[str, list[Level | None]]:
    """How warm each pipe is in each hour; None: not known."""
    low, high = (
        _saturated(module, hours, mode, name)
        for name in (module.layout.suction_transducer, module.layout.discharge_transducer)
    )
    hottest_air = np.fmax(_means(hours, mode, OUTDOOR_AIR), WARMEST_AIR_C) + ABOVE_AIR_K
    found = {}
    for name in signals:
        pipe = _means(hours, mode, name)
        way = (pipe - low) / (high - low)
        lifts = high - low >= LEAST_LIFT_K
        hot = lifts & (way >= HOT) & (pipe >= hottest_air)
        cold = lifts & (way <= COLD) & (pipe <= high - BELOW_CONDENSING_K)
        found[name] = [
            None if np.isnan(each) else Level.HOT if is_hot else Level.COLD if is_cold else Level.NEITHER
            for each, is_hot, is_cold in zip(way, hot, cold, strict=True)
        ]
    return found


def _saturated(module: Module, hours: Sequence[Hour], mode: str, name: str | None) -> FloatArray:
    """Dew temperature at a transducer [degC]."""
    return np.asarray(dew_temperature(module.refrigerant, _means(hours, mode, name)))


def _pairs(module: Module, hours: Sequence[Hour], mode: str, signals: Sequence[str]) -> Iterable[Apart]:
    air = _means(hours, mode, OUTDOOR_AIR)
    low = _saturated(module, hours, mode, module.layout.suction_transducer)
    speeds = np.array([total_speed(hour, mode) or np.nan for hour in hours])
    for one, other in combinations(signals, 2):
        first = _means(hours, mode, one)
        apart = _means(hours, mode, other) - first
        known = ~np.isnan(apart)
        number = int(known.sum())
        if number < FEWEST_HOURS:
            continue
        u_k = 2 * float(np.hypot(uncertainty(module, one), uncertainty(module, other)))
        warmer = apart if np.nanmean(apart) >= 0 else -apart
        colder = first if np.nanmean(apart) >= 0 else first + apart
        follows = _follows(warmer[known], (air - colder)[known], speeds[known])
        values, dry_k = apart[known], float(np.nanmean((colder - low)[known]))
        to_air_k = float(np.nanmean((air - colder)[known])) if not np.isnan(air[known]).all() else np.nan
        if _has_changed(values, speeds[known], u_k):
            for when, part in (
                ("the first ones", values[:THEN_HOURS]),
                ("the last ones", values[-THEN_HOURS:]),
            ):
                mean = float(np.mean(part))
                yield Apart(one, other, mode, mean, u_k, THEN_HOURS, dry_k, to_air_k, when=when)
        else:
            yield Apart(one, other, mode, float(np.mean(values)), u_k, number, dry_k, to_air_k, follows)


def _has_changed(values: FloatArray, speeds: FloatArray, u_k: float) -> bool:
    """The first and the last hours are not the same, though the flow was: a rise goes as one over it."""
    if len(values) < 2 * THEN_HOURS or abs(values[-THEN_HOURS:].mean() - values[:THEN_HOURS].mean()) <= u_k:
        return False
    then, now = float(np.mean(speeds[:THEN_HOURS])), float(np.mean(speeds[-THEN_HOURS:]))
    return not abs(now - then) > LIKE_SPEED * now


def _follows(apart: FloatArray, to_air: FloatArray, speed: FloatArray) -> Follows:
    """Whether a difference is a share of that to the air, or rather constant or one over the flow.

    A loose clamp shows a share of the difference to the air; heat gained on the way that over the flow.
    """
    if len(apart) < 2 * FEWEST_HOURS or np.isnan(to_air).any():
        return Follows.CANNOT_TELL
    shapes, of_air = [np.ones(apart.shape)], [to_air]
    if not np.isnan(speed).any():
        shapes.append(1.0 / speed)
        of_air.append(to_air / speed)
    as_air = min(_residual(apart, shape) for shape in of_air)
    other = min(_residual(apart, shape) for shape in shapes)
    if as_air < FOLLOWS * other:
        return Follows.AIR
    return Follows.FLOW if other < FOLLOWS * as_air else Follows.CANNOT_TELL


def _residual(values: FloatArray, shape: FloatArray) -> float:
    share = float(values @ shape) / float(shape @ shape)
    return float(np.sqrt(np.mean((values - share * shape) ** 2)))


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
    module: Module, hours: Sequence[Hour], signals: Sequence[str]
) -> tuple[dict[str, float], int]:
    """How much warmer than another each stays, clearly, while the module stands."""
    resting, before = [], None
    for hour in hours:
        stood = before is not None and before.to_us == hour.from_us and stands(before)
        if stands(hour) and stood:
            resting.append(hour)
        before = hour
    if len(resting) < FEWEST_HOURS:
        return {}, len(resting)
    means = {name: float(np.nanmedian(values)) for name in signals
             if not np.isnan(values := _means(resting, OFF, name)).all()}  # fmt: skip
    if len(means) < 2:
        return {}, len(resting)
    # The middle one of several: a coil stands in colder air than what is within the casing.
    other = sorted(means, key=lambda name: means[name])[(len(means) - 1) // 2]
    u_k = {name: 2 * float(np.hypot(uncertainty(module, name), uncertainty(module, other))) for name in means}
    return {n: k - means[other] for n, k in means.items() if k - means[other] > 2 * u_k[n]}, len(resting)
