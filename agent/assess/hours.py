"""What a whole hour of a module comes to, for everything that takes days: its history, its drift, its causes.

A pure function of the assessments of that hour. Only settled and decided values are summed up, so that an
hour without them says so by their absence.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, wraps
from itertools import pairwise
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

import numpy as np
import orjson

from agent.assess.assessment import SATURATED_SUCTION, Status
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.module import SECOND, Module
from agent.assess.stretch import Stretch
from agent.assess.words import MODES

HOUR_US = 3600 * SECOND
VALVE = "_valve"  # how the signals of valves end; an inlet's other valve is not looked at by the hour
SETTLED_SHARE = 0.25  # of an hour, for it to speak of a mode; design choice, no source


class Stats(NamedTuple):
    """Of the values in an hour; ``below`` and ``above``: their mean expanded uncertainty, 0 for a signal."""

    number: int
    mean: float
    least: float
    most: float
    spread: float  # standard deviation
    below: float = 0.0
    above: float = 0.0


class Residual(NamedTuple):
    """The supervisor's superheat minus what it would be if it were made in one way, summed up [K]."""

    number: int
    total: float
    squares: float


class Opened(NamedTuple):
    """A signal while a valve was open, in an hour in which it was also shut; all of it settled."""

    number: int  # grid times open
    step_k: float  # how much warmer than while it was shut
    dry_k: float  # its superheat while it was open


@dataclass(frozen=True)
class Part:
    """All of an hour that was in one mode. Counts are of grid times."""

    count: int
    settled: int  # of them: long enough in it, nothing switched; standing still counts from the start
    quantities: Mapping[str, Stats] = field(default_factory=dict)  # of decided values
    signals: Mapping[str, Stats] = field(default_factory=dict)  # SI, at settled grid times
    residuals: Mapping[str, Residual] = field(default_factory=dict)  # by the way it would be made
    opened: Mapping[str, Mapping[str, Opened]] = field(default_factory=dict)  # by valve and signal


