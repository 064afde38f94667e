"""Brings the store in line with the configuration: modules, signals, revisions, and the alarms that stand."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping

import orjson

from agent.alarms import FEED_STALE, Line, Transition, next_announced
from agent.assess import SECOND, load_assessment
from agent.outlets.shown import SI
from agent.readings import EVER_US, Moved, Span
from agent.service.work.alarming import DETECTED, Step, taken_up
from agent.service.work.detecting import read_states
from agent.service.work.feed import Feed
from agent.service.work.to_do import CATCH_UP_US
from agent.service.work.watched import Watched
from agent.settings import ModulePlan, Plan, SharedPlan, correction, is_same, moved
from agent.store import Latest, Store

_log = logging.getLogger(__name__)

RECENT_US = 86_400 * SECOND  # how far back a silent signal's newest reading is looked for


def register(store: Store, plan: Plan, now_us: int) -> list[Watched]:
    """Every module of the plan, as it was when an agent last worked on it."""
    modules = store.register_modules(m.path for m in plan.modules)
    keys = [(str(m.owners[name]), name) for m in plan.modules for name in m.stored_signals]
    keys += [(str(shared.path), name) for shared in plan.shared for name in shared.points.values()]
    signals = store.register_signals(keys)
    mended = moved_signals(store, plan)
    newest = store.latest_reading(signals.values(), now_us - RECENT_US, mended)
    opened_us = store.first_opened_us()
    watched = []
    for module in plan.modules:
        ids = {name: signals[str(module.owners[name]), name] for name in module.stored_signals}
        module_id = modules[module.path]
        each = Watched(
            plan=module,
            module_id=module_id,
            revision_id=_revision(store, module_id, module, ids, now_us, mended),
            signal_ids=ids,
            feed=_feed(module, ids, newest, now_us),
            moved=mended,
            opened_us=opened_us.get(module_id, now_us),
        )
        _take_up(store, each, now_us, plan.settings.assess.step_s * SECOND)
        watched.append(each)
    return watched


def origins(store: Store, plan: Plan) -> Iterator[tuple[ModulePlan | SharedPlan, dict[str, int]]]:
    """Each module and shared set with the ids of the signals that come in on its topics."""
    ids = store.signals()
    for origin in plan.origins:
        yield origin, {name: ids[str(origin.path), name] for name in origin.points.values()}


def moved_signals(store: Store, plan: Plan) -> Moved:
    """Stored readings that the plan's mapping gives to another signal than they came in for."""
    return moved(store.mappings(), plan.mapping, store.signals())


def _revision(
    store: Store, module_id: int, module: ModulePlan, ids: dict[str, int], now_us: int, mended: Moved
) -> int:
    """The module's revision. One that corrects the past has it assessed anew, as far as is caught up with."""
    before = store.current_revision(module_id)
    if before is None:
        return store.open_revision(module_id, module.revision, "first configuration", now_us).id
    if is_same(before.body, module.revision):
        return before.id
    changed = correction(before.body, module.revision)
    dirty = None
    if changed.from_us is not None:
        first_us = store.first_sample_us(ids.values(), mended)
        if first_us is not None:
            dirty = Span(module_id, max(changed.from_us, first_us, now_us - CATCH_UP_US), now_us)
            _log.warning("%s", anew_words(module, changed.reason, dirty.from_us))
    return store.open_revision(module_id, module.revision, changed.reason, now_us, dirty).id


def anew_words(module: ModulePlan, reason: str, from_us: int) -> str:
    """That a past is assessed anew, since when and why; a layout that was changed without a date says so."""
    undated = "layout" in reason and len(module.epochs) == 1
    why = f"{reason} without a date" if undated else reason
    return f"{module.path.module}: {why}: the past since {SI.when(from_us)} is assessed anew"


def _feed(module: ModulePlan, ids: Mapping[str, int], newest: Mapping[int, Latest], now_us: int) -> Feed:
    samples_us = {name: newest[i].sample_us for name, i in ids.items() if i in newest}
    return Feed(module, heard_us=now_us, signals_us=samples_us)


def _take_up(store: Store, watched: Watched, now_us: int, step_us: int) -> None:
    """The alarms that were raised and not closed, what has become of them, and the latest assessment."""
    # In the order of writing: a withdrawal bears the time from which the alarm had held.
    for entry in sorted(store.journal(watched.module_id, 0, EVER_US), key=lambda entry: entry.id or 0):
        if entry.transition not in DETECTED:
            continue
        since = orjson.loads(entry.body)["since_us"]
        line = Line(Transition(entry.transition), entry.event_us, since)
        since_us = next_announced(watched.announced_us.pop(entry.alarm, None), line)
        if since_us is not None:
            watched.announced_us[entry.alarm] = since_us
    kept_lives = store.alarm_states(watched.module_id)
    watched.lives = taken_up(kept_lives, watched.announced_us)
    new = {name: life for name, life in watched.lives.items() if name not in {k.alarm for k in kept_lives}}
    if new:
        states = Step(new, [], []).alarm_states
        store.finish(watched.module_id, watched.revision_id, [], alarm_states=states)
    watched.service = store.module_service(watched.module_id)
    watched.progress_us = store.progress(watched.module_id)
    watched.first_us = store.first_assessed(watched.module_id)
    stale_us = watched.announced_us.pop(FEED_STALE.name, None)
    if stale_us is not None:
        watched.feed.since_us, watched.feed.raised = stale_us, True
    kept = store.latest_assessment(watched.module_id)
    if kept:
        watched.latest = load_assessment(*kept)
        detected = store.detection_states(watched.module_id, watched.revision_id, EVER_US)
        watched.states = read_states(detected)
        watched.findings = watched.hourly(store).standing(watched.states, kept.grid_us, step_us)
