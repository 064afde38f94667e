"""Occurrences of an alarm as they were recorded beside those of a replay, and how often it comes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import NamedTuple

from agent.alarms.detection import Occurrence

WEEK_US = 7 * 86_400 * 1_000_000
_EVER_US = 2**63 - 1


class Fate(StrEnum):
    """What becomes of an occurrence."""

    ALIKE = "alike"  # it stands in both, about the same time
    WITHDRAWN = "withdrawn"  # recorded, and not in the replay
    FOUND = "found"  # only in the replay


class OccurrenceCompared(NamedTuple):
    """One occurrence; of one that stands in both, either side."""

    fate: Fate
    recorded: Occurrence | None
    replayed: Occurrence | None


class Rate(NamedTuple):
    """How often an alarm comes, and how long it stands."""

    raised: int
    per_week: float
    stands_us: int


def compare_occurrences(
    recorded: Iterable[Occurrence], replayed: Iterable[Occurrence]
) -> list[OccurrenceCompared]:
    """In the order of time. What overlaps is the same occurrence, whatever its first and last minute."""
    left = list(replayed)
    found = []
    for each in recorded:
        same = [other for other in left if _overlap(each, other)]
        left = [other for other in left if other not in same]
        if same:
            found.append(OccurrenceCompared(Fate.ALIKE, each, same[0]))
        elif any(_overlap(each, o.replayed) for o in found if o.replayed is not None):
            found.append(OccurrenceCompared(Fate.ALIKE, each, None))  # two have become one
        else:
            found.append(OccurrenceCompared(Fate.WITHDRAWN, each, None))
    found += [OccurrenceCompared(Fate.FOUND, None, each) for each in left]
    return sorted(found, key=lambda each: (each.recorded or each.replayed or Occurrence(0, 0, None)).since_us)


def rate(occurrences: Sequence[Occurrence], from_us: int, to_us: int) -> Rate:
    """Of the occurrences that were raised in a stretch of time; ``stands_us``: of all that reach into it."""
    raised = sum(from_us <= each.raised_us <= to_us for each in occurrences)
    stands = [min(_end(each), to_us) - max(each.raised_us, from_us) for each in occurrences]
    weeks = (to_us - from_us) / WEEK_US
    return Rate(raised, raised / weeks if weeks else 0.0, sum(max(each, 0) for each in stands))


def _overlap(first: Occurrence, second: Occurrence) -> bool:
    return first.since_us <= _end(second) and second.since_us <= _end(first)


def _end(occurrence: Occurrence) -> int:
    return _EVER_US if occurrence.cleared_us is None else occurrence.cleared_us
