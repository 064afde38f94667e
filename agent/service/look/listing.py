"""What the list of alarms is made of, as the store has it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import orjson

from agent.alarms import Load, Priority, Told, Transition, load
from agent.outlets import Happened
from agent.readings import EVER_US
from agent.service.work.order import Kind
from agent.settings import ModulePlan, Plan
from agent.store import Store

EVERYBODY = "raised in all"  # whether sent or not


def happened(store: Store, modules: Iterable[ModulePlan], from_us: int) -> list[Happened]:
    """What the journal says of modules, as far as it became known since then, in that order."""
    paths = store.module_ids()
    of = {paths[module.path]: module.path for module in modules if module.path in paths}
    entries = [
        entry
        for entry in store.journal(None, 0, EVER_US)
        if entry.module_id in of and entry.known_us >= from_us
    ]
    found = []
    for entry in sorted(entries, key=lambda entry: entry.id or 0):
        body = orjson.loads(entry.body)
        ours = body.get("why" if entry.transition == Kind.MEASURE else "text") or ""
        text = ". ".join(filter(None, (body.get("why"), body.get("text"))))
        who = body.get("who") or ""
        what = (of[entry.module_id], entry.alarm, entry.event_us, entry.known_us, entry.transition)
        found.append(Happened(*what, text, who, body.get("until_us"), ours))
    return found


def loads(store: Store, plan: Plan, from_us: int, to_us: int) -> dict[str, Load]:
    """What was raised in a stretch of time, in all and as each route was told of it."""
    names = {m.id: f"{m.system}/{m.name}" for m in store.modules()}
    raised = [
        Told(entry.known_us, _priority(entry.body), f"{entry.alarm} at {names[entry.module_id]}")
        for entry in store.journal(None, 0, EVER_US)
        if entry.transition == Transition.RAISED
    ]
    told: dict[str, list[Told]] = {route.name: [] for route in plan.settings.notices.routes}
    words = {priority.upper(): priority for priority in Priority}
    for route, at_us, subject in store.notices_between(from_us, to_us, words):
        word, _, what = subject.partition(" ")
        told.setdefault(route, []).append(Told(at_us, words[word], what))
    every: Mapping[str, Sequence[Told]] = {EVERYBODY: raised, **told}
    return {name: load(each, from_us, to_us) for name, each in every.items()}


def _priority(body: str) -> Priority:
    return Priority(orjson.loads(body).get("priority", Priority.MEDIUM))
