"""A module's past gone over again, as if another configuration had held: in memory, and read-only.

The evaluation is the one that the running agent uses. What a replay rests on from before its span depends:
where nothing changes that makes figures, it takes up what is recorded; else it begins with nothing.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, takewhile

import numpy as np

from agent.alarms import (
    CODE,
    LEVELS,
    ChangePoint,
    Condition,
    Detection,
    Occurrence,
    conditions,
    occurrences,
)
from agent.alarms.catalogue import SUPERHEAT_HIGH, SUPERHEAT_LOW
from agent.assess import SECOND, SUBCOOLING, SWING
from agent.assess.byhour.hours import HOUR_US
from agent.assess.compared import Course, Gathering
from agent.assess.frames import BoolArray, IntArray
from agent.outlets.shown import SI
from agent.piping import RETURN, RISE
from agent.readings import Moved
from agent.service.replay.remembering import Readings, RememberedHours
from agent.service.work.detecting import Before, History, gone_over, read_states
from agent.service.work.evaluating import Evaluation, Piece, by_readings
from agent.service.work.hourly import Hourly
from agent.service.work.keeping import assessable_from_us
from agent.service.work.to_do import PIECE
from agent.settings import Epoch, ModulePlan, Plan, correction, moved
from agent.store import Store

SUPERHEAT_ALARMS = (SUPERHEAT_LOW.name, SUPERHEAT_HIGH.name)
QUANTITIES = (RETURN, RISE, SWING, SUBCOOLING)
TOGETHER = 8  # pieces as live at once, where nothing is learnt meanwhile: half the time; design choice

Progress = Callable[[float], None]  # takes the share that is done
_BEYOND = np.array([CODE[level] for level in LEVELS])


class NothingToReplayError(LookupError):
    """There is nothing to go over; the sentence says what is missing."""


@dataclass(frozen=True)
class Replayed:
    """What a span comes to; of each alarm the occurrences that touch it."""

    from_us: int
    to_us: int  # both grid times
    course: Course
    occurrences: Mapping[str, list[Occurrence]]
    now: Mapping[str, list[Occurrence]]  # under the limits as they are; only where others are tried
    takes_up: bool  # what is recorded from before the span


class Replay:
    """One module over a span of time under a plan.

    ``begins_later``: than was asked for and recorded, as older readings are no longer kept.
    """

    def __init__(self, store: Store, plan: Plan, module: ModulePlan, since_us: int, until_us: int) -> None:
        """Raises NothingToReplayError."""
        self.store = store
        self.module = module
        self.step_us = plan.settings.assess.step_s * SECOND
        known_id = store.module_ids().get(module.path)
        revision = None if known_id is None else store.current_revision(known_id)
        if known_id is None or revision is None:
            raise NothingToReplayError(f"no agent has worked on {module.path} yet: nothing is recorded of it")
        self.module_id, self.revision = known_id, revision
        self.ids, self.moved = _signals(store, plan, module)
        self.from_us, self.to_us = self._span(since_us, until_us)
        changed = correction(revision.body, module.revision).from_us
        self.takes_up = changed is None or changed >= self.from_us
        own_from_us = self.from_us // HOUR_US * HOUR_US
        kept = RememberedHours(store, self.module_id, own_from_us, with_past=self.takes_up)
        self._hours = kept
        self.hourly = Hourly(kept, module, self.module_id)
        known_us = store.first_assessed(self.module_id) if self.takes_up else None
        readings = Readings(store, self.ids, self.moved, self.step_us, self.to_us)
        begins_us = self.from_us if known_us is None else min(known_us, self.from_us)
        self.evaluation = Evaluation(
            module, self.step_us, self.hourly, readings.given, (begins_us, self.to_us)
        )

    def pieces(self) -> Iterator[Piece]:
        """The span piece by piece, to be gone through once.

        Days are taken together where the one before taught nothing new. Where one of them does after all,
        those after it are left for later: they rest on it.
        """
        days = deque(self.evaluation.pieces([(self.from_us, self.to_us)], PIECE))
        known, most = None, 1
        while days:
            epoch, first = days[0]
            module = self.hourly.module(epoch, int(first[0]))
            most = min(2 * most, TOGETHER) if module is known else 1
            together = self._alike(days, most)
            piece = self._remembered(epoch, together)
            same = [self.hourly.module(epoch, int(day[0])) is module for day in together]
            if not all(same):
                together = together[: same.index(False)]
                piece = self._remembered(epoch, together)
            known = module
            for _ in together:
                days.popleft()
            yield piece

    def _alike(self, days: Iterable[tuple[Epoch, IntArray]], most: int) -> list[IntArray]:
        """The first days, at most so many, under one layout and of one unit."""
        found = [(epoch, self.hourly.unit_since(int(day[0])), day) for epoch, day in islice(days, most)]
        return [day for epoch, unit_us, day in takewhile(lambda each: each[:2] == found[0][:2], found)]

    def _remembered(self, epoch: Epoch, days: Sequence[IntArray]) -> Piece:
        """Assess consecutive days at once, and keep their hours."""
        piece = self.evaluation.piece(epoch, np.concatenate(days))
        for hours in piece.hours:
            self._hours.put(hours)
        self.hourly.forget(min(hours.from_us for hours in piece.hours))
        return piece

    def run(self, before: ModulePlan | None = None, progress: Progress = lambda _: None) -> Replayed:
        """Go through the span. ``before``: the plan whose limits the alarms are held against besides."""
        gathering = Gathering(QUANTITIES, SUPERHEAT_ALARMS)
        history, other = self._begun(self.module), self._begun(before) if before else None
        for piece in self.pieces():
            grid_us = piece.stretch.grid_us
            history.add(grid_us, {name: codes.astype(np.int8) for name, codes in piece.codes.items()})
            if before and other:
                codes = conditions(piece.stretch, before.catalogue, before.configured_probe)
                other.add(grid_us, {name: each.astype(np.int8) for name, each in codes.items()})
            gathering.add_stretch(
                piece.stretch, {name: _beyond(piece.codes[name]) for name in SUPERHEAT_ALARMS}
            )
            progress((int(grid_us[-1]) - self.from_us) / max(self.to_us - self.from_us, 1))
        return Replayed(
            self.from_us,
            self.to_us,
            gathering.course(),
            self._occurrences(self.module, history, self.hourly),
            self._occurrences(before, other, self._beside(before)) if before and other else {},
            self.takes_up,
        )

    def _span(self, since_us: int, until_us: int) -> tuple[int, int]:
        """First and last grid time, as far as there are readings and the running agent has come."""
        path, step_us = self.module.path, self.step_us
        begins_us = self.store.first_sample_us([*self.ids.values()], self.moved)
        if begins_us is None:
            raise NothingToReplayError(f"the store has no reading of {path}'s signals")
        assessed_us = self.store.first_assessed(self.module_id)
        begins_us = min(begins_us, begins_us if assessed_us is None else assessed_us)
        progress_us = self.store.progress(self.module_id)
        last_us = min(until_us, until_us if progress_us is None else progress_us) // step_us * step_us
        kept_us = assessable_from_us(self.store, self.module)
        self.begins_later = kept_us is not None and max(since_us, begins_us) < kept_us
        first_us = -(-max(since_us, begins_us, kept_us or begins_us) // step_us) * step_us
        if first_us > last_us:
            if kept_us is not None and self.begins_later:
                raise NothingToReplayError(
                    f"{path} can be replayed from {SI.when(kept_us)} on: older readings are no longer kept"
                )
            raise NothingToReplayError(f"the store has nothing of {path} in that time")
        return first_us, last_us

    def _beside(self, before: ModulePlan) -> Hourly:
        """The same hours, judged under other limits."""
        return Hourly(self._hours, before, self.module_id)

    def _begun(self, plan: ModulePlan) -> History:
        """A history that knows where there is a hole ahead of the span."""
        history = History()
        before_us = self.store.assessed_before(self.module_id, self.from_us) if self.takes_up else None
        if before_us is not None and before_us + self.step_us < self.from_us:
            history.add_one(before_us + self.step_us, dict.fromkeys(plan.catalogue, Condition.UNKNOWN))
        return history

    def _occurrences(self, plan: ModulePlan, history: History, hourly: Hourly) -> dict[str, list[Occurrence]]:
        history.add_judged(hourly.judged(self.from_us, self.to_us, self.step_us))
        states: Mapping[str, Detection] = {}
        if self.takes_up:
            kept = self.store.detection_states(self.module_id, self.revision.id, self.from_us)
            states = read_states(kept)
        found = {}
        for entry in by_readings(plan):
            start = states.get(entry.name, Detection())
            found[entry.name] = occurrences(start, gone_over(entry, start, history, self.step_us))
        return found


def recorded_occurrences(store: Store, replay: Replay) -> dict[str, list[Occurrence]]:
    """What was detected in the replay's span, by alarm, as the store has it under the current revision."""
    before = Before.read(store, replay.module_id, replay.revision.id, replay.from_us)
    found = {}
    for name in {entry.name for entry in by_readings(replay.module)}:
        was = [
            ChangePoint(each.grid_us, read_states({name: each.state})[name])
            for each in before.changes
            if each.alarm == name and each.grid_us <= replay.to_us
        ]
        found[name] = occurrences(before.states.get(name, Detection()), was)
    return found


def _signals(store: Store, plan: Plan, module: ModulePlan) -> tuple[dict[str, int], Moved]:
    """Ids of the module's stored names; one that the store has not met yet has one of its own, below zero."""
    known = store.signals()
    keys = {name: (str(module.owners[name]), name) for name in module.stored_signals}
    new = {key: -number for number, key in enumerate(keys.values(), 1) if key not in known}
    every = known | new
    return {name: every[key] for name, key in keys.items()}, moved(store.mappings(), plan.mapping, every)


def _beyond(codes: IntArray) -> BoolArray:
    found: BoolArray = np.isin(codes, _BEYOND)
    return found
