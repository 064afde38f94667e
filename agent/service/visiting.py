"""What a site-visit brief is made of, gathered from the store; reading only."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from agent.alarms import Transition
from agent.assess import SECOND
from agent.assess.frames import BoolArray, IntArray
from agent.outlets.alarm_list import Happened
from agent.outlets.explaining import explanation_of
from agent.outlets.shown import Display
from agent.outlets.visit import Brief, Course, Kept, LayoutHeld, collect, render_brief
from agent.service.commanding import Kind
from agent.service.detecting import read_states
from agent.service.evidence import evidence
from agent.service.handhelds import measured
from agent.service.identifying import identified
from agent.service.listing import happened
from agent.service.lock import is_worked_on
from agent.service.looking import look
from agent.service.tracking import tracked
from agent.settings import ModulePlan, Plan
from agent.store import Store

PIECE_US = 86_400 * SECOND  # of assessments, read at once
TRACKED_US = 7 * 86_400 * SECOND  # of readings, that tell on which side a probe sits; as `dewline explain`
_CONFIRMS = (Kind.CONFIRM, Kind.REPLACED)


def brief(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int, now_us: int) -> str:
    """The site-visit brief of a module over a stretch of time, as one HTML file."""
    return render_brief(gathered(store, plan, module, from_us, to_us, now_us))


def gathered(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int, now_us: int) -> Brief:
    """All that the brief tells."""
    every = happened(store, [module], 0)
    core = module.module
    return Brief(
        module=module,
        made_us=now_us,
        from_us=from_us,
        to_us=to_us,
        view=look(store, plan, now_us, [module])[0],
        course=course(store, plan, module, from_us, to_us),
        explanation=explanation_of(core.layout, module),
        layouts=tuple(_layouts(module)),
        happened=tuple(each for each in every if each.known_us >= from_us),
        confirmed=tuple(_confirmed(every)),
        raised={each.alarm: each.text for each in every if each.what == Transition.RAISED},
        evidence=evidence(store, plan, module, to_us),
        identity=identified(store, plan, module, from_us, to_us),
        sides=tuple(tracked(store, plan, module, max(from_us, to_us - TRACKED_US), to_us)),
        by_hand=measured(store, plan, module),
        runs=is_worked_on(store.path),
        height_known=plan.settings.elevation_m is not None,
        display=Display.of(plan.settings.display),
    )


def course(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> Course:
    """The module's past by column, and when which alarm stood."""
    step_us = plan.settings.assess.step_s * SECOND
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return collect((), from_us, to_us, step_us)
    revisions: list[IntArray] = []
    found = collect(_pieces(store, module_id, from_us, to_us, revisions), from_us, to_us, step_us)
    if not revisions:
        return found
    alarms = _alarms(store, module_id, found.grid_us, np.concatenate(revisions))
    return Course(**{**vars(found), "alarms": alarms})


def _pieces(
    store: Store, module_id: int, from_us: int, to_us: int, revisions: list[IntArray]
) -> Iterator[list[Kept]]:
    """A day at a time; ``revisions`` takes the revision of each row."""
    for begin_us in range(from_us, to_us + 1, PIECE_US):
        kept = store.assessments(module_id, begin_us, min(begin_us + PIECE_US - 1, to_us))
        if kept:
            revisions.append(np.array([each.revision_id for each in kept], np.int64))
            yield [Kept(each.grid_us, each.basis, each.figures) for each in kept]


def _alarms(store: Store, module_id: int, grid_us: IntArray, revision: IntArray) -> dict[str, BoolArray]:
    """When each alarm stood, by the revision that holds at a grid time; those that never did are absent."""
    found: dict[str, BoolArray] = {}
    for revision_id in np.unique(revision).tolist():
        mine = revision == revision_id
        first, last = int(grid_us[mine][0]), int(grid_us[mine][-1])
        before = read_states(store.detection_states(module_id, revision_id, first))
        changes: dict[str, list[tuple[int, bool]]] = {
            name: [(first, state.active)] for name, state in before.items()
        }
        for change in store.detections(module_id, revision_id, first, last):
            (state,) = read_states({change.alarm: change.state}).values()
            changes.setdefault(change.alarm, [(first, False)]).append((change.grid_us, state.active))
        for name, several in changes.items():
            times, active = (np.array(column) for column in zip(*several, strict=True))
            stood = active[np.searchsorted(times, grid_us, side="right") - 1] & mine
            if stood.any():
                found[name] = found.get(name, np.zeros(len(grid_us), bool)) | stood
    return found


def _layouts(module: ModulePlan) -> Iterator[LayoutHeld]:
    for epoch in module.epochs:
        by, why = (epoch.rests_on.get(key) or "" for key in ("by", "why"))
        yield LayoutHeld(epoch.module.layout.name, epoch.from_us, by, why)


def _confirmed(every: list[Happened]) -> Iterator[Happened]:
    """Who last said that the module is as described, and that another unit stands there."""
    for kind in _CONFIRMS:
        yield from [each for each in every if each.what == kind][-1:]
