"""The past of a module by column, and how long what was the case: for figures and tables of many days.

Thinned for a figure by the least and the most of each of its pixels, so that no dip is smoothed away.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import orjson

from agent.assess import (
    AT_PROBE,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    SUBCOOLING,
    Status,
)
from agent.assess.assessment import Basis, Said
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.mode_codes import CODE
from agent.assess.module import LONGEST_STEP_US
from agent.outlets.view import NO_VERDICT
from agent.piping import RETURN, RISE

_DRAWN = (RETURN, RISE, SUBCOOLING)
_DRAWN_BY_PLACE = (AT_PROBE, DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT)
STILL = ("off", "unknown")  # modes in which nobody expects a superheat


class Kept(NamedTuple):
    """An assessment in the form that is kept of it."""

    grid_us: int
    basis: str
    figures: str


@dataclass(frozen=True)
class Curve:
    """One quantity over the grid, NaN where there is no value; ``decided``: where it can be relied on."""

    value: FloatArray
    below: FloatArray
    above: FloatArray
    decided: BoolArray


class Undecided(NamedTuple):
    """Why a quantity had no decided value in a mode, and for how long."""

    quantity: str
    mode: str
    said: Said
    us: int


@dataclass(frozen=True)
class Course:
    """A stretch of assessments by column, ascending in time; no row where nothing was assessed."""

    from_us: int
    to_us: int
    step_us: int
    grid_us: IntArray
    lasted_us: IntArray  # how long each row stands for
    mode: IntArray  # index into `agent.assess.MODES`
    curves: Mapping[str, Curve]  # an apparent superheat (AT_PROBE) only where its probe was not fit
    undecided: tuple[Undecided, ...]
    alarms: Mapping[str, BoolArray] = field(default_factory=dict)  # whether each stood; only those that did

    @property
    def is_off(self) -> BoolArray:
        """Where it is known to stand still."""
        return np.asarray(self.mode == CODE["off"])

    @property
    def is_running(self) -> BoolArray:
        """Rows in which the module was known to run."""
        return ~np.isin(self.mode, [CODE[mode] for mode in STILL])

    def us(self, where: BoolArray) -> int:
        """How long something held."""
        return int(self.lasted_us[where].sum())

    @property
    def unassessed_us(self) -> int:
        """How much of the span has no assessment at all."""
        return max(self.to_us - self.from_us - int(self.lasted_us.sum()), 0)


def collect(
    pieces: Iterable[Sequence[Kept]],
    from_us: int,
    to_us: int,
    step_us: int,
) -> Course:
    """Read assessments, ascending, a piece at a time, so that no more than a piece is held as text."""
    bases: dict[str, int] = {}
    columns = _Columns()
    for piece in pieces:
        columns.add(piece, bases)
    grid_us = np.concatenate(columns.grid_us) if columns.grid_us else np.empty(0, np.int64)
    basis = np.concatenate(columns.basis) if columns.basis else np.empty(0, np.int64)
    lasted_us = _lasted(grid_us, to_us, step_us)
    words = [Basis.load(text) for text in bases]
    modes = np.array([CODE[each.mode] for each in words], np.int64)
    lengths = np.bincount(basis, weights=lasted_us, minlength=len(words)) if len(basis) else np.zeros(0)
    return Course(
        from_us,
        to_us,
        step_us,
        grid_us,
        lasted_us,
        modes[basis] if len(basis) else np.empty(0, np.int64),
        {name: columns.curve(name, len(grid_us)) for name in columns.names},
        tuple(_undecided(words, lengths.astype(np.int64).tolist())),
    )


def _lasted(grid_us: IntArray, to_us: int, step_us: int) -> IntArray:
    """A row stands for the time up to the next one; before a gap, for a step."""
    if not len(grid_us):
        return np.empty(0, np.int64)
    apart = np.diff(grid_us, append=max(int(grid_us[-1]), min(int(grid_us[-1]) + step_us, to_us)))
    return np.where(apart > max(LONGEST_STEP_US, step_us), step_us, apart)


class _Columns:
    """The curves piece by piece; what a piece does not have stays NaN."""

    def __init__(self) -> None:
        self.grid_us: list[IntArray] = []
        self.basis: list[IntArray] = []
        self.names: dict[str, None] = {}
        self._parts: dict[str, list[tuple[int, IntArray, FloatArray, bool]]] = {}
        self._count = 0

    def add(self, piece: Sequence[Kept], bases: dict[str, int]) -> None:
        if not piece:
            return
        self.grid_us.append(np.array([each.grid_us for each in piece], np.int64))
        rows: dict[str, list[int]] = {}
        for row, each in enumerate(piece):
            rows.setdefault(each.basis, []).append(row)
            bases.setdefault(each.basis, len(bases))
        self.basis.append(np.array([bases[each.basis] for each in piece], np.int64))
        for basis, mine in rows.items():
            self._add_alike(Basis.load(basis), piece, mine)
        self._count += len(piece)

    def _add_alike(self, words: Basis, piece: Sequence[Kept], rows: list[int]) -> None:
        """Rows of the same words have the same columns."""
        figures = np.array([orjson.loads(piece[row].figures) for row in rows], np.float64)
        at = np.array(rows, np.int64) + self._count
        for number, (name, said) in enumerate(words.said.items()):
            if _is_drawn(name, words):
                self.names[name] = None
                cut = figures[:, 3 * number : 3 * number + 3]
                self._parts.setdefault(name, []).append((number, at, cut, said.status is Status.DECIDED))

    def curve(self, name: str, count: int) -> Curve:
        columns = np.full((3, count), np.nan)
        decided = np.zeros(count, bool)
        for _, at, figures, is_decided in self._parts.pop(name):
            columns[:, at] = figures.T
            decided[at] = is_decided
        value, below, above = columns
        return Curve(value, below, above, decided & ~np.isnan(value))


def _is_drawn(name: str, words: Basis) -> bool:
    if name.startswith(AT_PROBE):
        verdict = words.fitness.get(name.removeprefix(AT_PROBE))
        return verdict is not None and verdict[0] in NO_VERDICT
    return name in _DRAWN or name.startswith(_DRAWN_BY_PLACE[1:])


def _undecided(words: Sequence[Basis], lengths_us: Sequence[int]) -> Iterator[Undecided]:
    """By quantity, mode and reason; the words of each are those that held longest."""
    found: dict[tuple[str, str, Status, str], dict[Said, int]] = {}
    for each, us in zip(words, lengths_us, strict=True):
        for name, said in each.said.items():
            if said.status is not Status.DECIDED and name in (RETURN, RISE, SUBCOOLING):
                alike = found.setdefault((name, each.mode, said.status, said.cause), {})
                alike[said] = alike.get(said, 0) + us
    for (name, mode, _, _), alike in found.items():
        longest = max(alike, key=lambda said: alike[said])
        yield Undecided(name, mode, longest, sum(alike.values()))


class Envelope(NamedTuple):
    """The least and the most of each pixel, NaN where it holds nothing; ``edges``: one more than pixels."""

    edges_us: IntArray
    least: FloatArray
    most: FloatArray


def pixels(course: Course, most: int) -> IntArray:
    """Edges of about so many equal parts of the span, none shorter than a step of the grid."""
    step_us = max(course.step_us, 1)
    part_us = -(-(course.to_us - course.from_us) // max(most, 1))
    part_us = max(-(-part_us // step_us) * step_us, step_us)
    begin_us = course.from_us // step_us * step_us
    return np.arange(begin_us, course.to_us + part_us + 1, part_us, dtype=np.int64)  # the end is part of it


def envelope(course: Course, least: FloatArray, most: FloatArray, edges_us: IntArray) -> Envelope:
    """Thin two columns (the same one twice, or both ends of a band) to pixels."""
    count = len(edges_us) - 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    at = np.searchsorted(edges_us, course.grid_us, side="right") - 1
    for there, values, into in ((low, least, np.minimum), (high, most, np.maximum)):
        known = ~np.isnan(values) & (at >= 0) & (at < count)
        into.at(there, at[known], values[known])
    return Envelope(edges_us, np.where(np.isinf(low), np.nan, low), np.where(np.isinf(high), np.nan, high))


def happens(course: Course, where: BoolArray, edges_us: IntArray) -> BoolArray:
    """The pixels in which something held at any time, however short."""
    found = np.zeros(len(edges_us) - 1, bool)
    at = np.searchsorted(edges_us, course.grid_us[where], side="right") - 1
    found[at[(at >= 0) & (at < len(found))]] = True
    return found


def runs(where: BoolArray) -> Iterator[tuple[int, int]]:
    """First and one past last of each run."""
    edge = np.diff(np.concatenate(([False], where, [False])).astype(np.int8))
    yield from zip(np.flatnonzero(edge == 1).tolist(), np.flatnonzero(edge == -1).tolist(), strict=True)
