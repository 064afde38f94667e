"""How a command reaches the running agent, and how its outcome comes back."""

from __future__ import annotations

import time
from collections.abc import Mapping

import orjson

from agent.alarms import Life
from agent.service.machine.lock import is_worked_on
from agent.service.work.order import Kind
from agent.settings import ModulePlan
from agent.store import Command, Store

ANSWER_S = 15.0  # how long an outcome is waited for; an agent looks every few seconds
PAUSE_S = 0.2


class UnwatchedModuleError(LookupError):
    """A module that no agent has worked on yet."""


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
