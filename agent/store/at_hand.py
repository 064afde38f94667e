"""The newest readings in memory, by signal: what a live step looks back on, without the table.

The table is laid out by time, so that a module's last hours cost as much as everybody's. Here they cost their
own. Numbers take 17 bytes a reading: time, value, and whether it came as a whole number; what a column
cannot hold so is held as it came.
"""

from __future__ import annotations

import threading
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable

import numpy as np

from agent.readings import EVER_US, Moved, Reading
from agent.store.records import Series

EXACT = 2**53  # whole numbers up to here are the same as floating point
SLACK = 8  # a column is cut when it reaches back further than the span by its eighth

Value = float | int | str


class AtHand:
    """Readings of the last ``span_us`` before the newest one, of every signal. Shared by threads.

    A reading that is ahead of its time moves all of it ahead; what then lies before is the table's.
    """

    def __init__(self, span_us: int, complete_from_us: int = -EVER_US) -> None:
        """``complete_from_us``: what is older may lie in the table and was not given."""
        self.span_us = span_us
        self._complete_from_us = complete_from_us
        self._newest_us = -EVER_US
        self._columns: dict[int, _Column] = {}
        self._mappings: dict[int, int] = {}  # the newest sample time that came in under each
        self._lock = threading.Lock()

    def add(self, batch: Iterable[Reading]) -> None:
        """What the table holds from now on; of two for one time the first stays, as there."""
        with self._lock:
            for sample_us, signal_id, value, unit, _, mapping_id in batch:
                self._newest_us = max(self._newest_us, sample_us)
                oldest_us = self._newest_us - self.span_us
                if sample_us < oldest_us:
                    self._complete_from_us = max(self._complete_from_us, oldest_us)
                    continue
                if sample_us > self._mappings.get(mapping_id, -EVER_US):
                    self._mappings[mapping_id] = sample_us
                column = self._columns.get(signal_id)
                if column is None:
                    column = self._columns[signal_id] = _Column(unit)
                column.add(sample_us, value, unit)
                if column.times[0] < oldest_us - self.span_us // SLACK:
                    column.forget_before(oldest_us)
                    self._complete_from_us = max(self._complete_from_us, oldest_us)

    def series(
        self, signal_ids: Collection[int], from_us: int, to_us: int, moved: Moved
    ) -> dict[int, Series] | None:
        """As the table gives them; None: not all of it is at hand."""
        with self._lock:
            if from_us < self._complete_from_us or self._are_moved(signal_ids, from_us, moved):
                return None
            return {each: self._series(each, from_us, to_us) for each in signal_ids}

    def _series(self, signal_id: int, from_us: int, to_us: int) -> Series:
        column = self._columns.get(signal_id)
        return Series(np.empty(0, np.int64), [], []) if column is None else column.series(from_us, to_us)

    def _are_moved(self, signal_ids: Collection[int], from_us: int, moved: Moved) -> bool:
        """Whether any of them came in, or another's reading counts as its own, under an older mapping."""
        wanted = set(signal_ids)
        return any(
            self._mappings.get(mapping_id, -EVER_US) >= from_us
            and not wanted.isdisjoint((*changes, *changes.values()))
            for mapping_id, changes in moved.items()
        )


class _Column:
    """One signal's readings in ascending sample time."""

    def __init__(self, unit: str | None) -> None:
        self.times = array("q")
        self.values: array[float] | list[Value] = array("d")  # numbers, as long as nothing else comes
        self.whole = bytearray()  # of those: 1 where it came without a point
        self.unit = unit
        self.units: list[str | None] | None = None  # where they are not all one

    def add(self, sample_us: int, value: Value, unit: str | None) -> None:
        times = self.times
        at = len(times)
        if times and sample_us <= times[-1]:
            at = bisect_left(times, sample_us)
            if times[at] == sample_us:
                return
        if isinstance(value, bool):
            value = int(value)  # as the table does
        if isinstance(self.values, array) and not _is_number(value):
            self.values = self._as_they_came(slice(None))
        if self.units is None and unit != self.unit:
            self.units = [self.unit] * len(times)
        times.insert(at, sample_us)
        self.whole.insert(at, isinstance(value, int))
        self.values.insert(at, value)  # type: ignore[arg-type]  # a column of numbers only gets numbers
        if self.units is not None:
            self.units.insert(at, unit)

    def forget_before(self, time_us: int) -> None:
        first = bisect_left(self.times, time_us)
        del self.times[:first], self.values[:first], self.whole[:first]
        if self.units is not None:
            del self.units[:first]

    def series(self, from_us: int, to_us: int) -> Series:
        here = slice(bisect_left(self.times, from_us), bisect_right(self.times, to_us))
        times = np.array(self.times[here], np.int64)
        units = [self.unit] * len(times) if self.units is None else self.units[here]
        return Series(times, self._as_they_came(here), units)

    def _as_they_came(self, here: slice) -> list[Value]:
        values, whole = self.values[here], self.whole[here]
        if isinstance(values, list) or not any(whole):
            return list(values)
        return [int(value) if is_whole else value for value, is_whole in zip(values, whole, strict=True)]


def _is_number(value: Value) -> bool:
    return isinstance(value, float) or (isinstance(value, int) and abs(value) <= EXACT)
