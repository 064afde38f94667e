"""What to write into the alarm journal when detection has gone over a stretch of time once more.

At the live edge an alarm is raised and cleared. The past is only annotated: an occurrence that late readings
brought to light is `found_late`, one that they took away is `withdrawn`, and the raised one whose beginning
they moved is `amended`. Where a correction of what the module is has gone over the past, an occurrence that
still stands as it did is `confirmed`. An occurrence is known by the time since which its condition holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from agent.alarms.detection import Occurrence


class Transition(StrEnum):
    """A line of the journal."""

    RAISED = "raised"
    AMENDED = "amended"
    CLEARED = "cleared"
    FOUND_LATE = "found_late"
    WITHDRAWN = "withdrawn"
    CONFIRMED = "confirmed"


class Line(NamedTuple):
    """A transition with its event time and the occurrence that it belongs to."""

    transition: Transition
    event_us: int
    since_us: int


def reconcile(
    before: Sequence[Occurrence],
    after: Sequence[Occurrence],
    *,
    announced_us: int | None,
    decided_now: bool,
    corrected_from_us: int | None = None,
) -> list[Line]:
    """Compare an alarm's occurrences over one stretch, that reaches to the live edge, before and after.

    ``announced_us``: since when the alarm holds that was raised last and not closed yet; None if none.
    ``decided_now``: the condition at the live edge is known. An alarm that only a gap keeps standing is
    not raised until it is. ``corrected_from_us``: from when on another layout, refrigerant or mapping holds
    than before; None: the same.
    """
    announced = None if announced_us is None else _same(before, after, announced_us)
    told = {o.since_us for o in before if o.cleared_us is not None}
    lines = [
        Line(Transition.FOUND_LATE, o.raised_us, o.since_us)
        for o in after
        if o.cleared_us is not None and o != announced and o.since_us not in told
    ]
    over = {
        o.since_us
        for o in after
        if o.cleared_us is not None and (o != announced or o.since_us == announced_us)
    }
    lines += [
        Line(Transition.WITHDRAWN, o.raised_us, o.since_us)
        for o in before
        if o.cleared_us is not None and o.since_us not in over
    ]
    if corrected_from_us is not None:
        lines += [
            Line(Transition.CONFIRMED, o.raised_us, o.since_us)
            for o in before
            if o.raised_us >= corrected_from_us and o.cleared_us is not None and o.since_us in over
        ]
    if announced_us is not None:
        lines += _on_announced(announced, announced_us)
    standing = after[-1] if after and after[-1].cleared_us is None else None
    if standing and standing != announced and decided_now:
        lines.append(Line(Transition.RAISED, standing.raised_us, standing.since_us))
    return lines


def next_announced(announced_us: int | None, line: Line) -> int | None:
    """Since when the raised alarm holds after a line; None where none is raised."""
    if line.transition in (Transition.RAISED, Transition.AMENDED):
        return line.since_us
    closed = line.transition in (Transition.CLEARED, Transition.WITHDRAWN) and line.since_us == announced_us
    return None if closed else announced_us


def _on_announced(now: Occurrence | None, announced_us: int) -> list[Line]:
    if now is None:
        return [Line(Transition.WITHDRAWN, announced_us, announced_us)]
    lines = []
    if now.since_us != announced_us:
        lines.append(Line(Transition.AMENDED, now.since_us, now.since_us))
    if now.cleared_us is not None:
        lines.append(Line(Transition.CLEARED, now.cleared_us, now.since_us))
    return lines


def _same(before: Sequence[Occurrence], after: Sequence[Occurrence], announced_us: int) -> Occurrence | None:
    """What has become of the announced occurrence: it, or the last that overlaps its time."""
    for occurrence in after:
        if occurrence.since_us == announced_us:
            return occurrence
    later = [o.since_us for o in before if o.since_us > announced_us]
    until_us = min(later, default=2**63 - 1)
    overlapping = [
        o for o in after if (o.cleared_us is None or o.cleared_us > announced_us) and o.since_us < until_us
    ]
    return overlapping[-1] if overlapping else None
