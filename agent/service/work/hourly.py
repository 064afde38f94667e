"""What is known of a module by the hour: its baseline, and the alarms that take hours to tell.

A baseline counts from the start of a UTC day, and a day is assessed with what the hours before it have
taught: the same, however the work is cut.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple, Protocol

from agent.alarms import NOTHING_FOUND, WINDOW_HOURS, Detection, Finding, Past, active, judge
from agent.assess import Baseline, Hour, Module, hours_of, learn
from agent.assess.byhour.baseline import DAY_US, LEARNT_MODES, sought
from agent.assess.byhour.dryness import dry_history
from agent.assess.byhour.hours import HOUR_US
from agent.assess.frames import IntArray
from agent.assess.stretch import Stretch
from agent.readings import EVER_US
from agent.settings import Epoch, ModulePlan
from agent.store import HourRow, Hours, JournalEntry, ModuleService

MOST_BASELINES = 8  # remembered
REPLACED = "replaced"  # in the journal: another unit stands there


class HoursKept(Protocol):
    """Where the hours of modules are: a store, or the memory of a replay."""

    def module_service(self, module_id: int) -> ModuleService: ...

    def journal(self, module_id: int | None, from_us: int, to_us: int) -> list[JournalEntry]: ...

    def hours(self, module_id: int, from_us: int, to_us: int) -> list[str]: ...

    def first_settled_hours(
        self, module_id: int, mode: str, from_us: int, to_us: int, most: int
    ) -> list[str]: ...


def whole_hours(stretch: Stretch, step_us: int) -> Hours:
    """What a stretch brings to the store: the hours wholly in it, in place of all that begin in it."""
    rows = [HourRow(hour.from_us, hour.settled_mode, hour.dump()) for hour in hours_of(stretch, step_us)]
    return Hours(int(stretch.grid_us[0]) // HOUR_US * HOUR_US, int(stretch.grid_us[-1]), rows)


def first_grid(hour_us: int, step_us: int) -> int:
    """The first grid time of an hour."""
    return -(-hour_us // step_us) * step_us


def last_grid(hour_us: int, step_us: int) -> int:
    """The last grid time of an hour."""
    return (hour_us + HOUR_US - 1) // step_us * step_us


class Judged(NamedTuple):
    """The findings at the last grid time of an hour."""

    grid_us: int
    findings: Mapping[str, Finding]


class Hourly:
    """Reads a module's hours from where they are kept.

    Where a person has it learnt anew, days that began before keep what they were assessed with. Where another
    unit stands there, nothing of the one before is used from that moment on: ``units_us`` are these moments.
    """

    def __init__(self, store: HoursKept, plan: ModulePlan, module_id: int) -> None:
        self.store = store
        self.plan = plan
        self.module_id = module_id
        service = store.module_service(module_id)
        self.relearn_us = service.relearn_us
        self.replaced_us = service.replaced_us
        self.units_us = _units(store, module_id, service.replaced_us)
        self._baselines: dict[tuple[int, int, int], Baseline] = {}
        self._modules: dict[tuple[int, int, int], Module] = {}
        self._held: dict[str, Hour] = {}  # by their bodies: those that were last learnt from

    def baseline(self, epoch: Epoch, at_us: int) -> Baseline:
        """What the hours before the UTC day of a time have taught, of the unit that stood there then."""
        key = self._key(epoch, at_us)
        if key not in self._baselines:
            self._baselines[key] = self._learn(epoch, *key[1:])
        return self._baselines[key]

    def module(self, epoch: Epoch, at_us: int) -> Module:
        """The module as it is assessed at a time: with what its own dry hours have taught by then."""
        baseline = self.baseline(epoch, at_us)
        key = self._key(epoch, at_us)
        if key not in self._modules:
            self._modules[key] = self._of_baseline(epoch, baseline)
        return self._modules[key]

    def _of_baseline(self, epoch: Epoch, baseline: Baseline) -> Module:
        """Made once for what was learnt: the next days mostly bring nothing new."""
        if not baseline.from_us:
            return epoch.module
        learnt = _complete(baseline)
        for key, module in self._modules.items():
            if key[0] == epoch.from_us and _complete(self._baselines[key]) == learnt:
                return module
        return replace(epoch.module, dry=dry_history(epoch.module, baseline))

    def window(self, at_us: int) -> list[Hour]:
        """The hours that a time is judged by, of the unit that stood there then."""
        bodies = self.store.hours(self.module_id, at_us - WINDOW_HOURS * HOUR_US, at_us)
        return self._of_one_unit([Hour.load(body) for body in bodies], at_us)

    def forget(self, from_us: int) -> None:
        """Hours have changed from a time on."""
        kept = [key for key in self._baselines if key[1] <= from_us][-MOST_BASELINES:]
        self._baselines = {key: self._baselines[key] for key in kept}
        self._modules = {key: self._modules[key] for key in kept if key in self._modules}

    def past(self, at_us: int, step_us: int) -> Past | None:
        """What is known at a time, by the last hour that is over and was assessed; None: nothing."""
        over = [hour for hour in self.window(at_us) if last_grid(hour.from_us, step_us) <= at_us]
        return self._past(over) if over else None

    def standing(self, states: Mapping[str, Detection], at_us: int, step_us: int) -> Mapping[str, Finding]:
        """The newest findings, where an alarm judged by the hour stands; else nobody asks for them."""
        catalogue = self.plan.catalogue
        if not any(name in catalogue and catalogue[name].by_hour for name in active(states)):
            return NOTHING_FOUND
        past = self.past(at_us, step_us)
        return judge(past, catalogue) if past else NOTHING_FOUND

    def pasts(self, first_us: int, last_us: int, step_us: int) -> Iterator[Past]:
        """At the end of each hour whose last grid time lies in a stretch of time."""
        from_us = first_us // HOUR_US * HOUR_US
        if last_grid(from_us, step_us) > last_us:
            return
        bodies = self.store.hours(self.module_id, from_us - WINDOW_HOURS * HOUR_US, last_us)
        hours: list[Hour] = []  # of the window: all of a long stretch would be too many
        for hour in map(Hour.load, bodies):
            hours = [each for each in hours if each.from_us > hour.from_us - WINDOW_HOURS * HOUR_US] + [hour]
            if hour.from_us >= from_us and last_grid(hour.from_us, step_us) <= last_us:
                yield self._past(hours)

    def judged(self, first_us: int, last_us: int, step_us: int) -> Iterator[Judged]:
        """The findings of the alarms judged by the hour, at the end of each hour that `pasts` gives."""
        for past in self.pasts(first_us, last_us, step_us):
            yield Judged(last_grid(past.hours[-1].from_us, step_us), judge(past, self.plan.catalogue))

    def _past(self, hours: Sequence[Hour]) -> Past:
        epoch = epoch_at(self.plan, hours[-1].from_us)
        of_unit = self._of_one_unit(hours, hours[-1].from_us)
        same_piping = tuple(hour for hour in of_unit if hour.from_us >= epoch.from_us)
        baseline = self.baseline(epoch, hours[-1].from_us)
        return Past(epoch.module, baseline, same_piping, self.plan.library())

    def _of_one_unit(self, hours: Sequence[Hour], at_us: int) -> list[Hour]:
        since_us = self.unit_since(at_us)
        return [hour for hour in hours if hour.from_us >= since_us]

    def unit_since(self, at_us: int) -> int:
        """Since when the unit of a time stood there; the first one since ever."""
        return max((unit_us for unit_us in self.units_us if unit_us <= at_us), default=-EVER_US)

    def _key(self, epoch: Epoch, at_us: int) -> tuple[int, int, int]:
        return epoch.from_us, at_us // DAY_US * DAY_US, self.unit_since(at_us)

    def _learn(self, epoch: Epoch, day_us: int, unit_us: int) -> Baseline:
        since_us = self._learns_since(epoch, day_us, unit_us)
        days_us = (
            key[1]
            for key in self._baselines
            if key == (epoch.from_us, key[1], unit_us)
            and key[1] < day_us
            and self._learns_since(epoch, key[1], unit_us) == since_us
        )
        before_us = max(days_us, default=None)
        before = None if before_us is None else self._baselines[epoch.from_us, before_us, unit_us]
        needed = epoch.module.learning_hours
        bodies = [
            body
            for mode in LEARNT_MODES
            if before is None or mode not in before.from_us
            for body in self.store.first_settled_hours(
                self.module_id, mode, since_us, day_us - 1, sought(mode, needed)
            )
        ]
        self._held = {body: self._held.get(body) or Hour.load(body) for body in bodies}
        hours = sorted(self._held.values(), key=lambda hour: hour.from_us)
        return learn(hours, since_us, needed, day_us, before)

    def _learns_since(self, epoch: Epoch, day_us: int, unit_us: int) -> int:
        """From when on hours teach what counts on a day."""
        anew_us = self.relearn_us if self.relearn_us is not None and self.relearn_us <= day_us else None
        return max(epoch.from_us, anew_us or epoch.from_us, unit_us)


def _complete(baseline: Baseline) -> dict[str, tuple[Hour, ...]]:
    """What of it counts."""
    return {mode: baseline.of(mode) for mode in baseline.from_us}


def _units(store: HoursKept, module_id: int, replaced_us: int | None) -> tuple[int, ...]:
    """When a unit was replaced; the last time as it is kept of the module, those before from the journal."""
    if replaced_us is None:
        return ()
    before = {e.event_us for e in store.journal(module_id, 0, replaced_us) if e.transition == REPLACED}
    return tuple(sorted({*before, replaced_us}))


def epoch_at(plan: ModulePlan, at_us: int) -> Epoch:
    """The layout that holds at a time."""
    return next(epoch for epoch in reversed(plan.epochs) if epoch.from_us <= at_us or epoch is plan.epochs[0])


def piece_hours(step_us: int, most: int) -> int:
    """Of how many hours a piece of work is made, so that pieces begin with a day's parts."""
    return next((n for n in (24, 12, 8, 6, 4, 3, 2) if n * HOUR_US <= most * step_us), 1)


def cuts(grid_us: IntArray, hours: int) -> list[int]:
    """Where consecutive grid times are cut, into parts of so many hours of the day."""
    length = hours * HOUR_US
    number = grid_us // length
    return [int(i) + 1 for i in range(len(number) - 1) if number[i] != number[i + 1]]
