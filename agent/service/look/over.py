"""The alarms of the last day that are over, as the journal has them."""

from __future__ import annotations

import orjson

from agent.alarms import Transition
from agent.assess import SECOND
from agent.outlets.web.cards import Over
from agent.store import Store

BEFORE_US = 6 * 86_400 * SECOND  # how long an alarm may have stood for its withdrawal still to be found


def over(store: Store, from_us: int, to_us: int) -> dict[int, list[Over]]:
    """By module the alarms that ended in a stretch of time, or were found late in it; none withdrawn.

    What an agent before this one found late has no end in its journal.
    """
    found: dict[tuple[int, str, int], Over] = {}
    for entry in sorted(store.journal(None, from_us - BEFORE_US, to_us), key=lambda entry: entry.id or 0):
        if entry.transition not in (Transition.CLEARED, Transition.FOUND_LATE, Transition.WITHDRAWN):
            continue
        body = orjson.loads(entry.body)
        since_us: int = body.get("since_us") or entry.event_us
        key = (entry.module_id, entry.alarm, since_us)
        if entry.transition == Transition.WITHDRAWN:
            found.pop(key, None)
        elif entry.transition == Transition.CLEARED:
            found[key] = Over(entry.alarm, since_us, entry.event_us)
        else:
            found.setdefault(key, Over(entry.alarm, since_us, body.get("cleared_us")))
    together: dict[int, list[Over]] = {}
    for (module_id, *_), each in found.items():
        if (each.from_us if each.to_us is None else each.to_us) >= from_us:
            together.setdefault(module_id, []).append(each)
    return together
