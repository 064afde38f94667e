"""What a site-visit brief is made of, gathered from the store; reading only."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from agent.alarms import Transition
from agent.assess import SECOND, load_assessment
from agent.assess.frames import BoolArray, IntArray
from agent.outlets.shown import Display
from agent.outlets.terminal.alarm_list import Happened
from agent.outlets.terminal.explaining import explanation_of
from agent.outlets.view import ModuleView
from agent.outlets.visit import (
    Brief,
    Course,
    Kept,
    LayoutHeld,
    Raw,
    ThenNow,
    collect,
    hours,
    main_alarm,
    render_brief,
    then_now,
)
from agent.service.by_hand.handhelds import measured
from agent.service.look.evidence import evidence
from agent.service.look.listing import happened
from agent.service.look.looking import RECENT_US, ids_of, look
from agent.service.look.piped import identified, tracked
from agent.service.machine.lock import is_worked_on
from agent.service.work.detecting import read_states
from agent.service.work.order import Kind
from agent.service.work.registering import moved_signals
from agent.settings import ModulePlan, Plan
from agent.store import Store
from agent.thermo import absolute_pressure

PIECE_US = 86_400 * SECOND  # of assessments, read at once
TRACKED_US = 7 * 86_400 * SECOND  # of readings, that tell on which side a probe sits; as `dewline explain`
BEFORE_US = 2 * 3600 * SECOND  # an alarm began, that the figure of its event reaches back
LONGEST_EVENT_US = 86_400 * SECOND
_CONFIRMS = (Kind.CONFIRM, Kind.REPLACED)


def brief(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int, now_us: int) -> str:
    """The site-visit brief of a module over a stretch of time, as one HTML file."""
    return render_brief(gathered(store, plan, module, from_us, to_us, now_us))


def gathered(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int, now_us: int) -> Brief:
    """All that the brief tells."""
    every, display = happened(store, [module], 0), Display.of(plan.settings.display)
    core, view, height_m = module.module, look(store, plan, now_us, [module])[0], plan.settings.elevation_m
    return Brief(
        module=module,
        made_us=now_us,
        from_us=from_us,
        to_us=to_us,
        view=view,
        course=course(store, plan, module, from_us, to_us),
        explanation=explanation_of(core.layout, module),
        layouts=tuple(_layouts(module)),
        happened=tuple(each for each in every if each.known_us >= from_us),
        confirmed=tuple(_confirmed(every)),
        raised={each.alarm: each.text for each in every if each.what == Transition.RAISED},
        evidence=evidence(store, plan, module, to_us, display),
        identity=identified(store, plan, module, from_us, to_us),
        sides=tuple(tracked(store, plan, module, max(from_us, to_us - TRACKED_US), to_us)),
        by_hand=measured(store, plan, module, display),
        runs=is_worked_on(store.path),
        ambient_pa=None if height_m is None else absolute_pressure(0.0, "gauge-vented", height_m),
        readings=readings(store, plan, module, now_us),
        event=_event(store, plan, module, view, to_us),
        then_now=_then_now(store, module, view),
        display=display,
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


def readings(store: Store, plan: Plan, module: ModulePlan, now_us: int) -> dict[str, Raw]:
    """The newest reading of each signal, of those that have one in the last day."""
    ids = ids_of(module, store.signals())
    found = store.latest_reading(ids.values(), now_us - RECENT_US, moved_signals(store, plan))
    told = {}
    for name, signal_id in ids.items():
        latest = found.get(signal_id)
        if latest is not None:
            time_us = np.array([latest.sample_us], np.int64)
            value = module.conversions[name].samples(time_us, [latest.value], [latest.unit]).value[0]
            received = " ".join(filter(None, (str(latest.value), latest.unit)))
            told[name] = Raw(latest.sample_us, float(value), received)
    return told


def _event(store: Store, plan: Plan, module: ModulePlan, view: ModuleView, to_us: int) -> Course | None:
    """From two hours before the alarm began that the visit is for, at most the last day."""
    alarm = main_alarm(view)
    if alarm is None or alarm.since_us is None or alarm.since_us > to_us:
        return None
    return course(store, plan, module, max(alarm.since_us - BEFORE_US, to_us - LONGEST_EVENT_US), to_us)


def _then_now(store: Store, module: ModulePlan, view: ModuleView) -> ThenNow | None:
    alarm, assessment = main_alarm(view), view.assessment
    module_id = store.module_ids().get(module.path)
    if alarm is None or alarm.since_us is None or assessment is None or module_id is None:
        return None
    newest_us = assessment.grid_us
    then, now = (
        [load_assessment(*each) for each in store.assessments(module_id, *span)]
        for span in hours(alarm.since_us, newest_us)
    )
    return then_now(alarm.name, alarm.since_us, newest_us, then, now)


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
