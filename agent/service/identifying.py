"""How well the layouts of the library explain what the store has of a module."""

from __future__ import annotations

from agent.assess import Hour
from agent.assess.identity import Identity, identity
from agent.service.handhelds import measured, of_newest_layout
from agent.settings import ModulePlan, Plan
from agent.store import Store


def identified(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> Identity | None:
    """By the whole hours of a stretch of time and by what was measured by hand; None: no hours are known.

    Only as far back as the newest layout holds and the unit stands there.
    """
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return None
    replaced_us = store.module_service(module_id).replaced_us or 0
    begin_us = max(from_us, module.epochs[-1].from_us, replaced_us)
    hours = [Hour.load(body) for body in store.hours(module_id, begin_us, to_us)]
    if not hours:
        return None
    by_hand = of_newest_layout(module, measured(store, plan, module))
    return identity(module.module, module.library(), hours, by_hand.concluded)
