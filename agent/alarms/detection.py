"""When an alarm is active: its conditions through the delays, in event time.

A pure fold. A gap neither raises nor clears; one longer than a delay starts that delay anew. Only the
moments at which the state changes are kept, so that any moment can be taken up again from the one before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from agent.alarms.catalogue import Limits
from agent.alarms.conditions import CONDITIONS, Condition
from agent.assess.frames import IntArray

_BEYOND = (Condition.BEYOND, Condition.BEYOND_DOUBT)


class Detection(NamedTuple):
    """An alarm's state at a time; the times are event times in µs."""

    active: bool = False
    without_doubt: bool = False
    since_us: int | None = None  # the condition of an active alarm has held since
    beyond_us: int | None = None  # not active: start of the stretch beyond the limit
    clear_us: int | None = None  # active: start of the stretch inside the limit
    unknown_us: int | None = None  # start of the gap that goes on


class ChangePoint(NamedTuple):
    """From this grid time on the alarm is in this state."""

    grid_us: int
    state: Detection


class Occurrence(NamedTuple):
    """An alarm from the time its condition began to the time it was found clear (None: stands)."""

    since_us: int
    raised_us: int
    cleared_us: int | None


def detect(start: Detection, grid_us: IntArray, codes: IntArray, limits: Limits) -> list[ChangePoint]:
    """Carry an alarm's state through consecutive grid times.

    ``start``: the state before the first. ``codes``: indices into CONDITIONS. Returns the changes, ascending.
    """
    on_us, off_us = int(limits.on_delay_s * 1e6), int(limits.off_delay_s * 1e6)
    points: list[ChangePoint] = []
    state = start
    for condition, times in _runs(grid_us, codes):
        for change in _through(state, condition, times, on_us, off_us):
            if change.state != state:
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


def _runs(grid_us: IntArray, codes: IntArray) -> Iterator[tuple[Condition, IntArray]]:
    if len(grid_us):
        borders = np.flatnonzero(np.diff(codes)) + 1
        for times, same in zip(np.split(grid_us, borders), np.split(codes, borders), strict=True):
            yield CONDITIONS[int(same[0])], times


def _through(
    state: Detection, condition: Condition, times: IntArray, on_us: int, off_us: int
) -> Iterator[ChangePoint]:
    """The states that a run of one condition leads to."""
    first = int(times[0])
    gap_us = first - state.unknown_us if state.unknown_us is not None else 0
    if condition is Condition.UNKNOWN:
        yield ChangePoint(first, state._replace(unknown_us=state.unknown_us or first))
        return
    state = state._replace(unknown_us=None)
    if condition in _BEYOND:
        sure = condition is Condition.BEYOND_DOUBT
        if state.active:
            yield ChangePoint(first, state._replace(without_doubt=sure, clear_us=None))
            return
        began = first if state.beyond_us is None or gap_us > on_us else state.beyond_us
        yield ChangePoint(first, Detection(beyond_us=began))
        due = times[times >= began + on_us]
        if len(due):
            yield ChangePoint(int(due[0]), Detection(active=True, without_doubt=sure, since_us=began))
        return
    state = state._replace(beyond_us=None)
    if condition is Condition.INSIDE:
        yield ChangePoint(first, state._replace(clear_us=None))
        return
    fresh = state.clear_us is None or gap_us > off_us
    if not state.active:
        yield ChangePoint(first, Detection())
        return
    state = state._replace(clear_us=first if fresh else state.clear_us)
    yield ChangePoint(first, state)
    due = times[times >= (state.clear_us or first) + off_us]
    if len(due):
        yield ChangePoint(int(due[0]), Detection())
