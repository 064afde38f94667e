"""A step between two neighbouring readings that no pipe and no refrigerant can make.

It counts only while mode, valves, compressors and the other signals stay as they were, before and for a
while after; and a suction probe that falls to dew has met liquid. One that comes back at once was a spike.
After the time for which a jump is held against a probe it is believed again: from then on only its other
readings can speak against it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from agent.assess.failing.scene import DISCHARGE, LIQUID, PRESSURE, SUCTION, Scene
from agent.assess.frames import BoolArray, FloatArray
from agent.assess.module import JUMP_US
from agent.piping.graph import Place

# Between two neighbouring readings [K]; of a pressure its saturation temperature. A slug of liquid takes all
# of 15 K of superheat within one reading, a fan that starts 20 K of condensing: more is none of them.
# Design choice, no source.
LIMIT_K = {SUCTION: 20.0, LIQUID: 25.0, DISCHARGE: 30.0}
SUCTION_PRESSURE_K, DISCHARGE_PRESSURE_K = 20.0, 45.0
AT_DEW_K = 3.0  # of dew, where a fall of a suction probe is liquid that has come; design choice, no source
OTHERS_K = 5.0  # within which the others have stayed; design choice
RESTLESS = 3  # jumps within the time that one is held: a contact that comes and goes


class _Jump(NamedTuple):
    at: int  # index of the first reading after it
    size_k: float
    before_k: float
    comes_back: bool  # to where the signal was before an earlier one
    explained: int  # from this index on the others have moved too; past the end: never


def jumps(scene: Scene, name: str) -> Iterator[tuple[BoolArray, float, bool]]:
    """Where a signal is not trusted for a jump, by how much it was, and whether that is sure."""
    place = scene.place[name]
    signal = scene.module.signals[name]
    if place not in (*LIMIT_K, PRESSURE) or signal.on_change or _may_be_mixed(scene, name):
        return
    limit_k = LIMIT_K.get(place) or _pressure_limit_k(scene, name)
    confirm = -(-scene.confirm_us(name) // scene.step_us)
    found = _found(scene, name, limit_k, confirm)
    hold = JUMP_US // scene.step_us
    for number, jump in enumerate(found):
        end = min(jump.at + hold, len(scene.grid_us))
        if number + 1 < len(found):
            end = min(end, found[number + 1].at)
        recent = [each for each in found[: number + 1] if jump.at - each.at < hold]
        restless = len(recent) >= RESTLESS
        if jump.comes_back and not restless:
            continue
        sure = jump.at if restless else min(jump.at + confirm, end)
        yield _span(scene, jump.at, min(sure, jump.explained)), jump.size_k, False
        if jump.explained > sure or restless:
            yield _span(scene, sure, end), jump.size_k, True


def _span(scene: Scene, first: int, end: int) -> BoolArray:
    index = np.arange(len(scene.grid_us))
    result: BoolArray = (index >= first) & (index < end)
    return result


def _pressure_limit_k(scene: Scene, name: str) -> float:
    is_suction = name == scene.module.layout.suction_transducer
    return SUCTION_PRESSURE_K if is_suction else DISCHARGE_PRESSURE_K


def _may_be_mixed(scene: Scene, name: str) -> bool:
    """Something may be let in ahead of the probe, and no signal tells when."""
    layout = scene.module.layout
    if name not in layout.suction_probes:
        return False
    ahead = {place.name for place in layout.upstream(Place("probe", name)) if place.kind == "inlet"}
    inlets = [layout.inlets[each] for each in ahead | set(layout.unproven.get(name, ()))]
    return any(i.kind != "oil_return" and i.valve not in scene.module.signals for i in inlets)


def _found(scene: Scene, name: str, limit_k: float, confirm: int) -> list[_Jump]:
    """The steps that nothing else explains, ascending."""
    value, time_us = scene.kelvin[name], scene.frames[name].time_us
    step = np.concatenate(([0.0], np.diff(value)))
    longest_us = max(2 * scene.module.signals[name].interval_us, scene.step_us)
    neighbours = np.concatenate(([False], np.diff(time_us) <= longest_us))
    beyond = (np.abs(step) > limit_k) & ~_slug(scene, name, step)
    candidates = np.flatnonzero(beyond & neighbours & scene.calm)
    others = [each for other, each in scene.kelvin.items() if other != name]
    found: list[_Jump] = []
    hold = JUMP_US // scene.step_us
    for at in candidates.tolist():
        explained = _explained(scene, others, at, confirm)
        if explained <= at:
            continue
        before_k = float(value[at - 1])
        earlier = [each for each in found if at - each.at < hold]
        back = any(abs(each.before_k - value[at]) < limit_k / 2 for each in earlier)
        found.append(_Jump(at, float(step[at]), before_k, back, explained))
    return found


def _slug(scene: Scene, name: str, step: FloatArray) -> BoolArray:
    """A suction probe falls to dew: liquid takes any superheat at once, however slowly it is polled."""
    dew_c = scene.kelvin.get(scene.module.layout.suction_transducer)
    if scene.place[name] != SUCTION or dew_c is None:
        return np.zeros(step.shape, bool)
    slug: BoolArray = (step < 0) & (np.abs(scene.kelvin[name] - dew_c) <= AT_DEW_K)
    return slug


def _explained(scene: Scene, others: list[FloatArray], at: int, confirm: int) -> int:
    """From which index on something else has moved too, within the time that it takes to be sure."""
    end = min(at + confirm + 1, len(scene.grid_us))
    there = [other for other in others if not (np.isnan(other[at - 1]) or np.isnan(other[at]))]
    if not there:
        return at
    moved = ~scene.calm[at:end]
    for other in there:
        moved |= np.abs(other[at:end] - other[at - 1]) > OTHERS_K
    return at + int(np.argmax(moved)) if moved.any() else len(scene.grid_us)
