"""Readings that cannot both be true: what physics forbids between two signals in settled running.

Either of the two may be wrong, or the refrigerant, or the layout. The one that is at odds with more of its
partners is held to be the failed one, and the text names both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from agent.assess.failing.scene import VAPOUR, Scene, held_us
from agent.assess.frames import BoolArray, FloatArray
from agent.assess.instruments import superheat_at
from agent.assess.signals import OUTDOOR_AIR
from agent.piping import Fitness

# Beyond the instruments' own limits of error [K]; design choices, no source.
BELOW_DEW_K = 8.0  # more than gauge taken for absolute makes of R-410A
ABOVE_CONDENSING_K = 10.0
HOTTEST_RETURN_C = 45.0  # gas from rooms and coils is no hotter than the air around them
BELOW_CONDENSING_K = 12.0  # a clamp on a hot pipe reads low by a few K
RATIO = 1.05  # by which suction pressure lies above discharge pressure
RETURNING = (Fitness.FIT, Fitness.PARTIAL)


class _Pair(NamedTuple):
    """Two signals that must agree: where they can be held against each other, and by how much they fail."""

    one: str
    other: str
    applies: BoolArray
    beyond_k: FloatArray  # above 0 where they cannot both be true
    apart: FloatArray  # to be shown
    words: str


def impossible(scene: Scene) -> Mapping[str, list[tuple[BoolArray, str]]]:
    """Per signal where it is held to have failed, with the evidence."""
    pairs = list(_pairs(scene))
    broken = [_broken(scene, pair) for pair in pairs]
    if not any(each.any() for each in broken):
        return {}
    against, for_it = _counts(scene, pairs, broken)
    found: dict[str, list[tuple[BoolArray, str]]] = {}
    for pair, where in zip(pairs, broken, strict=True):
        one, other = against[pair.one], against[pair.other]
        first = (one > other) | ((one == other) & (for_it[pair.one] <= for_it[pair.other]))
        for blamed, partner, here in (
            (pair.one, pair.other, where & first),
            (pair.other, pair.one, where & ~first),
        ):
            found.setdefault(blamed, []).extend(_told(pair, here, blamed, partner, against))
    return found


def _told(
    pair: _Pair, here: BoolArray, blamed: str, partner: str, against: Mapping[str, FloatArray]
) -> Iterator[tuple[BoolArray, str]]:
    apart = np.round(pair.apart)
    for shown, more in {
        (float(k), bool(m)) for k, m in zip(apart[here], (against[blamed] > 1)[here], strict=True)
    }:
        doubt = f"{blamed} is at odds with others too" if more else f"or {partner} is wrong"
        text = f"{pair.words.format(shown)} in settled running; {doubt}, or the refrigerant or the layout is"
        yield here & (apart == shown) & ((against[blamed] > 1) == more), text


def _broken(scene: Scene, pair: _Pair) -> BoolArray:
    """It has failed for longer than a defrost that nobody told of would last."""
    fails: BoolArray = pair.applies & (pair.beyond_k > 0)
    if not fails.any():
        return fails
    result: BoolArray = held_us(fails, scene.grid_us) >= scene.module.longest_transient_us
    return result


def _counts(
    scene: Scene, pairs: list[_Pair], broken: list[BoolArray]
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """How many partners each signal is at odds with, and with how many it agrees."""
    nobody = np.zeros(scene.grid_us.shape)
    against = {name: nobody.copy() for pair in pairs for name in (pair.one, pair.other)}
    for_it = {name: nobody.copy() for name in against}
    for pair, where in zip(pairs, broken, strict=True):
        for name in (pair.one, pair.other):
            against[name] += where
            for_it[name] += pair.applies & (pair.beyond_k <= 0)
    return against, for_it


def _pairs(scene: Scene) -> Iterator[_Pair]:
    layout, kelvin = scene.module.layout, scene.kelvin
    suction, discharge = layout.suction_transducer, layout.discharge_transducer
    probes = [probe for probe in layout.suction_probes if probe in kelvin]
    if suction in kelvin:
        yield from (_below_dew(scene, probe, suction) for probe in probes)
    if discharge is None or discharge not in kelvin:
        return
    yield from (_above_condensing(scene, probe, discharge) for probe in probes)
    for compressor in layout.compressors:
        probe = layout.discharge_of(compressor)
        if probe in kelvin:
            yield _below_condensing(scene, probe, discharge, compressor)
    if suction in kelvin:
        yield _wrong_way(scene, suction, discharge)


def _below_dew(scene: Scene, probe: str, suction: str) -> _Pair:
    """Nothing on a suction line is colder than saturation at its pressure."""
    shown = superheat_at(scene.module, probe, scene.frames[probe].value, scene.frames[suction].value)
    value, above = np.asarray(shown.value), np.asarray(shown.above)
    applies = scene.settled & _is(scene, probe, VAPOUR) & ~np.isnan(value)
    words = f"{probe} reads {{:.0f}} K below saturation at {suction}"
    return _Pair(probe, suction, applies, -(value + above) - BELOW_DEW_K, -value, words)


def _above_condensing(scene: Scene, probe: str, discharge: str) -> _Pair:
    """Gas on its way back is not hotter than what condenses, nor than any air it has passed."""
    value, condensing = scene.kelvin[probe], scene.kelvin[discharge]
    spread = 2 * np.hypot(scene.u_kelvin(probe), scene.u_kelvin(discharge))
    air = scene.kelvin.get(OUTDOOR_AIR, np.full(value.shape, np.nan))
    bound = hottest_return(condensing, spread, air)
    applies = scene.settled & _is(scene, probe, RETURNING) & ~np.isnan(value) & ~np.isnan(condensing)
    words = f"{probe} reads {{:.0f}} K above condensing at {discharge}, on the suction side"
    return _Pair(probe, discharge, applies, value - bound, value - condensing, words)


def hottest_return(condensing_c: FloatArray, spread_k: FloatArray, air_c: FloatArray) -> FloatArray:
    """The bound on a returning gas [degC]; NaN where condensing is not known, and air counts where it is.

    A starved machine in cool weather sends gas back from the rooms warmer than it condenses.
    """
    known = np.fmax(condensing_c + ABOVE_CONDENSING_K + spread_k, HOTTEST_RETURN_C)
    bound: FloatArray = np.where(np.isnan(condensing_c), np.nan, np.fmax(known, air_c + ABOVE_CONDENSING_K))
    return bound


def _below_condensing(scene: Scene, probe: str, discharge: str, compressor: str) -> _Pair:
    """What a running compressor gives off, wet or dry, is not colder than saturation at its pressure."""
    below = scene.kelvin[discharge] - scene.kelvin[probe]
    spread = 2 * np.hypot(scene.u_kelvin(probe), scene.u_kelvin(discharge))
    runs: BoolArray = (
        held_us(scene.course.running[compressor] == 1, scene.grid_us) >= scene.module.settling.quiet_us
    )
    words = f"{probe} reads {{:.0f}} K below condensing at {discharge}"
    applies = scene.settled & runs & ~np.isnan(below)
    return _Pair(probe, discharge, applies, below - spread - BELOW_CONDENSING_K, below, words)


def _wrong_way(scene: Scene, suction: str, discharge: str) -> _Pair:
    """A running compressor does not hold its suction above its discharge pressure."""
    low, high = scene.frames[suction].value, scene.frames[discharge].value
    apart = scene.kelvin[suction] - scene.kelvin[discharge]
    spread = 2 * np.hypot(scene.u_kelvin(suction), scene.u_kelvin(discharge))
    beyond = np.where(low > RATIO * high, apart - spread, -1.0)
    words = f"{suction} saturates {{:.0f}} K above {discharge}"
    return _Pair(suction, discharge, scene.settled & ~np.isnan(apart), beyond, apart, words)


def _is(scene: Scene, probe: str, verdicts: tuple[Fitness, ...]) -> BoolArray:
    result: BoolArray = np.isin(scene.fitness[probe].astype(str), [str(each) for each in verdicts])
    return result
