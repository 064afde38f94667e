"""The alarms of the last day that are over, as the journal has them."""

from __future__ import annotations

import orjson

from agent.alarms import Transition
from agent.assess import SECOND
from agent.outlets.web.cards import Over
from agent.store import JournalEntry, Store

BEFORE_US = 6 * 86_400 * SECOND  # how long an alarm may have stood for its withdrawal still to be found


def over(store: Store, from_us: int, to_us: int) -> dict[int, list[Over]]:
    """By module the alarms that ended in a stretch of time, or were found late in it; none withdrawn."""
    found: dict[tuple[int, str, int], Over] = {}
    for entry in sorted(store.journal(None, from_us - BEFORE_US, to_us), key=lambda entry: entry.id or 0):
        match entry.transition:
            case Transition.CLEARED:
                since_us = _since_us(entry)
                found[entry.module_id, entry.alarm, since_us] = Over(entry.alarm, since_us, entry.event_us)
            case Transition.FOUND_LATE:
                since_us = _since_us(entry)
                found.setdefault((entry.module_id, entry.alarm, since_us), Over(entry.alarm, since_us, None))
            case Transition.WITHDRAWN:
                found.pop((entry.module_id, entry.alarm, _since_us(entry)), None)
    together: dict[int, list[Over]] = {}
    for (module_id, *_), each in found.items():
        if (each.from_us if each.to_us is None else each.to_us) >= from_us:
            together.setdefault(module_id, []).append(each)
    return together


def _since_us(entry: JournalEntry) -> int:
    since_us: int = orjson.loads(entry.body).get("since_us") or entry.event_us
    return since_us
