"""On which side of the inlets a module's probes sit, judged from the readings that the store has."""

from __future__ import annotations

import numpy as np

from agent.assess import SECOND, Tracking, assess, track
from agent.service.assessing import samples
from agent.service.looking import ids_of
from agent.service.registering import moved_signals
from agent.settings import ModulePlan, Plan
from agent.store import Store


def tracked(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> list[Tracking]:
    """What the readings of a stretch of time say of every probe whose side the newest layout leaves open."""
    if not module.module.layout.unproven:
        return []
    step_us = plan.settings.assess.step_s * SECOND
    grid_us = np.arange(from_us // step_us * step_us, to_us, step_us)
    ids = ids_of(module, store.signals())
    given = samples(store, module.epochs[-1], ids, grid_us, step_us, moved_signals(store, plan))
    return track(module.module, assess(module.module, grid_us, given, step_us))
