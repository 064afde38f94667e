"""Instruments that have failed, told from the readings alone: signal by signal, grid time by grid time.

Each rule is kept from firing on what a healthy module does: starts, defrosts, oil recovery, standstill,
coarse steps, slow polling, values that come on change only. What it cannot tell it leaves as it is. The
figures are design choices or common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

import numpy as np

from agent.assess.elapsed import since
from agent.assess.failing.impossible import impossible
from agent.assess.failing.jumps import jumps
from agent.assess.failing.scene import AIR, DISCHARGE, LIQUID, SUCTION, Scene, Words, held_us, windows
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.modes import unchanged_us
from agent.assess.module import JUMP_US, SECOND, STILL_US, Module
from agent.piping import Fitness, LiquidFitness

# What no probe of a place reads on any module [degC]; an open or shorted thermistor does. Hot gas passes
# suction pipes as well, where the mode reverses them. Common practice, no source.
RANGE_C = {SUCTION: (-50.0, 135.0), DISCHARGE: (-50.0, 170.0), LIQUID: (-50.0, 100.0), AIR: (-50.0, 70.0)}
LEAST_PA = 30e3  # absolute; no compressor draws a circuit down so far; common practice, no source
# A circuit that has leaked out stands at the air's pressure; one that runs against a shut valve goes below.
# No evaporator of such machines is so cold. Common practice, no source.
EMPTY_PA, EMPTY_DEW_C = 115e3, -35.0
MOST_DEW_C = {True: 75.0, False: 80.0}  # by whether it is the suction transducer: of a module in the sun
LIVELY = 3  # others that moved throughout, while one stood still
FOLLOWED_K = (
    1.0  # of condensing in that hour, which liquid behind it would have shown; design choice, no source
)


BOTH_EMPTY = (
    ", and so does the other transducer: take it that the refrigerant has leaked out until shown otherwise; "
    "it may burn and it displaces air: no flame, no switching, air the place, stay out of pits and "
    "small rooms; otherwise a shut valve, or both transducers without supply"
)
ONE_EMPTY = (
    ": the circuit may have lost its refrigerant (it may burn and it displaces air) or a valve is shut; "
    "otherwise the transducer"
)


class Kind(StrEnum):
    """What is wrong with a signal. A spike is no failure, but no value either."""

    FINE = ""
    SPIKE = "spike"
    JUMP = "jump"
    FROZEN = "frozen"
    IMPOSSIBLE = "impossible"
    OPEN_OR_SHORT = "open_or_short"
    NEAR_ATMOSPHERE = "near_atmosphere"  # the circuit or the transducer: nothing is held back for it


KINDS = tuple(Kind)
_USABLE = [KINDS.index(kind) for kind in (Kind.FINE, Kind.NEAR_ATMOSPHERE)]


class Failure(NamedTuple):
    """What is wrong with a signal at a time, with the figures that show it."""

    kind: Kind
    text: str


class Failures(NamedTuple):
    """Of every signal that was looked at, at each grid time, an index into ``words``; the first is fine."""

    codes: Mapping[str, IntArray]
    words: tuple[Failure, ...]

    def cut(self, part: slice | IntArray) -> Failures:
        return Failures({name: code[part] for name, code in self.codes.items()}, self.words)

    def kinds(self, signal: str) -> IntArray:
        """Indices into KINDS; a signal that was not looked at is fine."""
        of_word = np.array([KINDS.index(each.kind) for each in self.words])
        return of_word[self.codes[signal]]

    def unusable(self, signal: str, *, by_itself: bool = False) -> BoolArray | None:
        """Where it gives no value; None: nowhere.

        ``by_itself``: leaving out what only the layout makes impossible.
        """
        if signal not in self.codes or not self.codes[signal].any():
            return None
        usable = [*_USABLE, KINDS.index(Kind.IMPOSSIBLE)] if by_itself else _USABLE
        bad: BoolArray = ~np.isin(self.kinds(signal), usable)
        return bad if bad.any() else None


FINE = Failure(Kind.FINE, "")


def failures(scene: Scene) -> Failures:
    """Judge every temperature probe and pressure transducer of a module; the gravest is said last."""
    book = _Book(scene)
    for name in scene.kelvin:
        _spikes_and_jumps(book, scene, name)
        _frozen(book, scene, name)
    for name, contradicted in impossible(scene).items():
        for where, text in contradicted:
            book.say(name, where, Failure(Kind.IMPOSSIBLE, text))
    for name in scene.kelvin:
        _open_or_short(book, scene, name)
    _near_atmosphere(book, scene)
    return Failures(book.codes, tuple(book.words))


class _Book:
    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.words: dict[Failure, int] = {FINE: 0}
        self.codes = {name: np.zeros(scene.grid_us.shape, np.int64) for name in scene.kelvin}

    @cached_property
    def moved(self) -> dict[str, IntArray]:
        return {name: _moved_throughout(self.scene, name) for name in self.scene.kelvin}

    def say(self, name: str, where: BoolArray, failure: Failure) -> None:
        if where.any():
            self.codes[name][where] = self.words.setdefault(failure, len(self.words))


_SUPPOSED = {
    (False, "below"): "an open or short circuit",
    (False, "above"): "an open or short circuit",
    (True, "below"): "an open or short circuit, or no supply",
    (True, "above"): "an open or short circuit; were it true, the pressure would be dangerously high",
}


def _open_or_short(book: _Book, scene: Scene, name: str) -> None:
    """Readings far outside of what a place can have. Which end means open depends on the electronics."""
    value = scene.frames[name].value
    low, high = _beyond(scene, name, value)
    for outside, what in ((low, "below"), (high, "above")):
        long = held_us(outside, scene.grid_us) >= scene.confirm_us(name)
        for shown in np.unique(_rounded(scene, name, value[outside])).tolist():
            here = outside & (_rounded(scene, name, value) == shown)
            figure = f"{shown / 1e3:.0f} kPa" if scene.is_pressure(name) else f"{shown:.0f} degC"
            text = f"it reads {figure}, {what} all that there is at its place"
            book.say(name, here & ~long, Failure(Kind.SPIKE, text))
            words = _SUPPOSED[scene.is_pressure(name), what]
            book.say(name, here & long, Failure(Kind.OPEN_OR_SHORT, f"{text}: {words}"))


def _rounded(scene: Scene, name: str, value: FloatArray) -> FloatArray:
    step = 10e3 if scene.is_pressure(name) else 1.0
    return np.asarray(np.round(value / step) * step)


def _beyond(scene: Scene, name: str, value: FloatArray) -> tuple[BoolArray, BoolArray]:
    if not scene.is_pressure(name):
        lowest, highest = RANGE_C[scene.place[name]]
        return value < lowest, value > highest
    dew_c = scene.kelvin[name]
    off_table = np.isnan(dew_c) & ~np.isnan(value)
    most_c = MOST_DEW_C[name == scene.module.layout.suction_transducer]
    low = (value < LEAST_PA) | _only_this(scene, name)
    high = (dew_c > most_c) | (off_table & (value >= 1e6))
    return np.asarray(low), np.asarray(high)


def _emptied(scene: Scene, name: str | None) -> BoolArray:
    """Where a pressure is near or below atmospheric, and no evaporator is so cold."""
    if name is None or name not in scene.kelvin:
        return np.zeros(scene.grid_us.shape, bool)
    value, dew_c = scene.frames[name].value, scene.kelvin[name]
    low: BoolArray = (value >= LEAST_PA) & (value < EMPTY_PA) & ((dew_c < EMPTY_DEW_C) | np.isnan(dew_c))
    return low


def _only_this(scene: Scene, name: str) -> BoolArray:
    """The discharge side reads empty while the suction side holds pressure: no circuit does that."""
    layout = scene.module.layout
    if name != layout.discharge_transducer or layout.suction_transducer not in scene.kelvin:
        return np.zeros(scene.grid_us.shape, bool)
    return _emptied(scene, name) & (scene.frames[layout.suction_transducer].value >= EMPTY_PA)


def _near_atmosphere(book: _Book, scene: Scene) -> None:
    """The circuit may be empty. It is said of a transducer of which nothing worse is known."""
    layout = scene.module.layout
    pair = (layout.suction_transducer, layout.discharge_transducer)
    both = np.logical_and.reduce([_emptied(scene, each) for each in pair])
    for name in (each for each in pair if each in scene.kelvin):
        low = _emptied(scene, name)
        held = (held_us(low, scene.grid_us) >= scene.confirm_us(name)) & (book.codes[name] == 0)
        shown = _rounded(scene, name, scene.frames[name].value)
        for pa in np.unique(shown[held]).tolist():
            here = held & (shown == pa)
            text = f"it reads {pa / 1e3:.0f} kPa absolute, near or below atmospheric"
            for where, more in ((here & both, BOTH_EMPTY), (here & ~both, ONE_EMPTY)):
                book.say(name, where, Failure(Kind.NEAR_ATMOSPHERE, f"{text}{more}"))


def _frozen(book: _Book, scene: Scene, name: str) -> None:
    """It stands still to the last digit for an hour of running, while others of the module move."""
    value = scene.frames[name].value
    still = unchanged_us(value, scene.grid_us) >= STILL_US
    still &= is_fine(scene.module, name, value)
    still &= held_us(_flows(scene, name), scene.grid_us) >= STILL_US
    if not still.any():
        return
    lively = np.sum([moved for other, moved in book.moved.items() if other != name], axis=0)
    unit, scale = ("kPa", 1e3) if scene.is_pressure(name) else ("degC", 1.0)
    frozen = still & (lively >= LIVELY) & _had_to_move(scene, name)
    for shown in np.unique(value[frozen]).tolist():
        text = (
            f"it has stood at {shown / scale:.6g} {unit} to the last digit for "
            f"{STILL_US // (60 * SECOND)} min of running or longer, while {LIVELY} others or more moved"
        )
        book.say(name, frozen & (value == shown), Failure(Kind.FROZEN, text))


def is_fine(module: Module, name: str, value: FloatArray) -> BoolArray:
    """Whether a signal that stands at ``value`` is so fine that it never does for an hour of running.

    Where nobody stated its step, only a value that is not a whole degree of either scale shows that it is;
    what it read before it stood still may lie further back than an assessment reaches.
    """
    signal = module.signals[name]
    if not module.is_fine(name) or signal.step > 0:
        return np.full(value.shape, module.is_fine(name))
    if name in (module.layout.suction_transducer, module.layout.discharge_transducer):
        return np.zeros(value.shape, bool)
    fine: BoolArray = np.logical_and.reduce(
        [np.abs(each - np.round(each)) > 1e-3 for each in (2 * value, 1.8 * value)]
    )
    return fine


def _had_to_move(scene: Scene, name: str) -> BoolArray:
    """Liquid stands still for as long as fans hold the condensing pressure and a valve the subcooling."""
    condensing = scene.kelvin.get(scene.module.layout.discharge_transducer or "")
    if scene.place[name] != LIQUID or condensing is None:
        return np.ones(scene.grid_us.shape, bool)
    hour = windows(condensing, STILL_US // scene.step_us + 1)
    moved: BoolArray = np.fmax.reduce(hour, axis=1) - np.fmin.reduce(hour, axis=1) >= FOLLOWED_K
    return moved


def _flows(scene: Scene, name: str) -> BoolArray:
    """Where what passes a signal's place keeps it moving."""
    running: BoolArray = scene.course.runs == 1
    if scene.is_pressure(name):
        return running
    place, layout = scene.place[name], scene.module.layout
    if place == SUCTION:
        return running & _not(scene.fitness[name], Fitness.IDLE)
    if place == DISCHARGE:
        own = [c for c in layout.compressors if layout.discharge_of(c) == name]
        return running & (scene.course.running[own[0]] == 1) if own else running
    if place == LIQUID and name in scene.liquid:
        return running & _not(scene.liquid[name], LiquidFitness.IDLE)
    return np.zeros(running.shape, bool)


def _not(words: Words, word: str) -> BoolArray:
    return np.array(words != word, bool)


def _moved_throughout(scene: Scene, name: str) -> IntArray:
    """1 where the signal has moved in each third of the hour before."""
    value = scene.frames[name].value
    moved = np.concatenate(([False], np.abs(np.diff(value)) > 0))
    lately = since(moved, scene.grid_us) < STILL_US // 3
    third = STILL_US // 3 // scene.step_us
    result = lately.copy()
    for back in (third, 2 * third):
        result &= np.concatenate(
            (np.zeros(min(back, len(lately)), bool), lately[: max(len(lately) - back, 0)])
        )
    return result.astype(np.int64)


def _spikes_and_jumps(book: _Book, scene: Scene, name: str) -> None:
    for where, size_k, confirmed in jumps(scene, name):
        what = "its saturation temperature jumped" if scene.is_pressure(name) else "it jumped"
        text = (
            f"{what} by {size_k:+.0f} K between two readings, while mode, valves, compressors and the others "
            "stayed as they were"
        )
        if confirmed:
            text += f" (not trusted for {JUMP_US // (60 * SECOND)} min)"
        book.say(name, where, Failure(Kind.JUMP if confirmed else Kind.SPIKE, text))
