"""What the list of alarms is made of, as the store has it, and how a command reaches the running agent."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence

import orjson

from agent.alarms import Life, Load, Priority, Told, Transition, load
from agent.outlets import Happened
from agent.readings import EVER_US
from agent.service.machine.lock import is_worked_on
from agent.service.work.order import Kind
from agent.settings import ModulePlan, Plan
from agent.store import Command, Store

ANSWER_S = 15.0  # how long an outcome is waited for; an agent looks every few seconds
PAUSE_S = 0.2
EVERYBODY = "raised in all"  # whether sent or not


class UnwatchedModuleError(LookupError):
    """A module that no agent has worked on yet."""


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


def give(
    store: Store,
    module: ModulePlan,
    kind: Kind,
    who: str,
    now_us: int,
    alarm: str | None = None,
    *,
    why: str = "",
    until_us: int | None = None,
    more: Mapping[str, object] | None = None,
) -> int:
    """Put a command to the running agent, or to the next one; its id. Raises UnwatchedModuleError.

    ``more``: what else it takes.
    """
    ids = store.module_ids()
    module_id = ids.get(module.path)
    if module_id is None:
        raise UnwatchedModuleError(f"no agent has worked on {module.path} yet: start it with `dewline run`")
    body: dict[str, object] = {"why": why, **(more or {})}
    if until_us is not None:
        body["until_us"] = until_us
    if kind is Kind.ACKNOWLEDGE and alarm is not None:  # the occurrence that is meant
        states = {each.alarm: Life.load(each.state) for each in store.alarm_states(module_id)}
        body["since_us"] = states.get(alarm, Life()).since_us
    return store.give(Command(now_us, who, kind, module_id, alarm, orjson.dumps(body).decode()))


def outcome(store: Store, command_id: int, wait_s: float = ANSWER_S) -> Command | None:
    """What became of a command; None where no agent has worked it off in that time, or none runs."""
    until = time.monotonic() + wait_s
    while True:
        command = store.command(command_id)
        if command is not None and command.done_us is not None:
            return command
        if time.monotonic() > until or not is_worked_on(store.path):
            return None
        time.sleep(PAUSE_S)
