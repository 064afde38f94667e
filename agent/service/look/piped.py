"""How a module is piped, by what the store has of it."""

from __future__ import annotations

import numpy as np

from agent.assess import SECOND, Hour, Tracking, assess, track
from agent.assess.identity import Identity, identity
from agent.service.by_hand.handhelds import measured, of_newest_layout
from agent.service.look.looking import ids_of
from agent.service.work.registering import moved_signals
from agent.service.work.to_do import samples
from agent.settings import ModulePlan, Plan
from agent.store import Store


def identified(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> Identity | None:
    """How well the layouts of the library explain it; None: no whole hour is known of that time.

    By the whole hours and by what was measured by hand, only as far back as the newest layout holds and the
    unit stands there.
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


def tracked(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> list[Tracking]:
    """On which side of the inlets each probe sits whose side the newest layout leaves open."""
    if not module.module.layout.unproven:
        return []
    step_us = plan.settings.assess.step_s * SECOND
    grid_us = np.arange(from_us // step_us * step_us, to_us, step_us)
    ids = ids_of(module, store.signals())
    given = samples(store, module.epochs[-1], ids, grid_us, step_us, moved_signals(store, plan))
    return track(module.module, assess(module.module, grid_us, given, step_us))
