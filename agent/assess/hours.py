"""What a whole hour of a module comes to, for everything that takes days: its history, its drift, its causes.

A pure function of the assessments of that hour. Only settled and decided values are summed up, so that an
hour without them says so by their absence.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

import numpy as np
import orjson

from agent.assess.assessment import SATURATED_SUCTION, Status
from agent.assess.frames import BoolArray, FloatArray
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
    table = _Table(stretch)
    first = int(grid_us[0] - step_us) // HOUR_US + 1  # the grid time before lies in an earlier one
    last = int(grid_us[-1] + step_us) // HOUR_US
    bounds = np.searchsorted(grid_us, HOUR_US * np.arange(first, last + 1)).tolist()
    return [
        _hour(stretch, table, slice(start, end), HOUR_US * (first + number), step_us)
        for number, (start, end) in enumerate(zip(bounds, bounds[1:], strict=False))
        if end > start
    ]


class _Table:
    """The columns of a stretch side by side, NaN where a value does not count."""

    def __init__(self, stretch: Stretch) -> None:
        decided = np.array([said.status is Status.DECIDED for said in stretch.phrases])
        tracks = stretch.tracks
        shown = [decided[track.said] for track in tracks.values()]
        self.quantities = _side_by_side(
            np.where(d, t.value, np.nan) for d, t in zip(shown, tracks.values(), strict=True)
        )
        self.below = _side_by_side(t.below for t in tracks.values())
        self.above = _side_by_side(t.above for t in tracks.values())
        self.signals = _side_by_side(stretch.signals.values())
        self.residuals = _side_by_side(stretch.residuals.values())
        mode = np.array([MODES.index(situation.mode) for situation, _ in stretch.situations])
        self.mode = mode[stretch.situation]


def _side_by_side(columns: Iterable[FloatArray]) -> FloatArray:
    several = list(columns)
    return np.column_stack(several) if several else np.empty((0, 0))


def _hour(stretch: Stretch, table: _Table, cut: slice, from_us: int, step_us: int) -> Hour:
    mode = table.mode[cut]
    began = mode[stretch.lasted_us[cut] == 0]
    return Hour(
        from_us,
        step_us,
        {MODES[code]: _part(stretch, table, cut, mode == code) for code in np.unique(mode).tolist()},
        {MODES[code]: int((began == code).sum()) for code in np.unique(began).tolist()},
        {name: int((state[cut] == 1).sum()) for name, state in stretch.running.items()},
        {name: int((state[cut] >= 0).sum()) for name, state in stretch.running.items()},
        {name: int(started[cut].sum()) for name, started in stretch.started.items()},
    )


def _part(stretch: Stretch, table: _Table, cut: slice, here: BoolArray) -> Part:
    settled = here & stretch.settled[cut]
    quantities = dict(
        _stats(stretch.tracks, table.quantities[cut][here], table.below[cut][here], table.above[cut][here])
    )
    signals = dict(_stats(stretch.signals, table.signals[cut][settled])) if stretch.signals else {}
    residuals = (
        dict(_residuals(stretch.residuals, table.residuals[cut][settled])) if stretch.residuals else {}
    )
    opened = {
        valve: found
        for valve, state in stretch.signals.items()
        if valve.endswith(VALVE) and (found := _opened(stretch, table, cut, settled, state[cut] > 0))
    }
    return Part(int(here.sum()), int(settled.sum()), quantities, signals, residuals, opened)


def _opened(
    stretch: Stretch, table: _Table, cut: slice, settled: BoolArray, is_open: BoolArray
) -> dict[str, Opened]:
    """What every signal did while a valve was open, where it was seen open and shut."""
    opened, shut = settled & is_open, settled & ~is_open
    if not opened.any() or not shut.any():
        return {}
    saturated = stretch.tracks[SATURATED_SUCTION].value[cut]
    found = {}
    for name, column in zip(stretch.signals, table.signals[cut].T, strict=True):
        while_open, while_shut = column[opened], column[shut]
        if np.isnan(while_open).all() or np.isnan(while_shut).all() or np.isnan(saturated[opened]).all():
            continue
        step_k = round(float(np.nanmean(while_open) - np.nanmean(while_shut)), 5)
        dry_k = round(float(np.nanmean(while_open) - np.nanmean(saturated[opened])), 5)
        found[name] = Opened(int((~np.isnan(while_open)).sum()), step_k, dry_k)
    return found


def _stats(
    names: Iterable[str], values: FloatArray, below: FloatArray | None = None, above: FloatArray | None = None
) -> Iterator[tuple[str, Stats]]:
    valid = ~np.isnan(values)
    count = valid.sum(axis=0)
    safe = np.maximum(count, 1)
    mean = np.where(valid, values, 0.0).sum(axis=0) / safe
    spread = np.sqrt(np.where(valid, (values - mean) ** 2, 0.0).sum(axis=0) / safe)
    least, most = (
        np.where(valid, values, np.inf).min(axis=0, initial=np.inf),
        np.where(valid, values, -np.inf).max(axis=0, initial=-np.inf),
    )
    sides = [
        np.zeros(len(count)) if side is None else np.where(valid, np.nan_to_num(side), 0.0).sum(axis=0) / safe
        for side in (below, above)
    ]
    columns = np.round(np.column_stack((mean, least, most, spread, *sides)), 5).tolist()
    for name, number, row in zip(names, count.tolist(), columns, strict=True):
        if number:
            yield name, Stats(number, *row)


def _residuals(names: Iterable[str], values: FloatArray) -> Iterator[tuple[str, Residual]]:
    valid = ~np.isnan(values)
    kept = np.where(valid, values, 0.0)
    count, total, squares = valid.sum(axis=0), kept.sum(axis=0), (kept**2).sum(axis=0)
    for name, *sums in zip(names, count.tolist(), total.tolist(), squares.tolist(), strict=True):
        if sums[0]:
            yield name, Residual(*sums)


def total_speed(hour: Hour, mode: str) -> float | None:
    """All compressors' speeds together over the settled part of a mode [Hz]; None: not known."""
    return hour.total_speeds.get(mode)


def settled_in(hours: Iterable[Hour], mode: str) -> list[Hour]:
    """The hours that were settled in a mode."""
    return [hour for hour in hours if hour.settled_mode == mode]
