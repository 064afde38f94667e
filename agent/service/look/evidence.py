"""What the hours of a module say, beyond the moment: read from the store and judged by the core."""

from __future__ import annotations

from agent.alarms import judge
from agent.assess import SECOND, causes
from agent.assess.byhour.duty import duty
from agent.assess.byhour.hours import HOUR_US
from agent.assess.byhour.injecting import answers
from agent.assess.byhour.supervisor import identify
from agent.assess.plausible.suspicions import suspicions
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.evidence import Evidence
from agent.piping import STEADY_MODES
from agent.service.by_hand.handhelds import measured, of_newest_layout
from agent.service.work.hourly import Hourly
from agent.settings import ModulePlan, Plan
from agent.store import Store


def evidence(
    store: Store, plan: Plan, module: ModulePlan, at_us: int, display: Display = SI
) -> Evidence | None:
    """What is known of a module at a time by the hours before it; None: no whole hour of it is known.

    ``display``: as in `handhelds.measured`.
    """
    ids = store.module_ids()
    module_id = ids.get(module.path)
    if module_id is None:
        return None
    past = Hourly(store, module, module_id).past(at_us, plan.settings.assess.step_s * SECOND)
    if past is None:
        return None
    sisters = [
        Hourly(store, other, ids[other.path]).window(at_us)
        for other in plan.modules
        if other.path[:2] == module.path[:2] and other.path != module.path and other.path in ids
    ]
    modes = [mode for mode in STEADY_MODES if any(hour.settled_mode == mode for hour in past.hours)]
    return Evidence(
        module=module.path,
        refrigerant=past.module.refrigerant,
        at_us=past.at_us,
        duty=duty([hour for hour in past.hours if hour.from_us >= past.at_us - 24 * HOUR_US]),
        findings=judge(past, module.catalogue),
        identified=tuple(identify(past.hours, past.module, mode) for mode in modes),
        suspected=suspicions(past.module, past.hours, sisters),
        causes=causes(past.module, past.baseline, past.hours),
        injection=tuple(answers(past.module, past.baseline, past.hours)),
        by_hand=of_newest_layout(module, measured(store, plan, module, display)),
    )


def first_hour_us(store: Store, module: ModulePlan, at_us: int) -> int:
    """When the first whole hour can be known of the unit that stands there, by what has been so far."""
    module_id = store.module_ids().get(module.path)
    service = None if module_id is None else store.module_service(module_id)
    replaced_us = 0 if service is None else service.replaced_us or 0
    from_us = max(replaced_us, module.epochs[-1].from_us, at_us - HOUR_US)
    return -(-from_us // HOUR_US) * HOUR_US + HOUR_US
