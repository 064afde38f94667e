"""Sums up the whole hours of a stretch, many at a time; each depends on its own grid times alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise

import numpy as np

from agent.assess.assessment import SATURATED_SUCTION, Status
from agent.assess.byhour.hours import HOUR_US, Hour, Opened, Part, Residual, Stats
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.mode_codes import MODES
from agent.assess.stretch import Stretch

VALVE = "_valve"  # how the signals of valves end; an inlet's other valve is not looked at by the hour


def hours_of(stretch: Stretch, step_us: int) -> list[Hour]:
    """The hours that lie wholly within a stretch, ascending."""
    grid_us = stretch.grid_us
    first = int(grid_us[0] - step_us) // HOUR_US + 1  # the grid time before lies in an earlier one
    last = int(grid_us[-1] + step_us) // HOUR_US
    bounds = np.searchsorted(grid_us, HOUR_US * np.arange(first, last + 1)).tolist()
    if bounds[:1] == bounds[-1:]:
        return []
    within = slice(bounds[0], bounds[-1])
    of_mode = np.array([MODES.index(situation.mode) for situation, _ in stretch.situations])
    mode = of_mode[stretch.situation]
    parts = _parts(stretch, within, grid_us[within] // HOUR_US, mode[within])
    return [
        _hour(
            stretch,
            slice(start, end),
            mode[start:end],
            parts[first + number],
            HOUR_US * (first + number),
            step_us,
        )
        for number, (start, end) in enumerate(pairwise(bounds))
        if end > start
    ]


def _hour(
    stretch: Stretch, cut: slice, mode: IntArray, parts: Mapping[str, Part], from_us: int, step_us: int
) -> Hour:
    began = mode[stretch.lasted_us[cut] == 0]
    return Hour(
        from_us,
        step_us,
        parts,
        {MODES[code]: int((began == code).sum()) for code in np.unique(began).tolist()},
        {name: int((state[cut] == 1).sum()) for name, state in stretch.running.items()},
        {name: int((state[cut] >= 0).sum()) for name, state in stretch.running.items()},
        {name: int(started[cut].sum()) for name, started in stretch.started.items()},
    )


def _parts(stretch: Stretch, within: slice, hour: IntArray, mode: IntArray) -> dict[int, dict[str, Part]]:
    """By hour and mode. ``hour`` and ``mode``: of each grid time in a part of the stretch."""
    order = np.lexsort((mode, hour))
    hours, modes = hour[order], mode[order]
    groups = _Groups(
        np.flatnonzero(np.append(True, (np.diff(hours) != 0) | (np.diff(modes) != 0))), len(order)
    )
    at = order + within.start
    settled = stretch.settled[at]
    decided = np.array([said.status is Status.DECIDED for said in stretch.phrases])
    tracks = stretch.tracks
    quantities = _stats(
        tracks,
        _side_by_side((np.where(decided[t.said], t.value, np.nan) for t in tracks.values()), at),
        groups,
        _side_by_side((t.below for t in tracks.values()), at),
        _side_by_side((t.above for t in tracks.values()), at),
    )
    moving = _side_by_side(stretch.signals.values(), at)
    signals = _stats(stretch.signals, np.where(settled[:, None], moving, np.nan), groups)
    made = _side_by_side(stretch.residuals.values(), at)
    residuals = _residuals(stretch.residuals, np.where(settled[:, None], made, np.nan), groups)
    found: dict[int, dict[str, Part]] = {}
    for number, (begin, end) in enumerate(pairwise([*groups.begins.tolist(), len(order)])):
        still = at[begin:end][settled[begin:end]]
        found.setdefault(int(hours[begin]), {})[MODES[modes[begin]]] = Part(
            end - begin,
            len(still),
            quantities[number],
            signals[number],
            residuals[number],
            _every_opened(stretch, still),
        )
    return found


def _side_by_side(columns: Iterable[FloatArray], at: IntArray) -> FloatArray:
    several = [column[at] for column in columns]
    return np.column_stack(several) if several else np.empty((len(at), 0))


def _every_opened(stretch: Stretch, at: IntArray) -> dict[str, dict[str, Opened]]:
    """By valve, those that were seen open and shut. ``at``: settled grid times of an hour and mode."""
    states = {name: state[at] > 0 for name, state in stretch.signals.items() if name.endswith(VALVE)}
    return {
        valve: found
        for valve, is_open in states.items()
        if is_open.any() and not is_open.all() and (found := _opened(stretch, at, is_open))
    }


def _opened(stretch: Stretch, at: IntArray, is_open: BoolArray) -> dict[str, Opened]:
    """What every signal did while a valve was open."""
    saturated = stretch.tracks[SATURATED_SUCTION].value[at]
    found = {}
    for name, signal in stretch.signals.items():
        while_open, while_shut = signal[at][is_open], signal[at][~is_open]
        if np.isnan(while_open).all() or np.isnan(while_shut).all() or np.isnan(saturated[is_open]).all():
            continue
        step_k = round(float(np.nanmean(while_open) - np.nanmean(while_shut)), 5)
        dry_k = round(float(np.nanmean(while_open) - np.nanmean(saturated[is_open])), 5)
        found[name] = Opened(int((~np.isnan(while_open)).sum()), step_k, dry_k)
    return found


class _Groups:
    """Consecutive rows that belong together, by where each group begins."""

    def __init__(self, begins: IntArray, rows: int) -> None:
        self.begins = begins
        self.of_row = np.repeat(np.arange(len(begins)), np.diff(np.append(begins, rows)))

    def sums(self, values: FloatArray) -> FloatArray:
        """Of each column in each group, added up row by row.

        So the figures hang on nothing but the rows: numpy's sums add in an order that goes by the shape.
        """
        number = len(self.begins)
        sums = [np.bincount(self.of_row, column, number) for column in values.T]
        return np.array(sums, np.float64).reshape(len(sums), number).T


def _stats(
    names: Iterable[str],
    values: FloatArray,
    groups: _Groups,
    below: FloatArray | None = None,
    above: FloatArray | None = None,
) -> list[dict[str, Stats]]:
    """Of each column in each group; NaN does not count."""
    valid = ~np.isnan(values)
    count = groups.sums(valid).astype(np.int64)
    safe = np.maximum(count, 1)

    def mean_of(each: FloatArray) -> FloatArray:
        return groups.sums(np.where(valid, each, 0.0)) / safe

    mean = mean_of(values)
    spread = np.sqrt(mean_of((values - mean[groups.of_row]) ** 2))
    least = np.minimum.reduceat(np.where(valid, values, np.inf), groups.begins, axis=0)
    most = np.maximum.reduceat(np.where(valid, values, -np.inf), groups.begins, axis=0)
    sides = [
        np.zeros(mean.shape) if each is None else mean_of(np.nan_to_num(each)) for each in (below, above)
    ]
    figures = np.round(np.stack((mean, least, most, spread, *sides), axis=-1), 5).tolist()
    order = list(names)
    return [
        {name: Stats(n, *row) for name, n, row in zip(order, numbers, rows, strict=True) if n}
        for numbers, rows in zip(count.tolist(), figures, strict=True)
    ]


def _residuals(names: Iterable[str], values: FloatArray, groups: _Groups) -> list[dict[str, Residual]]:
    """Of each column in each group; NaN does not count."""
    valid = ~np.isnan(values)
    kept = np.where(valid, values, 0.0)
    count = groups.sums(valid).astype(np.int64)
    sums = np.stack((groups.sums(kept), groups.sums(kept**2)), axis=-1)
    order = list(names)
    return [
        {name: Residual(n, *row) for name, n, row in zip(order, numbers, rows, strict=True) if n}
        for numbers, rows in zip(count.tolist(), sums.tolist(), strict=True)
    ]
