"""The modules as the store has them: what another process sees while the agent runs, or after."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import orjson

from agent.alarms import FEED_STALE, Life, Transition, active
from agent.assess import SECOND, Assessment, load_assessment
from agent.outlets import Counted, Lives, ModuleView, StandingAlarm, Summed, stale_alarm, view
from agent.readings import EVER_US
from agent.service.work.detecting import read_states
from agent.service.work.hourly import Hourly
from agent.service.work.registering import moved_signals
from agent.service.work.watched import shadow_ends_us
from agent.settings import Conversion, ModulePlan, Plan, UnknownModuleError
from agent.store import Store, Summary

FRESH_US = 900 * SECOND  # how far back the newest readings of all modules are looked for at once
RECENT_US = 86_400 * SECOND  # and that of a silent one by itself, which takes long on a large site


def first_reading_us(store: Store, plan: Plan, module: ModulePlan) -> int | None:
    """Sample time of the module's first reading; None: there is none."""
    ids = ids_of(module, store.signals())
    return store.first_sample_us(ids.values(), moved_signals(store, plan))


def find(plan: Plan, name: str) -> ModulePlan:
    """A module by its whole path, or by as much of its end as tells it apart. Raises UnknownModuleError."""
    parts = name.strip("/").split("/")
    found = [m for m in plan.modules if list(m.path)[-len(parts) :] == parts]
    if len(found) == 1:
        return found[0]
    known = ", ".join(str(m.path) for m in plan.modules)
    what = f"module {name!r} is not configured" if not found else f"module {name!r} could be several"
    raise UnknownModuleError(f"{what}; there are {known}")


def look(
    store: Store,
    plan: Plan,
    now_us: int,
    modules: Iterable[ModulePlan] | None = None,
    *,
    search: bool = True,
) -> list[ModuleView]:
    """Every module's latest assessment, standing alarms and newest reading, or only that of these modules.

    ``search``: a silent module's newest reading is looked for over the last day, else only over FRESH_US.
    """
    ids = store.module_ids()
    signals = store.signals()
    mended = moved_signals(store, plan)
    fresh = store.newest_samples(now_us - FRESH_US, mended)
    opened_us = store.first_opened_us()
    views = []
    for module in plan.modules if modules is None else modules:
        module_id = ids.get(module.path)
        if module_id is None:
            views.append(ModuleView(module.path, None))
            continue
        mine = ids_of(module, signals).values()
        newest_us = max((fresh[each] for each in mine if each in fresh), default=None)
        if newest_us is None and search:
            found = store.latest_reading(mine, now_us - RECENT_US, mended)
            newest_us = max((reading.sample_us for reading in found.values()), default=None)
        lives = _lives(store, module, module_id, opened_us.get(module_id, now_us), now_us)
        stale = _stale(store, module_id, lives)
        kept = store.latest_assessment(module_id)
        if kept is None:
            views.append(view(module, None, {}, newest_us, stale, lives=lives))
            continue
        assessment = load_assessment(*kept)
        states = read_states(
            store.detection_states(module_id, assessment.revision_id, assessment.grid_us + 1)
        )
        step_us = plan.settings.assess.step_s * SECOND
        findings = Hourly(store, module, module_id).standing(states, assessment.grid_us, step_us)
        views.append(view(module, assessment, states, newest_us, stale, findings, lives))
    return views


def unconfirmed_us(store: Store, module: ModulePlan) -> int | None:
    """Since when another unit stands there whose layout nobody has confirmed; None: none does."""
    module_id = store.module_ids().get(module.path)
    return None if module_id is None else store.module_service(module_id).unconfirmed_us


def _lives(store: Store, module: ModulePlan, module_id: int, opened_us: int, now_us: int) -> Lives:
    """What has become of the module's alarms, as seen now."""
    lives = {kept.alarm: Life.load(kept.state) for kept in store.alarm_states(module_id)}
    service = store.module_service(module_id)
    ends_us = shadow_ends_us(module, service, opened_us, store.first_assessed(module_id))
    return Lives(lives, ends_us, now_us, service.unconfirmed_us, service.replaced_us)


