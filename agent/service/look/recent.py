"""The last hours of each module's return superheat, read from the store in pieces and kept by the bin."""

from __future__ import annotations

from agent.assess import SECOND, load_quantity
from agent.outlets.web.trend import Bin, Point, Trend, binned, point
from agent.piping import RETURN
from agent.store import Store

HOURS = 6
BIN_US = 240 * SECOND
NUMBER = HOURS * 3600 * SECOND // BIN_US
WHOLE_US = 600 * SECOND  # so often all of it is read again: late readings change what was assessed
APART_US = 37 * SECOND  # between one module's turn and the next, so that they do not all come at once


class Recent:
    """What was read is kept, so that looking again reads only what is new. Of one thread at a time."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._bins: dict[int, dict[int, Bin]] = {}  # by module and number of the bin since 1970
        self._turns: dict[int, int] = {}  # by module: in which of its turns all was read

    def trend(self, module_id: int, now_us: int) -> Trend:
        """The last hours up to now."""
        last = now_us // BIN_US
        first = last - NUMBER + 1
        turn = (now_us + module_id * APART_US) // WHOLE_US
        kept = self._bins.get(module_id, {}) if self._turns.get(module_id) == turn else {}
        from_bin = max(first, max(kept, default=first))
        self._turns[module_id] = turn
        read = binned(self._points(module_id, from_bin * BIN_US, (last + 1) * BIN_US - 1), 0, BIN_US)
        bins = {number: each for number, each in kept.items() if first <= number < from_bin} | read
        self._bins[module_id] = bins
        return Trend(first * BIN_US, BIN_US, NUMBER, {number - first: each for number, each in bins.items()})

    def _points(self, module_id: int, from_us: int, to_us: int) -> list[Point]:
        return [
            point(each.grid_us, *load_quantity(RETURN, each.basis, each.figures))
            for each in self._store.assessments(module_id, from_us, to_us)
        ]
