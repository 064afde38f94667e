"""How long readings are kept as received, and what can still be assessed from those that are."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Mapping

from agent.assess import SECOND
from agent.assess.byhour.baseline import DAY_US
from agent.assess.byhour.hours import HOUR_US
from agent.outlets.shown import Display
from agent.service.work.watched import Watched
from agent.settings import Conversion, ModulePlan, Plan
from agent.settings.model import LONGEST_STEP_S
from agent.store import QUARTER_US, Store, StoreError

ROWS = 1000  # removed in one transaction: intake waits for one at most
STEPS = 20  # in one turn
PAUSE_S = 0.02  # after each, for whoever waits to write

_log = logging.getLogger(__name__)

_OF_NOBODY = Conversion(None)  # of a signal that the configuration has no more


class Keeping:
    """Has readings summed up and removed once they are older than the configuration says, if it does."""

    def __init__(
        self,
        store: Store,
        plan: Plan,
        watched: Iterable[Watched],
        clock: Callable[[], int],
        count_failed: Callable[[str], object],
    ) -> None:
        modules = list(watched)
        self._store = store
        self._days = plan.settings.store.keep_readings_days
        self._clock = clock
        self._count_failed = count_failed
        self._failing = ""  # why, as it was told last; empty: it is not
        self.kept_from_us: int | None = None  # since when all is kept as received; None: there is nothing
        self._conversions = {
            signal_id: found
            for each in modules
            for signal_id, found in conversions(each.plan, each.signal_ids).items()
        }
        self._reach_us = {each.module_id: reach_us(each.plan) for each in modules}

    def turn(self, stopping: threading.Event) -> int:
        """Some steps, if there is anything to remove; how many readings, conflicts and refusals that were.

        Where the store cannot be written, it waits for the next turn: told once, and counted each time.
        """
        removed = 0
        try:
            before_us = self._before_us()
            if before_us is not None:
                removed = self._remove(before_us, stopping)
            ends_us = self._store.reading_ends_us()
            self.kept_from_us = ends_us and max(ends_us[0], self._store.kept_from_us() or ends_us[0])
            self._tell("")
        except StoreError as error:
            self._count_failed("keeping")
            self._tell(str(error))
        return removed

    def _tell(self, failing: str) -> None:
        if failing and failing != self._failing:
            _log.error("old readings wait to be summed up and removed: %s", failing)
        elif self._failing and not failing:
            _log.info("old readings are summed up and removed again")
        self._failing = failing

    def _before_us(self) -> int | None:
        """Up to when readings are removed; None: there are none to remove.

        Days count back from the newest reading: of a site whose gateway is silent nothing is removed. Nor is
        it where the older half of these days is empty: a clock may have jumped ahead, and would take all.
        """
        ends_us = self._store.reading_ends_us()
        if self._days is None or ends_us is None:
            return None
        days_us = self._days * DAY_US
        before_us = (min(ends_us[1], self._clock()) - days_us) // QUARTER_US * QUARTER_US
        next_us = self._store.reading_ends_us(before_us)
        if ends_us[0] >= before_us or next_us is None or next_us[0] > before_us + days_us // 2:
            return None
        return before_us

    def _remove(self, before_us: int, stopping: threading.Event) -> int:
        removed = 0
        for _ in range(STEPS):
            step = self._store.thin(before_us, ROWS, self._numbered, self._reach_us)
            removed += step
            if step < ROWS or stopping.wait(PAUSE_S):
                break
        return removed

    def _numbered(
        self, signal_id: int, value: float | int | str, unit: str | None
    ) -> tuple[float, str | None] | None:
        return self._conversions.get(signal_id, _OF_NOBODY).number_of(value, unit)


def conversions(module: ModulePlan, ids: Mapping[str, int]) -> dict[int, Conversion]:
    """How the values of a module's signals are read, by id; of several layouts the newest that has it."""
    return {
        ids[stored]: epoch.conversions[name]
        for epoch in module.epochs
        for name, stored in epoch.stored_as.items()
        if stored in ids
    }


def reach_us(module: ModulePlan) -> int:
    """How far ahead of a time its assessing anew may read: what its whole hour rests on."""
    return module.lookback_us + LONGEST_STEP_S * SECOND + HOUR_US


def assessable_from_us(store: Store, module: ModulePlan) -> int | None:
    """The first whole hour that can be assessed anew: all that it rests on is kept. None: every one.

    What was assessed before stays as it is: assessed anew, it would be missing.
    """
    return assessable_of_kept_us(store.kept_from_us(), module)


def assessable_of_kept_us(kept_us: int | None, module: ModulePlan) -> int | None:
    """The same, by since when the store has every reading; for many modules it is asked once."""
    return None if kept_us is None else (kept_us + reach_us(module) - 1) // HOUR_US * HOUR_US


def no_longer_kept(from_us: int, display: Display) -> str:
    """A sentence for people, of what is assessed anew."""
    return f"What its readings say can be told since {display.when(from_us)}: older ones are no longer kept."
