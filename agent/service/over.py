"""The alarms of the last day that are over, as the journal has them."""

from __future__ import annotations

import orjson

from agent.alarms import Transition
from agent.assess import SECOND
from agent.outlets.web.cards import Over
from agent.service.detecting import read_states
from agent.store import Store

BEFORE_US = 6 * 86_400 * SECOND  # how long an alarm may have stood for its withdrawal still to be found


def over(store: Store, from_us: int, to_us: int) -> dict[int, list[Over]]:
    """By module the alarms that ended in a stretch of time, or were found late in it; none withdrawn."""
    found: dict[tuple[int, str, int], Over] = {}
    for entry in sorted(store.journal(None, from_us - BEFORE_US, to_us), key=lambda entry: entry.id or 0):
        if entry.transition not in (Transition.CLEARED, Transition.FOUND_LATE, Transition.WITHDRAWN):
            continue
        since_us: int = orjson.loads(entry.body).get("since_us") or entry.event_us
        key = (entry.module_id, entry.alarm, since_us)
        if entry.transition == Transition.WITHDRAWN:
            found.pop(key, None)
        elif entry.transition == Transition.CLEARED:
            found[key] = Over(entry.alarm, since_us, entry.event_us)
        else:
            found.setdefault(key, Over(entry.alarm, since_us, None))
    together: dict[int, list[Over]] = {}
    for (module_id, *_), each in found.items():
        if (each.from_us if each.to_us is None else each.to_us) >= from_us:
            together.setdefault(module_id, []).append(each)
    return {module_id: _ended(store, module_id, several, to_us) for module_id, several in together.items()}


def _ended(store: Store, module_id: int, several: list[Over], to_us: int) -> list[Over]:
    """The journal does not say when what was found late was over; the states of its detection do."""
    late = [each.from_us for each in several if each.to_us is None]
    revision = store.current_revision(module_id) if late else None
    if revision is None:
        return several
    began: dict[str, int | None] = {}
    ends: dict[tuple[str, int | None], int] = {}
    for change in store.detections(module_id, revision.id, min(late), to_us):
        state = read_states({change.alarm: change.state})[change.alarm]
        if state.active:
            began[change.alarm] = state.since_us
        elif change.alarm in began:
            ends[change.alarm, began.pop(change.alarm)] = change.grid_us
    return [
        each if each.to_us is not None else each._replace(to_us=ends.get((each.alarm, each.from_us)))
        for each in several
    ]
