"""What a replay comes to, in one line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from agent.alarms import Fate, OccurrenceCompared
from agent.assess.compared import STANDING, Compared, QuantityCompared
from agent.outlets.shown import number_of

APART = 0.05  # of the running time: from here on another share is worth a word. Design choice, no source


def verdict(
    quantities: Mapping[str, str], compared: Compared, alarms: Mapping[str, Sequence[OccurrenceCompared]]
) -> str:
    """``quantities``: those that are told of, and what they are called. Empty: nothing to say."""
    said = [f"{what} {_course(compared.quantities[name])}" for name, what in quantities.items()]
    fates = [each.fate for found in alarms.values() for each in found]
    told = ", ".join([*said, *_alarms(fates.count(Fate.WITHDRAWN), fates.count(Fate.FOUND))])
    return f"So: {told}."


def running(found: QuantityCompared) -> tuple[tuple[int, int], tuple[int, int]]:
    """Decided grid times and all of the running time, as recorded and as replayed."""
    was, now = (
        (sum(e.decided for e in side if e.mode not in STANDING), running_times(found, number))
        for number, side in enumerate((found.recorded, found.replayed))
    )
    return was, now


def running_times(found: QuantityCompared, side: int) -> int:
    """Grid times in which the module runs; ``side``: 0 as recorded, 1 as replayed."""
    return sum(each.times for each in found[:2][side] if each.mode not in STANDING)


def _course(found: QuantityCompared) -> str:
    (was, was_of), (now, now_of) = running(found)
    if not was and not now:
        return "decided neither way"
    if not now:
        return "no longer decided"
    if not was:
        return "decided only as replayed"
    words = "decided at other times" if found.differ is None else _moved(found.differ.median)
    apart = now / now_of - was / was_of
    if abs(apart) < APART:
        return words
    return f"{words} and decided {'more' if apart > 0 else 'less'} often"


def _moved(median_k: float) -> str:
    if abs(median_k) < 0.05:  # not seen at the decimal that is shown
        return "the same"
    return f"{abs(median_k):.1f} K {'lower' if median_k < 0 else 'higher'}"


def _alarms(gone: int, come: int) -> Iterator[str]:
    if gone:
        yield f"{number_of(gone, 'alarm')} less"
    if come:
        yield f"{number_of(come, 'alarm')} more"
    if not gone and not come:
        yield "the same alarms"
