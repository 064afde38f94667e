"""The one evaluation of a module, live, late or replayed: pieces of time, what each comes to, its hours.

Reads and keeps nothing itself: the readings come from whoever evaluates, and so do the hours of the past.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple

import numpy as np

from agent.alarms import Entry, conditions
from agent.assess import Samples, ToAssess, assess
from agent.assess.byhour.hours import HOUR_US
from agent.assess.frames import IntArray
from agent.assess.stretch import Stretch
from agent.readings import EVER_US
from agent.service.work.hourly import Hourly, cuts, epoch_at, first_grid, last_grid, piece_hours, whole_hours
from agent.settings import Epoch, ModulePlan
from agent.store import Hours

Given = Callable[[Epoch, IntArray], Mapping[str, Samples]]  # all that these grid times rest on, in SI


class Piece(NamedTuple):
    """What a piece of time comes to."""

    stretch: Stretch
    codes: Mapping[str, IntArray]  # per alarm on the grid the code of its condition
    hours: list[Hours]  # in place of what is kept of their time


class Evaluation:
    """Of one module, on a grid; ``known_us``: the first and last grid time that are ever assessed."""

    def __init__(
        self, plan: ModulePlan, step_us: int, hourly: Hourly, given: Given, known_us: tuple[int, int]
    ) -> None:
        self.plan = plan
        self.step_us = step_us
        self.hourly = hourly
        self.given = given
        self.known_us = known_us
        self._ahead: dict[tuple[int, int, int], tuple[Stretch, Mapping[str, IntArray]]] = {}

    def put_ahead(self, epoch: Epoch, stretch: Stretch, codes: Mapping[str, IntArray]) -> None:
        """What a piece comes to that was assessed already, with the same readings."""
        self._ahead[_key(epoch, stretch.grid_us)] = stretch, codes

    def pieces(self, stretches: Iterable[tuple[int, int]], most: int) -> Iterator[tuple[Epoch, IntArray]]:
        """Grid times worked on at once, at most so many, under the layout that holds then, of one unit."""
        ends_us = [epoch.from_us for epoch in self.plan.epochs[1:]] + [EVER_US]
        for first, last in stretches:
            grid_us = np.arange(first, last + 1, self.step_us)
            parts = np.split(grid_us, np.searchsorted(grid_us, ends_us[:-1]))
            for epoch, part in zip(self.plan.epochs, parts, strict=True):
                ends = set(cuts(part, piece_hours(self.step_us, most)))
                ends |= set(np.searchsorted(part, self.hourly.units_us).tolist())
                pieces = np.split(part, sorted(ends))
                yield from ((epoch, piece) for piece in pieces if len(piece))

    def piece(self, epoch: Epoch, grid_us: IntArray) -> Piece:
        """A piece of work: its grid times, and the hours that it touches."""
        stretch, codes = self._ahead.get(_key(epoch, grid_us)) or self._judged(epoch, grid_us)
        hours = [whole_hours(stretch, self.step_us)]
        at_the_ends = {int(at_us) // HOUR_US * HOUR_US for at_us in (grid_us[0], grid_us[-1])}
        for hour_us in sorted(at_the_ends - {hour.from_us for hour in hours[0].rows}):
            if self._is_whole(epoch, hour_us):
                grid = np.arange(first_grid(hour_us, self.step_us), hour_us + HOUR_US, self.step_us)
                hours.append(whole_hours(self._stretch(epoch, grid), self.step_us))
        return Piece(stretch, codes, hours)

    def _judged(self, epoch: Epoch, grid_us: IntArray) -> tuple[Stretch, Mapping[str, IntArray]]:
        stretch = self._stretch(epoch, grid_us)
        return stretch, conditions(stretch, self.plan.catalogue, self.plan.configured_probe)

    def _stretch(self, epoch: Epoch, grid_us: IntArray) -> Stretch:
        return assess(*self.to_assess(epoch, grid_us), self.step_us)

    def to_assess(self, epoch: Epoch, grid_us: IntArray) -> ToAssess:
        """What the assessment of a piece rests on."""
        module = self.hourly.module(epoch, int(grid_us[0]))
        return ToAssess(module, grid_us, self.given(epoch, grid_us))

    def _is_whole(self, epoch: Epoch, hour_us: int) -> bool:
        """The hour is over, nothing of it lies before all assessments, one piping, one unit throughout."""
        begin_us, until_us = self.known_us
        if first_grid(hour_us, self.step_us) < begin_us or last_grid(hour_us, self.step_us) > until_us:
            return False
        if any(hour_us < unit_us < hour_us + HOUR_US for unit_us in self.hourly.units_us):
            return False
        return epoch_at(self.plan, hour_us) is epoch_at(self.plan, hour_us + HOUR_US - 1) is epoch


def by_readings(plan: ModulePlan) -> list[Entry]:
    """The alarms that follow from readings, and not from when they arrive."""
    return [entry for entry in plan.catalogue.values() if not entry.by_wall_clock]


def _key(epoch: Epoch, grid_us: IntArray) -> tuple[int, int, int]:
    return epoch.from_us, int(grid_us[0]), int(grid_us[-1])
