"""What to write into the alarm journal when detection has gone over a stretch of time once more.

At the live edge an alarm is raised and cleared. The past is only annotated: an occurrence that late readings
brought to light is `found_late`, one that they took away is `withdrawn`.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from agent.alarms.detection import Occurrence


class Transition(StrEnum):
    """A line of the journal."""

    RAISED = "raised"
    CLEARED = "cleared"
    FOUND_LATE = "found_late"
    WITHDRAWN = "withdrawn"


class Line(NamedTuple):
    """A transition with its event time and, to tell occurrences apart, since when the condition held."""

    transition: Transition
    event_us: int
    since_us: int


def reconcile(
    before: Sequence[Occurrence],
    after: Sequence[Occurrence],
    *,
    announced_us: int | None,
    decided_now: bool,
) -> list[Line]:
    """Compare an alarm's occurrences over one stretch, that reaches to the live edge, before and after.

    ``announced_us``: since when the alarm holds that was raised last and not closed yet; None if none.
    ``decided_now``: the condition at the live edge is known. An alarm that only a gap keeps standing is
    not raised until it is.
    """
    lines: list[Line] = []
    standing = after[-1] if after and after[-1].cleared_us is None else None
    open_us = announced_us
    if announced_us is not None:
        same = [o for o in after if o.since_us == announced_us]
        over = [o for o in after if o.cleared_us is not None and o.cleared_us > announced_us]
        if not same and standing and standing.since_us <= _end(before, announced_us):
            open_us = standing.since_us  # late readings moved its beginning; it is the same alarm
        elif not same and not over:
            lines.append(Line(Transition.WITHDRAWN, announced_us, announced_us))
            open_us = None
        elif (ended := (same or over)[-1]).cleared_us is not None:
            lines.append(Line(Transition.CLEARED, ended.cleared_us, announced_us))
            open_us = None
    known = {o.since_us for o in before} | ({announced_us} if announced_us is not None else set())
    kept = {o.since_us for o in after} | ({announced_us} if announced_us is not None else set())
    lines += [Line(Transition.FOUND_LATE, o.raised_us, o.since_us) for o in _over(after, known)]
    lines += [Line(Transition.WITHDRAWN, o.raised_us, o.since_us) for o in _over(before, kept)]
    if standing and open_us is None and decided_now:
        lines.append(Line(Transition.RAISED, standing.raised_us, standing.since_us))
    return lines


def _end(before: Sequence[Occurrence], announced_us: int) -> int:
    """Up to when an occurrence that now begins elsewhere is still taken for the announced one."""
    later = [o.since_us for o in before if o.since_us > announced_us]
    return min(later, default=2**63 - 1)


def _over(found: Sequence[Occurrence], known: set[int]) -> list[Occurrence]:
    """Occurrences that are over and not among the known ones."""
    return [o for o in found if o.cleared_us is not None and o.since_us not in known]
