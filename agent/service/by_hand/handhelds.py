"""What was measured by hand at a module, set beside the readings that came in around that time."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence

import numpy as np
import orjson

from agent.assess import Samples, Side
from agent.assess.by_hand.handheld import (
    AS_IT_IS,
    STEP_US,
    ByHand,
    HandheldCompared,
    Kind,
    Of,
    Shown,
    Verdict,
    compare,
)
from agent.outlets import Measured, MeasuredByHand, Withdrawn
from agent.outlets.shown import SI, Display
from agent.readings import EVER_US, Moved
from agent.service.work.hourly import epoch_at
from agent.service.work.registering import moved_signals
from agent.service.work.to_do import samples
from agent.settings import Epoch, ModulePlan, Plan
from agent.store import Handheld, Store
from agent.units import UNITS


def measured(store: Store, plan: Plan, module: ModulePlan, display: Display = SI) -> MeasuredByHand:
    """All that was measured at a module, and what it says; nothing where no agent has worked on it yet.

    ``display``: a site's unit of pressure, where people are told; else a pressure is told as it was given.
    """
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return MeasuredByHand()
    return compared(store, module, module_id, moved_signals(store, plan), display=display)


def compared(
    store: Store,
    module: ModulePlan,
    module_id: int,
    moved: Moved,
    also: Handheld | None = None,
    display: Display = SI,
) -> MeasuredByHand:
    """Compare what is kept with the readings of its minutes, each under the layout that held then.

    ``also``: one that is not kept yet; then it and those of the same kind alone.
    """
    handhelds = store.handhelds(module_id, 0, EVER_US)
    if also is not None:
        handhelds = [*(each for each in handhelds if each.kind == also.kind), also]
    replaced_us = store.module_service(module_id).replaced_us or 0
    by_hand = [_by_hand(each, display) for each in handhelds]
    found = _alone(module, handhelds, by_hand, store.kept_from_us())
    alone = frozenset(found)
    concluded: list[HandheldCompared] = []
    ids = store.signals()
    for epoch, is_before, numbers in _groups(module, handhelds, replaced_us, alone):
        given = {
            at_us: _samples(store, module, epoch, ids, at_us, moved)
            for at_us in {handhelds[number].at_us for number in numbers}
        }
        comparison = compare(epoch.module, [by_hand[number] for number in numbers], given)
        found |= dict(zip(numbers, comparison.readings, strict=True))
        concluded += [] if is_before else comparison.concluded
    readings = [
        _measured(each, by_hand[number].shown, found[number], each.at_us < replaced_us)
        for number, each in enumerate(handhelds)
    ]
    return MeasuredByHand(tuple(sorted(readings, key=lambda each: each.at_us)), tuple(concluded))


def of_newest_layout(module: ModulePlan, measured: MeasuredByHand) -> MeasuredByHand:
    """Only what was measured at the unit that stands here, under the layout that holds now."""
    from_us = module.epochs[-1].from_us
    return MeasuredByHand(
        tuple(r for r in measured.readings if not r.of_unit_before and r.at_us >= from_us),
        tuple(each for each in measured.concluded if each.at_us >= from_us),
    )


def _groups(
    module: ModulePlan, handhelds: Sequence[Handheld], replaced_us: int, alone: Container[int]
) -> Iterable[tuple[Epoch, bool, list[int]]]:
    """The numbers of the readings under each layout, of the unit before and of this one apart."""
    for epoch in module.epochs:
        for is_before in (True, False):
            numbers = [
                number
                for number, each in enumerate(handhelds)
                if epoch_at(module, each.at_us) is epoch
                and (each.at_us < replaced_us) is is_before
                and number not in alone
            ]
            if numbers:
                yield epoch, is_before, numbers


def _samples(
    store: Store,
    module: ModulePlan,
    epoch: Epoch,
    known: Mapping[tuple[str, str], int],
    at_us: int,
    moved: Moved,
) -> dict[str, Samples]:
    keys = {name: (str(module.owners[stored]), stored) for name, stored in epoch.stored_as.items()}
    ids = {name: known[key] for name, key in keys.items() if key in known}
    return samples(store, epoch, ids, np.array([at_us]), STEP_US, moved)


def _by_hand(each: Handheld, display: Display) -> ByHand:
    side = None if each.side is None else Side(each.side)
    kind, shown = Kind(each.kind), _shown(each, display)
    return ByHand(each.at_us, kind, each.place, side, each.value, each.half_width, shown)


def _shown(each: Handheld, display: Display) -> Shown:
    """In which unit it is told."""
    if Kind(each.kind) is not Kind.TRANSDUCER:
        name = display.temperature_unit
        return AS_IT_IS if name == SI.temperature_unit else Shown(name, name, *UNITS[name][1:])
    given, unit = Shown(*orjson.loads(each.body).get("shown", AS_IT_IS)), display.pressure_unit
    if unit == SI.pressure_unit:
        return given
    name = f"{unit}{given.name.removeprefix(given.unit)}"  # gauge stays gauge, absolute absolute
    return Shown(name, unit, UNITS[unit].factor, given.reference_pa)


def withdrawn(each: Handheld) -> Withdrawn | None:
    """That somebody took a reading back; None: nobody has."""
    found = orjson.loads(each.body).get("withdrawn")
    return None if found is None else Withdrawn(*found)


def _alone(
    module: ModulePlan, handhelds: Sequence[Handheld], by_hand: Sequence[ByHand], kept_us: int | None
) -> dict[int, HandheldCompared]:
    """Those that nothing is compared with: taken back, or of a time whose readings are no longer kept."""
    found = {}
    for number, (each, shown) in enumerate(zip(handhelds, by_hand, strict=True)):
        if withdrawn(each):
            found[number] = _uncompared(shown, "not used")
        elif kept_us is not None and each.at_us - module.lookback_us - STEP_US < kept_us:
            found[number] = _uncompared(shown, "the readings of that time are no longer kept")
    return found


def _uncompared(each: ByHand, why: str) -> HandheldCompared:
    text = f"{each.figure(each.value)} by hand: {why}"
    return HandheldCompared(Of.READING, "", Verdict.CANNOT_TELL, text, each.at_us)


def follows_from(found: MeasuredByHand, this: Measured) -> list[HandheldCompared]:
    """What follows from a reading together with others, and from none that came after it alone."""
    return [
        each
        for each in found.concluded
        if this.place in (each.probe, each.inlet, each.like) and each.at_us >= this.at_us
    ]


def _measured(each: Handheld, shown: Shown, found: HandheldCompared, of_unit_before: bool) -> Measured:
    body = orjson.loads(each.body)
    return Measured(
        each.at_us,
        each.given_us,
        each.who,
        Kind(each.kind),
        each.place,
        each.side,
        each.value,
        each.half_width,
        body["given"],
        body["assumed"],
        body["note"],
        found,
        of_unit_before,
        each.id,
        shown,
        withdrawn(each),
    )
