"""What people tell the running agent: each command is worked off whole or not at all, and has an outcome."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

import orjson

from agent.alarms import Deed, Event, Life, RefusedError
from agent.assess import SECOND
from agent.outlets.shown import SI, Display
from agent.service.alarming import EVER_US, Alarms
from agent.service.measuring import check_time, handheld_of, take_down, withdraw, withdrawable
from agent.service.reassessing import reassess
from agent.service.replacing import replace_unit, replaced_at
from agent.service.said import module_line, when
from agent.service.watched import Watched
from agent.store import Command, Store, StoreError

LONGEST_SHELF_US = 31 * 86_400 * SECOND  # design choice, no source
NOTHING_STANDS = "it does not stand, and there is nothing to acknowledge"

_log = logging.getLogger(__name__)


class Kind(StrEnum):
    """What can be told."""

    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    REMOVE = "remove"  # out of service
    RETURN = "return"  # to service
    CONFIRM = "confirm"  # a new module: its alarms are sent
    RELEARN = "relearn"  # what is usual of it
    REASSESS = "reassess"  # a span of its past, under a revision of its own
    REPLACED = "replaced"  # another unit stands under its name
    MEASURE = "measure"  # something was measured by hand
    WITHDRAW = "withdraw"  # what was measured by hand


class _Way(NamedTuple):
    event: Event
    done: str  # what then is so
    cannot: str  # what then cannot be


_WAYS: Mapping[Kind, _Way] = {
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


def work_off_commands(
    store: Store, alarms: Alarms, watched: Iterable[Watched], now_us: int, display: Display = SI
) -> int:
    """Work off what waits, in the order in which it was given; how many. Raises StoreError.

    ``display``: of the answers; what is kept in the journal is in SI and UTC.
    """
    by_id = {each.module_id: each for each in watched}
    waiting = store.waiting_commands()
    for command in waiting:
        here = None if command.module_id is None else by_id.get(command.module_id)
        try:
            if here is None:
                raise RefusedError("Its module is not in the running agent's configuration.")
            _do(store, alarms, here, command, now_us, display)
        except RefusedError as error:
            store.finish_command(command, now_us, str(error), refused=True)
        except StoreError:
            raise
        except Exception:  # or it would hold up all that come after it
            _log.exception("command %d could not be worked off", command.id)
            outcome = "The agent failed at this command; its log says why."
            store.finish_command(command, now_us, outcome, refused=True)
    return len(waiting)


def refused_so_far(store: Store, command_id: int, now_us: int, display: Display = SI) -> str:
    """Why a command that waits would be refused as things stand, after those before it; empty: it would not.

    Of one alarm, and of times: what else is of a whole module is for the agent to say.
    """
    waiting = store.waiting_commands()
    ours = next((each for each in waiting if each.id == command_id), None)
    if ours is None or ours.module_id is None:
        return ""
    if ours.kind in (Kind.MEASURE, Kind.REPLACED, Kind.WITHDRAW):
        return _of_module_refused(store, ours, store.module_service(ours.module_id).replaced_us, display)
    if ours.alarm is None:
        return ""
    kept = {each.alarm: Life.load(each.state) for each in store.alarm_states(ours.module_id)}
    life, why = kept.get(ours.alarm, Life()), ""
    for each in waiting:
        if each.module_id != ours.module_id or each.alarm not in (ours.alarm, None) or each.kind not in _WAYS:
            continue
        body = orjson.loads(each.body)
        deed = Deed(_WAYS[Kind(each.kind)].event, each.who, body.get("why", ""), body.get("until_us"))
        try:
            life, why = life.after_deed(deed, now_us), ""
        except RefusedError as error:
            stands = life.state.active or life.state.latched
            idle = each.kind == Kind.ACKNOWLEDGE and life.state.acknowledged and not stands
            why = NOTHING_STANDS if idle else str(error)
        if each.id == command_id:
            break
    return why


def _of_module_refused(store: Store, command: Command, replaced_us: int | None, display: Display) -> str:
    body = orjson.loads(command.body)
    try:
        if command.kind == Kind.MEASURE:
            check_time(handheld_of(command, body), replaced_us, display)
        elif command.kind == Kind.WITHDRAW:
            withdrawable(store, command, body, display)
        else:
            replaced_at(store, command, body, replaced_us, display)
    except RefusedError as error:
        return str(error).removesuffix(".")
    return ""


def _do(
    store: Store, alarms: Alarms, watched: Watched, command: Command, now_us: int, display: Display
) -> None:
    """One command in one transaction. Raises RefusedError with a whole sentence."""
    try:
        kind, body = Kind(command.kind), orjson.loads(command.body)
        why, until_us, since_us = body.get("why", ""), body.get("until_us"), body.get("since_us")
    except (ValueError, AttributeError):
        raise RefusedError(
            f"The command {command.kind!r} is not understood by this version of the agent."
        ) from None
    if kind is Kind.REASSESS:
        reassess(store, watched, command, body, now_us, display)
    elif kind in _WAYS:
        deed = Deed(_WAYS[kind].event, command.who, why, until_us, since_us)
        _to_alarms(store, alarms, watched, command, kind, deed, now_us, display)
    elif kind is Kind.MEASURE:
        take_down(store, watched, command, body, now_us, display)
    elif kind is Kind.WITHDRAW:
        withdraw(store, watched, command, body, now_us, display)
    elif kind is Kind.REPLACED:
        replace_unit(store, alarms, watched, command, body, now_us, display)
    else:
        _to_module(store, alarms, watched, command, kind, why, now_us, display)


def _to_alarms(
    store: Store,
    alarms: Alarms,
    watched: Watched,
    command: Command,
    kind: Kind,
    deed: Deed,
    now_us: int,
    display: Display,
) -> None:
    path, way = watched.plan.path, _WAYS[kind]
    what = f"{command.alarm} at {path}" if command.alarm else f"Every alarm at {path}"
    names = [command.alarm] if command.alarm else _all_that_can(watched, kind)
    if command.alarm and command.alarm not in watched.plan.catalogue:
        raise RefusedError(f"{path} has no alarm {command.alarm!r}.")
    try:
        if not names:
            raise RefusedError(_nothing_to_do(kind))
        if deed.until_us is not None and deed.until_us - now_us > LONGEST_SHELF_US:
            raise RefusedError("that is longer than 31 days; take it out of service instead")
        step = alarms.step(
            watched,
            now_us,
            watched.latest,
            lambda _: watched.latest,
            deeds=[(name, deed, command.created_us) for name in names],
        )
    except RefusedError as error:
        why = _acknowledged_already(store, watched, command.alarm, kind, display) or error
        raise RefusedError(f"{what} {way.cannot}: {why}.") from None
    until = "" if deed.until_us is None else when(deed.until_us, display)
    then = _in_place_of(watched, kind, names, now_us, display)
    then += _since_then(store, watched, kind, step.lives, names, display)
    outcome = f"{what} {way.done.format(who=command.who, until=until)}{then}."
    store.finish_command(
        command,
        now_us,
        outcome,
        alarm_states=step.alarm_states,
        journal=step.journal,
        notices=step.notices,
    )
    watched.lives |= step.lives


def _all_that_can(watched: Watched, kind: Kind) -> list[str]:
    """Of a command to every alarm: those that it means."""
    every = {name: watched.lives.get(name, Life()).state for name in watched.plan.catalogue}
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


def _in_place_of(watched: Watched, kind: Kind, names: Sequence[str], now_us: int, display: Display) -> str:
    """Of what was shelved already: the end that no longer holds."""
    shelved = [watched.lives.get(name, Life()) for name in names] if kind is Kind.SHELVE else []
    ends = [
        f"; it was to end at {when(life.state.shelved_until_us, display)}, by {life.shelved_by}"
        for life in shelved
        if life.state.shelved_until_us is not None and life.state.is_shelved(now_us)
    ]
    return "".join(ends)


def _since_then(
    store: Store,
    watched: Watched,
    kind: Kind,
    lives: Mapping[str, Life],
    names: Sequence[str],
    display: Display,
) -> str:
    """Of what is back among the others, what stands, and whose acknowledgement no longer counts."""
    stands = [name for name in names if name in lives and lives[name].state.active]
    if not stands or kind not in (Kind.UNSHELVE, Kind.RETURN):
        return ""
    told = []
    for name in stands:
        by = _acknowledgement(store, watched, name, display)
        told.append(f" ({by[0]} had acknowledged it at {by[1]})" if by else "")
    if len(names) == 1:
        return f", stands, and waits to be acknowledged{' again' if told[0] else ''}{told[0]}"
    each = ", ".join(f"{name}{by}" for name, by in zip(stands, told, strict=True))
    return f"; of these stand, and wait to be acknowledged: {each}"


def _acknowledged_already(
    store: Store, watched: Watched, name: str | None, kind: Kind, display: Display
) -> str:
    """Why one alarm cannot be acknowledged: by whom and when it was, or that it does not stand."""
    life = watched.lives.get(name or "", Life())
    if name is None or kind is not Kind.ACKNOWLEDGE or not life.state.acknowledged:
        return ""
    if not life.state.active and not life.state.latched:
        return NOTHING_STANDS
    by = _acknowledgement(store, watched, name, display)
    return f"it is acknowledged already, by {by[0]} at {by[1]}" if by else ""


def _acknowledgement(store: Store, watched: Watched, name: str, display: Display) -> tuple[str, str] | None:
    """Who acknowledged what stands, and when."""
    life = watched.lives.get(name, Life())
    if not life.acknowledged_by:
        return None
    if life.acknowledged_us is not None:
        return life.acknowledged_by, when(life.acknowledged_us, display)
    lines = [
        entry.event_us
        for entry in store.journal(watched.module_id, 0, EVER_US)
        if (entry.alarm, entry.transition) == (name, Event.ACKNOWLEDGED)
    ]
    return life.acknowledged_by, when(max(lines, default=life.changed_us or 0), display)


def _to_module(
    store: Store,
    alarms: Alarms,
    watched: Watched,
    command: Command,
    kind: Kind,
    why: str,
    now_us: int,
    display: Display,
) -> None:
    path = watched.plan.path
    if kind is Kind.CONFIRM:
        if not watched.in_shadow(now_us) and watched.service.unconfirmed_us is None:
            raise RefusedError(f"{path} needs no confirmation: its alarms are sent already.")
        service = watched.service._replace(confirmed_us=now_us)
        outcome = f"{path} is confirmed by {command.who}: its alarms are sent from now on."
    else:
        service = watched.service._replace(relearn_us=command.created_us)
        outcome = f"What is usual of {path} is learnt anew from {when(command.created_us, display)} on."
    shadow = False if kind is Kind.CONFIRM else None
    step = alarms.step(watched, now_us, watched.latest, lambda _: watched.latest, shadow=shadow)
    store.finish_command(
        command,
        now_us,
        outcome,
        service=service,
        alarm_states=step.alarm_states,
        journal=[*step.journal, module_line(watched, command, why, now_us)],
        notices=step.notices,
    )
    watched.service = service
    watched.lives |= step.lives
