"""A replay beside what the store has of the same time: the report of what would be otherwise."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
import orjson

from agent.alarms import (
    LEVELS,
    Fate,
    Limits,
    Occurrence,
    OccurrenceCompared,
    Priority,
    compare_occurrences,
    rate,
)
from agent.alarms.catalogue import SUPERHEAT_HIGH, SUPERHEAT_HUNTING, SUPERHEAT_LOW
from agent.alarms.highside import SUBCOOLING_HIGH, SUBCOOLING_LOW
from agent.assess import SUBCOOLING, SWING, Status
from agent.assess.assessment import Basis
from agent.assess.byhour.baseline import DAY_US
from agent.assess.compared import Course, Gathering, Words, compare, within_uncertainty
from agent.outlets.notices.compose import OVER, STILL
from agent.outlets.notices.form import about
from agent.outlets.terminal.replay import LimitTried, ReplayReport
from agent.piping import RETURN
from agent.readings import EVER_US
from agent.service.replay.replaying import (
    QUANTITIES,
    SUPERHEAT_ALARMS,
    Progress,
    Replay,
    Replayed,
    recorded_occurrences,
)
from agent.settings import ModulePlan, Plan
from agent.store import Assessment, Store

REPLAY_SHARE = 0.7  # of the whole work, for the progress shown
_LIMIT_OF: Mapping[str, str] = {
    SUPERHEAT_LOW.name: RETURN,
    SUPERHEAT_HIGH.name: RETURN,
    SUPERHEAT_HUNTING.name: SWING,
    SUBCOOLING_LOW.name: SUBCOOLING,
    SUBCOOLING_HIGH.name: SUBCOOLING,
}


def compared(
    store: Store,
    plan: Plan,
    module: ModulePlan,
    base: ModulePlan,
    since_us: int,
    until_us: int,
    *,
    notes: Sequence[str] = (),
    progress: Progress = lambda _: None,
) -> ReplayReport:
    """Replay a module under a plan and compare. ``base``: the module as its configuration file has it.

    Raises NothingToReplayError.
    """
    replay = Replay(store, plan, module, since_us, until_us)
    tried = _other_limits(base, module)
    done = replay.run(base if tried else None, lambda share: progress(REPLAY_SHARE * share))
    rest = 1 - REPLAY_SHARE
    course, revisions = _recorded(store, replay, lambda share: progress(REPLAY_SHARE + rest * share))
    was = recorded_occurrences(store, replay)
    alarms = {
        name: compare_occurrences(was[name], done.occurrences[name])
        for name in sorted(done.occurrences)
        if was[name] or done.occurrences[name]
    }
    found = compare(course, done.course)
    return ReplayReport(
        path=module.path,
        from_us=done.from_us,
        to_us=done.to_us,
        step_us=replay.step_us,
        changes=tuple(_all_changes(store, replay, revisions)),
        notes=(*notes, *_notes(replay, done, found.unrecorded)),
        compared=found,
        alarms=alarms,
        notices=_notices(store, replay, alarms),
        limits=tuple(_tried(name, tried[name], base, module, done) for name in tried),
    )


def _recorded(store: Store, replay: Replay, progress: Progress) -> tuple[Course, Counter[int]]:
    """The newest assessment of each grid time, read day by day; how many of them each revision has."""
    gathering = Gathering(QUANTITIES, SUPERHEAT_ALARMS)
    revisions: Counter[int] = Counter()
    known: dict[str, tuple[int, list[int | None]]] = {}
    for from_us in range(replay.from_us, replay.to_us + 1, DAY_US):
        kept = store.assessments(replay.module_id, from_us, min(from_us + DAY_US - 1, replay.to_us))
        if kept:
            _gather(gathering, kept, known)
            revisions.update(each.revision_id for each in kept)
        progress(min((from_us + DAY_US - replay.from_us) / (replay.to_us - replay.from_us + 1), 1.0))
    return gathering.course(), revisions


def _gather(
    gathering: Gathering, kept: Sequence[Assessment], known: dict[str, tuple[int, list[int | None]]]
) -> None:
    numbers, rows = [], []
    nothing = (None, None, None)
    for each in kept:
        if each.basis not in known:
            known[each.basis] = _read(gathering, Basis.load(each.basis))
        number, places = known[each.basis]
        flat = orjson.loads(each.figures)
        numbers.append(number)
        rows.append([f for at in places for f in (nothing if at is None else flat[3 * at : 3 * at + 3])])
    grid_us = np.array([each.grid_us for each in kept])
    gathering.add(grid_us, np.array(numbers), np.array(rows, float))


def _read(gathering: Gathering, basis: Basis) -> tuple[int, list[int | None]]:
    """The number of its words, and where its quantities stand among the figures."""
    order = list(basis.said)
    said = [basis.said.get(name) for name in gathering.names]
    words = Words(
        basis.mode,
        tuple(each is not None and each.status is Status.DECIDED for each in said),
        tuple("" if each is None else " ".join(each.probes) for each in said),
        tuple(basis.conditions.get(alarm) in LEVELS for alarm in gathering.alarms),
    )
    return gathering.number(words), [order.index(n) if n in order else None for n in gathering.names]


def _all_changes(store: Store, replay: Replay, revisions: Counter[int]) -> Iterator[str]:
    """What the replay takes otherwise than was recorded; of several revisions for how much of the time."""
    found: Counter[str] = Counter()
    for revision_id, times in revisions.items():
        found.update(dict.fromkeys(_changes(store.revision_body(revision_id), replay), times))
    every = revisions.total()
    for change, times in found.most_common():
        in_part = "" if times == every else f"For {100 * times / every:.0f} % of what is recorded: "
        yield f"{in_part}{change}"


def _changes(recorded: str, replay: Replay) -> Iterator[str]:
    """What the replay takes otherwise than the revision (JSON) that is recorded."""
    old, new = orjson.loads(recorded), orjson.loads(replay.module.revision)
    if "layouts" not in old:
        yield "What is recorded is of an older version that kept no layouts with their dates."
        return
    layouts = [_layouts(each, replay.from_us, replay.to_us) for each in (old, new)]
    if layouts[0] != layouts[1]:
        yield f"Layout {layouts[1]} in place of {layouts[0]}."
    if old["refrigerant"] != new["refrigerant"]:
        yield f"Refrigerant {new['refrigerant']} in place of {old['refrigerant']}."
    if _signals(old) != _signals(new):
        yield "Signals are mapped otherwise than recorded: their readings are read anew."
    if old.get("limits") != new["limits"]:
        yield "Limits of alarms are others than recorded."


def _layouts(body: Mapping[str, object], from_us: int, to_us: int) -> str:
    """The layouts that hold in a span, in their order."""
    epochs = body.get("layouts")
    assert isinstance(epochs, list)
    ends = [each["from_us"] for each in epochs[1:]] + [EVER_US]
    names = [
        str(each["layout"]["layout"])
        for each, end_us in zip(epochs, ends, strict=True)
        if each["from_us"] <= to_us and end_us > from_us
    ]
    return ", then ".join(dict.fromkeys(names))


def _signals(body: Mapping[str, object]) -> object:
    epochs = body["layouts"]
    assert isinstance(epochs, list)
    return [each["signals"] for each in epochs]


def _notes(replay: Replay, done: Replayed, unrecorded: int) -> Iterator[str]:
    if unrecorded:
        share = 100 * unrecorded / max(len(done.course.grid_us), 1)
        yield f"Of {share:.0f} % of that time nothing is recorded: there is nothing to compare with there."
    if replay.begins_later:
        yield "Older readings are no longer kept: what is recorded of their time stands, and is not replayed."
    if not done.takes_up:
        yield "What is usual of the module is learnt anew from the first day of the replay on."


def _notices(
    store: Store, replay: Replay, alarms: Mapping[str, Iterable[OccurrenceCompared]]
) -> dict[tuple[str, int], int]:
    """How many notices went out of each occurrence that the replay does not have."""
    gone = [
        (alarm, each.recorded)
        for alarm, found in alarms.items()
        for each in found
        if each.fate is Fate.WITHDRAWN and each.recorded is not None
    ]
    if not gone:
        return {}
    journal = store.journal(replay.module_id, 0, EVER_US)
    known = [(each.alarm, orjson.loads(each.body).get("since_us"), each.known_us) for each in journal]
    words = (*(priority.upper() for priority in Priority), OVER, STILL)
    sent = store.notices_between(0, EVER_US, words)
    found = {}
    for alarm, occurrence in gone:
        times = [
            known_us
            for name, since_us, known_us in known
            if name == alarm and since_us is not None and _within(occurrence, since_us)
        ]
        end = f" {about(alarm, replay.module.path)}"
        found[alarm, occurrence.since_us] = sum(
            subject.endswith(end) and bool(times) and min(times) <= at_us <= max(times)
            for _, at_us, subject in sent
        )
    return found


def _within(occurrence: Occurrence, at_us: int) -> bool:
    return occurrence.since_us <= at_us <= (occurrence.cleared_us or EVER_US)


def _other_limits(base: ModulePlan, module: ModulePlan) -> dict[str, tuple[Limits, Limits]]:
    """Alarms whose limits differ, as they are and as they are tried."""
    return {
        name: (base.catalogue[name].limits, entry.limits)
        for name, entry in module.catalogue.items()
        if name in base.catalogue and base.catalogue[name].limits != entry.limits
    }


def _tried(
    name: str, limits: tuple[Limits, Limits], base: ModulePlan, module: ModulePlan, done: Replayed
) -> LimitTried:
    was, proposed = limits
    changes = tuple(
        (key, value, getattr(proposed, key))
        for key, value in vars(was).items()
        if value != getattr(proposed, key)
    )
    within = None
    if name in _LIMIT_OF and proposed.limit_k is not None:
        within = within_uncertainty(done.course, _LIMIT_OF[name], proposed.limit_k)
    now, then = (rate(found[name], done.from_us, done.to_us) for found in (done.now, done.occurrences))
    return LimitTried(name, changes, now, then, within)
