"""Two courses of a module over the same time, side by side: as recorded, and as replayed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import Status
from agent.assess.byhour.rest import OFF
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.stretch import Stretch

STANDING = (OFF, "unknown")  # modes in which a module does not run, or nobody knows
FIGURES = 4  # decimals that are kept of a figure
PERCENTILES = (5, 50, 95)


class Words(NamedTuple):
    """What many grid times share: the mode, and of each quantity whether it is decided, and where."""

    mode: str
    decided: tuple[bool, ...]
    probe: tuple[str, ...]  # joined by a blank where it rests on several
    beyond: tuple[bool, ...]  # per alarm: its condition holds, before any delay


@dataclass(frozen=True)
class Course:
    """A module over time, by column; ``names``: quantities, each with value, below and above [K] in a row."""

    names: tuple[str, ...]
    alarms: tuple[str, ...]
    grid_us: IntArray
    said: IntArray  # an index into phrases
    phrases: tuple[Words, ...]
    figures: FloatArray  # (grid times, 3 * quantities); NaN: none

    def flag(self, of: Iterable[bool]) -> BoolArray:
        """What holds of phrases, at every grid time."""
        found: BoolArray = np.fromiter(of, bool, len(self.phrases))[self.said]
        return found

    def values(self, name: str) -> tuple[BoolArray, FloatArray]:
        """Where a quantity is decided; its value, below and above at every grid time."""
        number = self.names.index(name)
        decided = self.flag(each.decided[number] for each in self.phrases)
        return decided, self.figures[:, 3 * number : 3 * number + 3]


class Gathering:
    """Puts a course together, part by part."""

    def __init__(self, names: Sequence[str], alarms: Sequence[str]) -> None:
        self.names, self.alarms = tuple(names), tuple(alarms)
        self._phrases: dict[Words, int] = {}
        self._parts: list[tuple[IntArray, IntArray, FloatArray]] = []

    def number(self, words: Words) -> int:
        return self._phrases.setdefault(words, len(self._phrases))

    def add(self, grid_us: IntArray, said: IntArray, figures: FloatArray) -> None:
        self._parts.append((grid_us, said.astype(np.int32), figures))

    def add_stretch(self, stretch: Stretch, beyond: Mapping[str, BoolArray]) -> None:
        """What was just assessed, rounded as it would be kept; ``beyond``: per alarm, its condition holds."""
        tracks = [stretch.tracks.get(name) for name in self.names]
        none = np.full(stretch.grid_us.shape, -1)
        keys = np.column_stack([
            stretch.situation,
            *(none if track is None else track.said for track in tracks),
            *(beyond[alarm] for alarm in self.alarms),
        ])  # fmt: skip
        distinct, which = np.unique(keys, axis=0, return_inverse=True)
        numbers = []
        for situation, *rest in distinct.tolist():
            spoken = [None if n < 0 else stretch.phrases[n] for n in rest[: len(tracks)]]
            numbers.append(
                self.number(
                    Words(
                        stretch.situations[situation][0].mode,
                        tuple(each is not None and each.status is Status.DECIDED for each in spoken),
                        tuple("" if each is None else " ".join(each.probes) for each in spoken),
                        tuple(map(bool, rest[len(tracks) :])),
                    )
                )
            )
        empty = np.full(stretch.grid_us.shape, np.nan)
        columns = [
            column
            for track in tracks
            for column in ((empty,) * 3 if track is None else (track.value, track.below, track.above))
        ]
        figures = np.round(np.column_stack(columns), FIGURES)
        self.add(stretch.grid_us, np.array(numbers)[which.ravel()], figures)

    def course(self) -> Course:
        if not self._parts:
            nothing = np.empty(0, np.int64)
            figures = np.empty((0, 3 * len(self.names)))
            return Course(self.names, self.alarms, nothing, nothing, (), figures)
        grid_us, said, figures = (np.concatenate(each) for each in zip(*self._parts, strict=True))
        return Course(self.names, self.alarms, grid_us, said, tuple(self._phrases), figures)


class InMode(NamedTuple):
    """A quantity in one mode. ``times``, ``decided``: grid times; the rest is of decided values [K]."""

    mode: str
    times: int
    decided: int
    median: float | None = None
    low: float | None = None  # 5 %
    high: float | None = None  # 95 %
    below: float | None = None  # mean expanded uncertainty
    above: float | None = None
    probes: tuple[tuple[str, int], ...] = ()  # where it was taken, and at how many grid times; most first


class Differ(NamedTuple):
    """Replayed minus recorded, where both are decided [K]."""

    times: int
    median: float
    most: float  # the largest, with its sign


class QuantityCompared(NamedTuple):
    """One quantity, in each mode that either course has."""

    recorded: tuple[InMode, ...]
    replayed: tuple[InMode, ...]
    differ: Differ | None  # None: never decided in both


@dataclass(frozen=True)
class Compared:
    """Counts are of grid times."""

    recorded: int
    replayed: int
    unrecorded: int  # replayed, and nothing was recorded of them
    changed: int  # of both: mode, verdict, probe or figure differs
    quantities: Mapping[str, QuantityCompared]
    beyond: Mapping[str, tuple[int, int]]  # per alarm: its condition holds, as recorded and as replayed


def compare(recorded: Course, replayed: Course) -> Compared:
    """Two courses of the same quantities and alarms, on grids that may be different."""
    _, here, there = np.intersect1d(recorded.grid_us, replayed.grid_us, return_indices=True)
    quantities = {}
    for name in replayed.names:
        first, second = recorded.values(name), replayed.values(name)
        both = first[0][here] & second[0][there]
        apart = (second[1][there, 0] - first[1][here, 0])[both]
        differ = None
        if len(apart):
            most = float(apart[np.argmax(np.abs(apart))])
            differ = Differ(len(apart), float(np.median(apart)), most)
        modes = _modes(recorded, replayed)
        quantities[name] = QuantityCompared(
            _by_mode(recorded, name, modes), _by_mode(replayed, name, modes), differ
        )
    beyond = {
        alarm: (_count(recorded, number), _count(replayed, number))
        for number, alarm in enumerate(replayed.alarms)
    }
    return Compared(
        len(recorded.grid_us),
        len(replayed.grid_us),
        len(replayed.grid_us) - len(there),
        _changed(recorded, replayed, here, there),
        quantities,
        beyond,
    )


def _changed(recorded: Course, replayed: Course, here: IntArray, there: IntArray) -> int:
    known = {phrase: number for number, phrase in enumerate(recorded.phrases)}
    alike = np.array([known.get(phrase, -1) for phrase in replayed.phrases], int)
    if not len(here):
        return 0
    words = alike[replayed.said[there]] != recorded.said[here]
    first, second = recorded.figures[here], replayed.figures[there]
    figures = ((first != second) & ~(np.isnan(first) & np.isnan(second))).any(axis=1)
    return int((words | figures).sum())


def _modes(*courses: Course) -> list[str]:
    """Those in which it runs ahead of the others."""
    found = {phrase.mode for course in courses for phrase in course.phrases}
    return sorted(found, key=lambda mode: (mode in STANDING, mode))


def _by_mode(course: Course, name: str, modes: Sequence[str]) -> tuple[InMode, ...]:
    decided, figures = course.values(name)
    number = course.names.index(name)
    found = []
    for mode in modes:
        in_mode = course.flag(each.mode == mode for each in course.phrases)
        here = in_mode & decided
        count = int(in_mode.sum())
        if not here.any():
            found.append(InMode(mode, count, 0))
            continue
        low, median, high = np.percentile(figures[here, 0], PERCENTILES).tolist()
        below, above = (float(column[here].mean()) for column in (figures[:, 1], figures[:, 2]))
        said, counts = np.unique(course.said[here], return_counts=True)
        probes: dict[str, int] = {}
        for phrase, times in zip(said.tolist(), counts.tolist(), strict=True):
            probe = course.phrases[phrase].probe[number]
            probes[probe] = probes.get(probe, 0) + times
        most_first = tuple(sorted(probes.items(), key=lambda each: -each[1]))
        found.append(InMode(mode, count, int(here.sum()), median, low, high, below, above, most_first))
    return tuple(found)


def _count(course: Course, alarm: int) -> int:
    return int(course.flag(each.beyond[alarm] for each in course.phrases).sum())


def within_uncertainty(course: Course, name: str, limit_k: float) -> tuple[int, int]:
    """At how many grid times a limit lies within the uncertainty of a decided value, and of how many."""
    decided, figures = course.values(name)
    value, below, above = figures[decided].T
    return int(((value - below <= limit_k) & (limit_k <= value + above)).sum()), int(decided.sum())
