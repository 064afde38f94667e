"""When an alarm is active: its conditions through the delays, in event time.

A pure fold. A delay counts the time for which its condition holds; what is neither, or not known, halts the
count without adding to it, and when that outlasts the delay the count starts anew. Only the moments at which
the state changes are kept, so that any moment can be taken up again from the one before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from agent.alarms.condition import CONDITIONS, Condition
from agent.alarms.entry import Limits
from agent.assess.frames import IntArray

# What raises an alarm, the weaker first.
LEVELS = (Condition.POSSIBLE, Condition.BEYOND, Condition.BEYOND_DOUBT)


class Detection(NamedTuple):
    """An alarm's state at a time; the times are event times in µs."""

    active: bool = False
    level: str | None = None  # of LEVELS: the strongest evidence since it became active
    since_us: int | None = None  # when the condition began
    beyond_us: int | None = None  # not active: from when the on-delay counts
    clear_us: int | None = None  # active: from when the off-delay counts
    halted_us: int | None = None  # the count has halted since; of an active alarm: nothing can be told


class ChangePoint(NamedTuple):
    """From this grid time on the alarm is in this state."""

    grid_us: int
    state: Detection


class Occurrence(NamedTuple):
    """An alarm from the time its condition began to the time it was found clear (None: stands)."""

    since_us: int
    raised_us: int
    cleared_us: int | None


def detect(
    start: Detection, grid_us: IntArray, codes: IntArray, limits: Limits, step_us: int
) -> list[ChangePoint]:
    """Carry an alarm's state through ascending grid times; in a hole between them nothing is known.

    ``start``: the state before the first. ``codes``: indices into CONDITIONS. Returns the changes, ascending.
    """
    points: list[ChangePoint] = []
    state = start
    for condition, times in _runs(grid_us, codes, step_us):
        for change in _through(state, condition, times, limits):
            if change.state != state:
                if points and points[-1].grid_us == change.grid_us:
                    points.pop()  # a delay that ran out within a halt: one change at a time
                points.append(change)
                state = change.state
    return points


def occurrences(start: Detection, points: Iterable[ChangePoint]) -> list[Occurrence]:
    """The alarm's occurrences that touch the time after ``start``, the last perhaps standing."""
    found: list[Occurrence] = []
    state = start
    standing = Occurrence(start.since_us, start.since_us, None) if start.active and start.since_us else None
    for grid_us, following in points:
        if following.active and not state.active and following.since_us is not None:
            standing = Occurrence(following.since_us, grid_us, None)
        elif state.active and not following.active and standing:
            found.append(standing._replace(cleared_us=grid_us))
            standing = None
        state = following
    return [*found, standing] if standing else found


def _runs(grid_us: IntArray, codes: IntArray, step_us: int) -> Iterator[tuple[Condition, IntArray]]:
    """Stretches of one condition, and the holes between grid times as stretches of which nothing is known."""
    if len(grid_us) < 2:
        yield from ((CONDITIONS[int(code)], grid_us) for code in codes)
        return
    borders = np.flatnonzero((np.diff(codes) != 0) | (np.diff(grid_us) > step_us)) + 1
    expected = int(grid_us[0])
    for times, same in zip(np.split(grid_us, borders), np.split(codes, borders), strict=True):
        if times[0] > expected:
            yield Condition.UNKNOWN, np.array([expected])
        yield CONDITIONS[int(same[0])], times
        expected = int(times[-1]) + step_us


def _through(
    state: Detection, condition: Condition, times: IntArray, limits: Limits
) -> Iterator[ChangePoint]:
    """The states that a run of one condition leads to."""
    first = int(times[0])
    if condition is Condition.UNKNOWN or (condition is Condition.INSIDE and not state.active):
        counting = state.active or state.beyond_us is not None
        halted = state._replace(halted_us=state.halted_us or first)
        yield ChangePoint(first, halted if counting else Detection())
        return
    halt_us = first - state.halted_us if state.halted_us is not None else 0
    state = state._replace(halted_us=None)
    if condition in LEVELS:
        yield from _beyond(state, condition, times, halt_us, limits)
    elif condition is Condition.INSIDE:
        yield ChangePoint(first, state._replace(clear_us=None))
    elif not state.active:
        yield ChangePoint(first, Detection())
    else:
        off_us = int(limits.off_delay_s * 1e6)
        fresh = state.clear_us is None or halt_us > off_us
        began = first if state.clear_us is None or fresh else state.clear_us + halt_us
        yield ChangePoint(first, state._replace(clear_us=began))
        due = times[times >= began + off_us]
        if len(due):
            yield ChangePoint(int(due[0]), Detection())


def _beyond(
    state: Detection, condition: Condition, times: IntArray, halt_us: int, limits: Limits
) -> Iterator[ChangePoint]:
    first = int(times[0])
    if state.active:
        level = max((state.level, condition), key=lambda level: LEVELS.index(Condition(level or condition)))
        yield ChangePoint(first, state._replace(level=level, clear_us=None))
        return
    urgent_s = limits.urgent_on_delay_s if condition is Condition.BEYOND_DOUBT else None
    on_us = int((limits.on_delay_s if urgent_s is None else urgent_s) * 1e6)
    since_us, began = state.since_us, state.beyond_us
    if since_us is None or began is None or halt_us > on_us:
        since_us = began = first
    else:
        began += halt_us
    yield ChangePoint(first, Detection(since_us=since_us, beyond_us=began))
    due = times[times >= began + on_us]
    if len(due):
        yield ChangePoint(int(due[0]), Detection(active=True, level=condition, since_us=since_us))
