"""What people do to the alarms of a module: acknowledge, reset, shelve, take out of service and put back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from agent.alarms import Deed, Event, Life, RefusedError
from agent.assess import SECOND
from agent.readings import EVER_US
from agent.service.work.order import Kind, Order

LONGEST_SHELF_US = 31 * 86_400 * SECOND  # design choice, no source
NOTHING_STANDS = "it does not stand, and there is nothing to acknowledge"


class _Way(NamedTuple):
    event: Event
    done: str  # what then is so
    cannot: str  # what then cannot be


WAYS: Mapping[Kind, _Way] = {
    Kind.ACKNOWLEDGE: _Way(Event.ACKNOWLEDGED, "is acknowledged by {who}", "cannot be acknowledged"),
    Kind.RESET: _Way(Event.RESET, "is reset by {who}", "cannot be reset"),
    Kind.SHELVE: _Way(
        Event.SHELVED, "is shelved by {who} until {until}; before that nobody is told", "cannot be shelved"
    ),
    Kind.UNSHELVE: _Way(Event.UNSHELVED, "is no longer shelved", "cannot be taken off the shelf"),
    Kind.REMOVE: _Way(
        Event.REMOVED, "is out of service until it is put back", "cannot be taken out of service"
    ),
    Kind.RETURN: _Way(Event.RETURNED, "is back in service", "cannot be put back into service"),
}


def do_to_alarms(order: Order, kind: Kind) -> None:
    """Do it to the alarm that is named, or to all that it can be meant for. Raises RefusedError."""
    way, alarm, path = WAYS[kind], order.command.alarm, order.path
    deed = Deed(
        way.event, order.command.who, order.why, order.body.get("until_us"), order.body.get("since_us")
    )
    what = f"{alarm} at {path}" if alarm else f"Every alarm at {path}"
    names = [alarm] if alarm else _all_that_can(order, kind)
    if alarm and alarm not in order.watched.plan.catalogue:
        raise RefusedError(f"{path} has no alarm {alarm!r}.")
    try:
        if not names:
            raise RefusedError(_nothing_to_do(kind))
        if deed.until_us is not None and deed.until_us - order.now_us > LONGEST_SHELF_US:
            raise RefusedError("that is longer than 31 days; take it out of service instead")
        step = order.step([(name, deed, order.command.created_us) for name in names])
    except RefusedError as error:
        why = _acknowledged_already(order, kind) or error
        raise RefusedError(f"{what} {way.cannot}: {why}.") from None
    until = "" if deed.until_us is None else order.display.when(deed.until_us)
    then = _in_place_of(order, kind, names) + _since_then(order, kind, step.lives, names)
    order.done(f"{what} {way.done.format(who=order.command.who, until=until)}{then}.", step)


def _life(order: Order, name: str) -> Life:
    return order.watched.lives.get(name, Life())


def _all_that_can(order: Order, kind: Kind) -> list[str]:
    """Of a command to every alarm: those that it means."""
    every = {name: _life(order, name).state for name in order.watched.plan.catalogue}
    means = {
        Kind.REMOVE: [name for name, state in every.items() if not state.out_of_service],
        Kind.RETURN: [name for name, state in every.items() if state.out_of_service],
        Kind.ACKNOWLEDGE: [name for name, state in every.items() if not state.acknowledged],
    }
    return means.get(kind, [])


def _nothing_to_do(kind: Kind) -> str:
    told = {
        Kind.REMOVE: "all are out of service already",
        Kind.RETURN: "all are in service",
        Kind.ACKNOWLEDGE: "there is nothing to acknowledge",
    }
    return told.get(kind, "name the alarm")


def _in_place_of(order: Order, kind: Kind, names: Sequence[str]) -> str:
    """Of what was shelved already: the end that no longer holds."""
    shelved = [_life(order, name) for name in names] if kind is Kind.SHELVE else []
    ends = [
        f"; it was to end at {order.display.when(life.state.shelved_until_us)}, by {life.shelved_by}"
        for life in shelved
        if life.state.shelved_until_us is not None and life.state.is_shelved(order.now_us)
    ]
    return "".join(ends)


def _since_then(order: Order, kind: Kind, lives: Mapping[str, Life], names: Sequence[str]) -> str:
    """Of what is back among the others, what stands, and whose acknowledgement no longer counts."""
    stands = [name for name in names if name in lives and lives[name].state.active]
    if not stands or kind not in (Kind.UNSHELVE, Kind.RETURN):
        return ""
    told = []
    for name in stands:
        by = _acknowledgement(order, name)
        told.append(f" ({by[0]} had acknowledged it at {by[1]})" if by else "")
    if len(names) == 1:
        return f", stands, and waits to be acknowledged{' again' if told[0] else ''}{told[0]}"
    each = ", ".join(f"{name}{by}" for name, by in zip(stands, told, strict=True))
    return f"; of these stand, and wait to be acknowledged: {each}"


def _acknowledged_already(order: Order, kind: Kind) -> str:
    """Why one alarm cannot be acknowledged: by whom and when it was, or that it does not stand."""
    name = order.command.alarm
    if name is None or kind is not Kind.ACKNOWLEDGE or not _life(order, name).state.acknowledged:
        return ""
    state = _life(order, name).state
    if not state.active and not state.latched:
        return NOTHING_STANDS
    by = _acknowledgement(order, name)
    return f"it is acknowledged already, by {by[0]} at {by[1]}" if by else ""


def _acknowledgement(order: Order, name: str) -> tuple[str, str] | None:
    """Who acknowledged what stands, and when."""
    life = _life(order, name)
    if not life.acknowledged_by:
        return None
    if life.acknowledged_us is not None:
        return life.acknowledged_by, order.display.when(life.acknowledged_us)
    lines = [
        entry.event_us
        for entry in order.store.journal(order.watched.module_id, 0, EVER_US)
        if (entry.alarm, entry.transition) == (name, Event.ACKNOWLEDGED)
    ]
    return life.acknowledged_by, order.display.when(max(lines, default=life.changed_us or 0))