@dataclass(frozen=True)
class Hour:
    """A whole hour of a module. Counts are of grid times, ``step_us`` apart."""

    from_us: int
    step_us: int
    parts: Mapping[str, Part]  # by mode
    entered: Mapping[str, int]  # how often each mode began
    running: Mapping[str, int]  # each compressor: grid times at which it ran ...
    known: Mapping[str, int]  # ... and for which that is known
    starts: Mapping[str, int]  # each compressor
    _worked_out: dict[Hashable, tuple[Module, Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @property
    def to_us(self) -> int:
        return self.from_us + HOUR_US

    @cached_property
    def settled_mode(self) -> str | None:
        """The mode that most of it was settled in; None where too little of it was."""
        mode = max(self.parts, key=lambda mode: self.parts[mode].settled, default=None)
        if mode is None or self.parts[mode].settled * self.step_us < SETTLED_SHARE * HOUR_US:
            return None
        return mode

    @cached_property
    def total_speeds(self) -> Mapping[str, float]:
        """By mode, where every compressor's speed is known [Hz]."""
        names = [f"compressor_{name}_speed" for name in self.known]
        return {
            mode: sum(part.signals[name].mean for name in names)
            for mode, part in self.parts.items()
            if all(name in part.signals for name in names)
        }

    def dump(self) -> str:
        words = {
            "from_us": self.from_us,
            "step_us": self.step_us,
            "parts": {
                mode: [part.count, part.settled, part.quantities, part.signals, part.residuals, part.opened]
                for mode, part in self.parts.items()
            },
            "entered": self.entered,
            "running": self.running,
            "known": self.known,
            "starts": self.starts,
        }
        return orjson.dumps(words, default=tuple).decode()

    @staticmethod
    def load(text: str) -> Hour:
        words: dict[str, Any] = orjson.loads(text)
        parts = {
            mode: Part(
                count,
                settled,
                {name: Stats(*each) for name, each in quantities.items()},
                {name: Stats(*each) for name, each in signals.items()},
                {name: Residual(*each) for name, each in residuals.items()},
                {
                    valve: {name: Opened(*each) for name, each in several.items()}
                    for valve, several in (opened[0] if opened else {}).items()  # older ones have none
                },
            )
            for mode, (count, settled, quantities, signals, residuals, *opened) in words.pop("parts").items()
        }
        return Hour(parts=parts, **words)


P = ParamSpec("P")
T = TypeVar("T")


def once_an_hour(
    work_out: Callable[Concatenate[Module, Hour, P], T],
) -> Callable[Concatenate[Module, Hour, P], T]:
    """Keep what is worked out of an hour with it: an hour never changes, and many windows look at it.

    For the module that it was last asked of. What else is given is hashable.
    """

    @wraps(work_out)
    def kept(module: Module, hour: Hour, /, *rest: P.args, **named: P.kwargs) -> T:
        key = (work_out, rest, *named.items())
        known = hour._worked_out.get(key)
        if known is None or known[0] is not module:
            known = hour._worked_out[key] = (module, work_out(module, hour, *rest, **named))
        found: T = known[1]
        return found

    return kept


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
    begins = np.flatnonzero(np.append(True, (np.diff(hours) != 0) | (np.diff(modes) != 0)))
    ends = [*begins[1:].tolist(), len(order)]
    at = order + within.start
    settled = stretch.settled[at]
    decided = np.array([said.status is Status.DECIDED for said in stretch.phrases])
    tracks = stretch.tracks
    quantities = _stats(
        tracks,
        _side_by_side((np.where(decided[t.said], t.value, np.nan) for t in tracks.values()), at),
        begins,
        _side_by_side((t.below for t in tracks.values()), at),
        _side_by_side((t.above for t in tracks.values()), at),
    )
    moving = _side_by_side(stretch.signals.values(), at)
    signals = _stats(stretch.signals, np.where(settled[:, None], moving, np.nan), begins)
    made = _side_by_side(stretch.residuals.values(), at)
    residuals = _residuals(stretch.residuals, np.where(settled[:, None], made, np.nan), begins)
    found: dict[int, dict[str, Part]] = {}
    for number, (begin, end) in enumerate(zip(begins.tolist(), ends, strict=True)):
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


def _stats(
    names: Iterable[str],
    values: FloatArray,
    begins: IntArray,
    below: FloatArray | None = None,
    above: FloatArray | None = None,
) -> list[dict[str, Stats]]:
    """Of each group of rows, that begin there; NaN does not count."""
    valid = ~np.isnan(values)
    count = np.add.reduceat(valid, begins, axis=0, dtype=np.int64)
    safe = np.maximum(count, 1)

    def mean_of(each: FloatArray) -> FloatArray:
        mean: FloatArray = np.add.reduceat(np.where(valid, each, 0.0), begins, axis=0) / safe
        return mean

    mean = mean_of(values)
    lengths = np.diff(np.append(begins, len(values)))
    spread = np.sqrt(mean_of((values - np.repeat(mean, lengths, axis=0)) ** 2))
    least = np.minimum.reduceat(np.where(valid, values, np.inf), begins, axis=0)
    most = np.maximum.reduceat(np.where(valid, values, -np.inf), begins, axis=0)
    sides = [
        np.zeros(mean.shape) if each is None else mean_of(np.nan_to_num(each)) for each in (below, above)
    ]
    figures = np.round(np.stack((mean, least, most, spread, *sides), axis=-1), 5).tolist()
    order = list(names)
    return [
        {name: Stats(n, *row) for name, n, row in zip(order, numbers, rows, strict=True) if n}
        for numbers, rows in zip(count.tolist(), figures, strict=True)
    ]


def _residuals(names: Iterable[str], values: FloatArray, begins: IntArray) -> list[dict[str, Residual]]:
    """Of each group of rows, that begin there; NaN does not count."""
    valid = ~np.isnan(values)
    kept = np.where(valid, values, 0.0)
    count = np.add.reduceat(valid, begins, axis=0, dtype=np.int64)
    sums = np.stack([np.add.reduceat(each, begins, axis=0) for each in (kept, kept**2)], axis=-1)
    order = list(names)
    return [
        {name: Residual(n, *row) for name, n, row in zip(order, numbers, rows, strict=True) if n}
        for numbers, rows in zip(count.tolist(), sums.tolist(), strict=True)
    ]


def total_speed(hour: Hour, mode: str) -> float | None:
    """All compressors' speeds together over the settled part of a mode [Hz]; None: not known."""
    return hour.total_speeds.get(mode)


def settled_in(hours: Iterable[Hour], mode: str) -> list[Hour]:
    """The hours that were settled in a mode."""
    return [hour for hour in hours if hour.settled_mode == mode]
