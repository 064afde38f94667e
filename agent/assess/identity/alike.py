"""What hours in which a module did the same show together: hot and cold pipes, and how far two are apart."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations

import numpy as np

from agent.assess.byhour.baseline import LIKE_SPEED
from agent.assess.frames import FloatArray, IntArray
from agent.assess.identity.glimpse import CODE, NOT_KNOWN, Doing, Glimpse
from agent.assess.identity.seen import Apart, Follows, Level, Scene

# Design choices, no source.
FEWEST_HOURS = 6  # settled, of one scene
THEN_HOURS = 8  # the first and the last hours of a scene that are held against each other
FOLLOWS = 0.7  # of the other explanation's residual: below that one of two follows clearly better


@lru_cache(maxsize=64)  # of two windows an hour apart most scenes are the same
def scene(
    doing: Doing,
    hours: tuple[Glimpse, ...],
    signals: tuple[str, ...],
    u_k: tuple[float, ...],
    valves: tuple[str, ...],
) -> Scene:
    """``hours``: ascending, in which the module did one thing; ``u_k``: standard, of each signal."""
    columns = _Columns(hours)
    codes = np.array([each.levels for each in hours])
    levels, words, cold = {}, {}, []
    for number, name in enumerate(signals):
        level = _level(codes[:, number])
        if level is not None:
            above_k = median(columns.pipes[number] - columns.saturated)
            levels[name] = level
            words[name] = f"{name} is {above_k:.0f} K above saturation at suction in {doing.mode}"
            cold += [number] if level is not Level.HOT else []
    apart = [
        found
        for one, other in combinations(cold, 2)
        for found in _apart(doing.mode, columns, (one, other), signals, u_k)
    ]
    valves_stood = dict(zip(valves, doing.valves, strict=True))
    return Scene(doing.mode, valves_stood, doing.running, len(hours), levels, words, tuple(apart))


def median(values: FloatArray) -> float:
    """Of those that are known, of which there is one at least."""
    known: list[float] = values[~np.isnan(values)].tolist()
    return statistics.median(known)  # of so few a third of the time that numpy takes


class _Columns:
    """The means of hours side by side; NaN: not known."""

    def __init__(self, hours: Sequence[Glimpse]) -> None:
        means = [each.means for each in hours if each.means is not None]
        self.pipes: FloatArray = np.array([each.pipes for each in means]).T
        self.air, self.saturated, self.speed = np.array([each[1:] for each in means]).T


def _level(codes: IntArray) -> Level | None:
    """How warm a pipe mostly is; None: not known for long enough."""
    told = codes[codes != NOT_KNOWN]
    if len(told) < FEWEST_HOURS:
        return None
    most = (level for level, code in CODE.items() if 2 * np.count_nonzero(told == code) > len(told))
    return next(most, Level.NEITHER)


def _apart(
    mode: str,
    columns: _Columns,
    pair: tuple[int, int],
    signals: Sequence[str],
    u_of: Sequence[float],
) -> Iterator[Apart]:
    """How far two pipes are apart: once, or of the first and the last hours where these differ."""
    one, other = (signals[number] for number in pair)
    first, second = (columns.pipes[number] for number in pair)
    known = ~np.isnan(second - first)
    number = int(np.count_nonzero(known))
    if number < FEWEST_HOURS:
        return
    first, apart = first[known], (second - first)[known]
    air, speeds = columns.air[known], columns.speed[known]
    u_k = 2 * float(np.hypot(u_of[pair[0]], u_of[pair[1]]))
    mean_k = float(apart.mean())
    warmer, colder = (apart, first) if mean_k >= 0 else (-apart, first + apart)
    dry_k, to_air_k = _mean(colder - columns.saturated[known]), _mean(air - colder)
    if _has_changed(apart, speeds, u_k):
        parts = (("the first ones", apart[:THEN_HOURS]), ("the last ones", apart[-THEN_HOURS:]))
        for when, part in parts:
            yield Apart(one, other, mode, float(part.mean()), u_k, THEN_HOURS, dry_k, to_air_k, when=when)
    else:
        follows = _follows(warmer, air - colder, speeds)
        yield Apart(one, other, mode, mean_k, u_k, number, dry_k, to_air_k, follows)


def _mean(values: FloatArray) -> float:
    """Of those that are known; NaN where none is."""
    known = values[~np.isnan(values)]
    return float(known.mean()) if len(known) else np.nan


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
