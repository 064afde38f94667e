"""What a replay reads and keeps in memory: readings in long spans, and its own hours."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping

import numpy as np

from agent.assess import Samples
from agent.assess.byhour.hours import HOUR_US
from agent.assess.frames import IntArray
from agent.readings import Moved
from agent.settings import Epoch
from agent.store import Hours, JournalEntry, ModuleService, Store, StoreError

SPAN_US = 8 * 24 * HOUR_US  # of readings at once; design choice, no source


class Readings:
    """A module's readings in SI, read in long spans and cut in memory.

    Raises StoreError where they are removed meanwhile, being too old to be kept.
    """

    def __init__(
        self, store: Store, ids: Mapping[str, int], moved: Moved, step_us: int, last_us: int
    ) -> None:
        self._store = store
        self._ids = ids  # of each stored name
        self._moved = moved
        self._step_us = step_us
        self._last_us = last_us
        self._span_us = (0, -1)
        self._epoch: Epoch | None = None
        self._held: dict[str, Samples] = {}

    def given(self, epoch: Epoch, grid_us: IntArray) -> dict[str, Samples]:
        """All that an assessment of these grid times rests on."""
        from_us = int(grid_us[0]) - epoch.module.lookback_us - self._step_us
        to_us = int(grid_us[-1])
        begin_us, end_us = self._span_us
        if epoch is not self._epoch or not begin_us <= from_us <= end_us:
            self._epoch, self._span_us, self._held = epoch, (from_us, from_us - 1), {}
        if to_us > self._span_us[1]:
            self._read_on(epoch, from_us, max(to_us, min(from_us + SPAN_US, self._last_us)))
        return {name: _cut(samples, from_us, to_us) for name, samples in self._held.items()}

    def _read_on(self, epoch: Epoch, from_us: int, to_us: int) -> None:
        """Read what is not held yet, and let go of what lies before."""
        held_to_us = self._span_us[1]
        ids = {name: self._ids[stored] for name, stored in epoch.stored_as.items()}
        found = self._store.readings(ids.values(), held_to_us + 1, to_us, self._moved)
        if (self._store.kept_from_us() or from_us) > from_us:
            raise StoreError("readings of that time were removed while it was gone over: try again")
        for name, i in ids.items():
            read = epoch.conversions[name].samples(*found[i])
            if name in self._held:
                before = _cut(self._held[name], from_us, held_to_us)
                read = Samples(*(np.concatenate(both) for both in zip(before, read, strict=True)))
            self._held[name] = read
        self._span_us = (from_us, to_us)


def _cut(samples: Samples, from_us: int, to_us: int) -> Samples:
    begin, end = np.searchsorted(samples.time_us, [from_us, to_us + 1])
    return Samples(samples.time_us[begin:end], samples.value[begin:end])


class RememberedHours:
    """The hours of one replayed module: those before a time as the store has them, from then on its own."""

    def __init__(self, store: Store, module_id: int, own_from_us: int, *, with_past: bool) -> None:
        self._store = store
        self._module_id = module_id
        self._own_from_us = own_from_us
        self._with_past = with_past
        self._bodies: dict[int, str] = {}
        self._begin: list[int] = []  # ascending
        self._settled: dict[str, list[int]] = {}

    def put(self, hours: Hours) -> None:
        """Put hours in place of all that is held of their stretch of time."""
        for at_us in self._between(self._begin, hours.from_us, hours.to_us):
            del self._bodies[at_us]
            self._begin.remove(at_us)
            for settled in self._settled.values():
                if at_us in settled:
                    settled.remove(at_us)
        for row in hours.rows:
            self._bodies[row.from_us] = row.body
            insort(self._begin, row.from_us)
            if row.settled is not None:
                insort(self._settled.setdefault(row.settled, []), row.from_us)

    def module_service(self, module_id: int) -> ModuleService:
        return self._store.module_service(module_id)

    def journal(self, module_id: int | None, from_us: int, to_us: int) -> list[JournalEntry]:
        return self._store.journal(module_id, from_us, to_us)

    def hours(self, module_id: int, from_us: int, to_us: int) -> list[str]:
        before = self._past_until(to_us)
        kept = self._store.hours(module_id, from_us, before) if self._with_past and from_us <= before else []
        return kept + [self._bodies[at_us] for at_us in self._between(self._begin, from_us, to_us)]

    def first_settled_hours(
        self, module_id: int, mode: str, from_us: int, to_us: int, most: int
    ) -> list[str]:
        before = self._past_until(to_us)
        kept: list[str] = []
        if self._with_past and from_us <= before:
            kept = self._store.first_settled_hours(module_id, mode, from_us, before, most)
        own = self._between(self._settled.get(mode, []), from_us, to_us)
        return (kept + [self._bodies[at_us] for at_us in own[: most - len(kept)]])[:most]

    def _past_until(self, to_us: int) -> int:
        """The last moment up to ``to_us`` at which an hour of the store can begin."""
        return min(to_us, self._own_from_us - 1)

    @staticmethod
    def _between(begin: list[int], from_us: int, to_us: int) -> list[int]:
        return begin[bisect_left(begin, from_us) : bisect_left(begin, to_us + 1)]