def _stale(store: Store, module_id: int, lives: Lives) -> StandingAlarm | None:
    """The alarm on the module's feed, with the words of the journal."""
    life = lives.of.get(FEED_STALE.name)
    if life is None or not life.state.active:
        return None
    lines = [
        entry
        for entry in store.journal(module_id, 0, EVER_US)
        if entry.alarm == FEED_STALE.name and entry.transition == Transition.RAISED
    ]
    return stale_alarm(orjson.loads(lines[-1].body)["text"] if lines else "", life.since_us)


def received(
    store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int
) -> list[tuple[int, str, object, str | None]]:
    """Readings of a stretch of time in its order: sample time, signal, value, unit (else the config's)."""
    mine = ids_of(module, store.signals())
    found = store.readings(mine.values(), from_us, to_us, moved_signals(store, plan))
    rows: list[tuple[int, str, object, str | None]] = [
        (int(time_us), name, value, _unit(value, unit, module.conversions[name]))
        for name, signal_id in mine.items()
        for time_us, value, unit in zip(*found[signal_id], strict=True)
    ]
    return sorted(rows, key=lambda row: row[:2])


def summed(store: Store, plan: Plan, module: ModulePlan, from_us: int, to_us: int) -> list[Summed | Counted]:
    """The quarters of an hour that begin in a stretch of time, in its order, kept as received or not."""
    mine = ids_of(module, store.signals())
    names = {signal_id: name for name, signal_id in mine.items()}
    read = {signal_id: module.conversions[name] for signal_id, name in names.items()}
    numbers, words = store.summaries(
        mine.values(),
        from_us,
        to_us,
        lambda signal_id, value, unit: read[signal_id].number_of(value, unit),
        moved_signals(store, plan),
    )
    found: list[Summed | Counted] = [_summed(n, names[n.signal_id], read[n.signal_id]) for n in numbers]
    found += [Counted(each.from_us, names[each.signal_id], each.value, each.number) for each in words]
    return sorted(found, key=lambda each: each[:2])


def _summed(each: Summary, name: str, conversion: Conversion) -> Summed:
    """In SI; as received where that cannot be told any more."""
    received = (each.least, each.mean, each.most)
    at_us, units = np.full(3, each.from_us), [each.unit] * 3
    least, mean, most = conversion.samples(at_us, received, units).value.tolist()
    if conversion.dimension is None or not np.isfinite((least, mean, most)).all():
        unit = conversion.unit if each.unit is None else each.unit
        return Summed(each.from_us, name, received, None, unit, each.number)
    return Summed(each.from_us, name, (least, mean, most), conversion.dimension, None, each.number)


def ids_of(module: ModulePlan, known: Mapping[tuple[str, str], int]) -> dict[str, int]:
    """The module's signals that the store knows, its own and shared ones, with their ids."""
    keys = {name: (str(module.owners[name]), name) for name in module.module.signals}
    return {name: known[key] for name, key in keys.items() if key in known}


def _unit(value: object, unit: str | None, conversion: Conversion) -> str | None:
    """A value's unit as shown: a gauge pressure says so."""
    shown = conversion.unit_of(value, unit)
    return f"{shown} gauge" if shown and conversion.reference_pa else shown


def past(
    store: Store, module: ModulePlan, from_us: int, to_us: int
) -> tuple[Iterator[Assessment], Mapping[int, tuple[str, ...]]]:
    """Assessments of a stretch of time, and the alarms that stood at each of its grid times."""
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return iter(()), {}
    kept = store.assessments(module_id, from_us, to_us)
    standing: dict[int, tuple[str, ...]] = {}
    for revision_id in dict.fromkeys(each.revision_id for each in kept):
        grid = [each.grid_us for each in kept if each.revision_id == revision_id]
        states = read_states(store.detection_states(module_id, revision_id, grid[0] + 1))
        changes = store.detections(module_id, revision_id, grid[0] + 1, grid[-1])
        for grid_us in grid:
            while changes and changes[0].grid_us <= grid_us:
                states |= read_states({changes[0].alarm: changes[0].state})
                changes = changes[1:]
            if standing_now := tuple(active(states)):
                standing[grid_us] = standing_now
    return (load_assessment(*each) for each in kept), standing
