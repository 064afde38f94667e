"""Alarms gone over once more: from the conditions of grid times and hours to states and journal lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import orjson

from agent.alarms import (
    CODE,
    ChangePoint,
    Condition,
    Detection,
    Entry,
    Line,
    detect,
    next_announced,
    occurrences,
    reconcile,
)
from agent.assess.byhour.hours import HOUR_US
from agent.assess.frames import IntArray
from agent.readings import EVER_US
from agent.service.work.hourly import Judged
from agent.store import DetectionChange, Store


@dataclass(frozen=True)
class Before:
    """What was detected of a module when it was gone over the last time."""

    states: Mapping[str, Detection]  # just before the time from which it is gone over
    changes: Sequence[DetectionChange]  # from then on

    @classmethod
    def read(cls, store: Store, module_id: int, revision_id: int, from_us: int) -> Before:
        states = read_states(store.detection_states(module_id, revision_id, from_us))
        return cls(states, store.detections(module_id, revision_id, from_us, EVER_US))


@dataclass(frozen=True)
class Detected:
    """One alarm gone over once more: its state at the live edge, its changes, its journal lines."""

    entry: Entry
    state: Detection
    changes: list[DetectionChange]
    lines: list[Line]
    ended_us: Mapping[int, int]  # of occurrences that are over, by when their condition began

    def remember(self, announced_us: dict[str, int]) -> None:
        """Note since when the alarm holds that is raised now, if one is."""
        for line in self.lines:
            since_us = next_announced(announced_us.pop(self.entry.name, None), line)
            if since_us is not None:
                announced_us[self.entry.name] = since_us


class History:
    """Conditions of every alarm over grid times and hours, gathered in any order."""

    def __init__(self) -> None:
        self._times: dict[str, list[IntArray]] = {}
        self._codes: dict[str, list[IntArray]] = {}

    def add(self, grid_us: IntArray, codes: Mapping[str, IntArray]) -> None:
        for name, found in codes.items():
            self._times.setdefault(name, []).append(grid_us)
            self._codes.setdefault(name, []).append(found)

    def add_one(self, at_us: int, conditions: Mapping[str, Condition]) -> None:
        self.add(np.array([at_us]), {name: np.array([CODE[found]]) for name, found in conditions.items()})

    def add_judged(self, judged: Iterable[Judged]) -> None:
        for at_us, findings in judged:
            self.add_one(at_us, {name: found.condition for name, found in findings.items()})

    def of(self, name: str) -> tuple[IntArray, IntArray]:
        """An alarm's times, ascending, and the codes of its conditions."""
        if name not in self._times:
            return np.empty(0, np.int64), np.empty(0, np.int64)
        if len(self._times[name]) == 1:
            return self._times[name][0], self._codes[name][0]
        times, codes = np.concatenate(self._times[name]), np.concatenate(self._codes[name])
        order = np.argsort(times)
        return times[order], codes[order]


def detect_again(
    entry: Entry,
    before: Before,
    history: History,
    step_us: int,
    *,
    announced_us: int | None,
    corrected_from_us: int | None,
) -> Detected:
    """One alarm over a history that reaches to the live edge; the last two as for `reconcile`."""
    name = entry.name
    start = before.states.get(name, Detection())
    _, codes = history.of(name)
    points = gone_over(entry, start, history, step_us)
    was = [
        ChangePoint(change.grid_us, _read_state(change.state))
        for change in before.changes
        if change.alarm == name
    ]
    found = occurrences(start, points)
    lines = reconcile(
        occurrences(start, was),
        found,
        announced_us=announced_us,
        decided_now=bool(len(codes) and codes[-1] != CODE[Condition.UNKNOWN]),
        corrected_from_us=corrected_from_us,
    )
    changes = [
        DetectionChange(name, at_us, orjson.dumps(state._asdict()).decode()) for at_us, state in points
    ]
    ended_us = {each.since_us: each.cleared_us for each in found if each.cleared_us is not None}
    return Detected(entry, points[-1].state if points else start, changes, lines, ended_us)


def gone_over(entry: Entry, start: Detection, history: History, step_us: int) -> list[ChangePoint]:
    """The changes of an alarm's state over a history."""
    grid_us, codes = history.of(entry.name)
    return detect(start, grid_us, codes, entry.limits, step_us + (HOUR_US if entry.by_hour else 0))


def read_states(kept: Mapping[str, str]) -> dict[str, Detection]:
    """Detection states by alarm, from the form they are kept in."""
    return {alarm: _read_state(text) for alarm, text in kept.items()}


def _read_state(text: str) -> Detection:
    return Detection(**orjson.loads(text))
