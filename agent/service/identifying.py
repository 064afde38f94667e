"""How well the layouts of the library explain what the store has of a module."""

from __future__ import annotations

from agent.assess import Hour
from agent.assess.identity import Identity, identity
from agent.settings import ModulePlan
from agent.store import Store


def identified(store: Store, module: ModulePlan, from_us: int, to_us: int) -> Identity | None:
    """By the whole hours of a stretch of time, as far as the newest layout holds; None: there are none."""
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return None
    begin_us = max(from_us, module.epochs[-1].from_us)
    hours = [Hour.load(body) for body in store.hours(module_id, begin_us, to_us)]
    return identity(module.module, module.library(), hours) if hours else None
