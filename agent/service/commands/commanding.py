"""What people tell the running agent: each command is worked off whole or not at all, and has an outcome."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping
from functools import partial

import orjson

from agent.alarms import Deed, Life, RefusedError
from agent.outlets.shown import SI, Display
from agent.service.by_hand.measuring import check_time, handheld_of, take_down, withdraw, withdrawable
from agent.service.commands.deeds import NOTHING_STANDS, WAYS, do_to_alarms
from agent.service.commands.reassessing import reassess
from agent.service.commands.replacing import replace_unit, replaced_at
from agent.service.work.alarming import Alarms
from agent.service.work.order import Kind, Order
from agent.service.work.watched import Watched
from agent.store import Command, Store, StoreError

_log = logging.getLogger(__name__)


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
            kind, body = _understood(command)
            _DO[kind](Order(store, alarms, here, command, body, now_us, display))
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
        if each.module_id != ours.module_id or each.alarm not in (ours.alarm, None) or each.kind not in WAYS:
            continue
        body = orjson.loads(each.body)
        deed = Deed(WAYS[Kind(each.kind)].event, each.who, body.get("why", ""), body.get("until_us"))
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


def _understood(command: Command) -> tuple[Kind, dict[str, object]]:
    """Raises RefusedError with a whole sentence."""
    try:
        return Kind(command.kind), dict(orjson.loads(command.body))
    except (ValueError, TypeError):
        raise RefusedError(
            f"The command {command.kind!r} is not understood by this version of the agent."
        ) from None


def _confirm(order: Order) -> None:
    if not order.watched.in_shadow(order.now_us) and order.watched.service.unconfirmed_us is None:
        raise RefusedError(f"{order.path} needs no confirmation: its alarms are sent already.")
    order.done(
        f"{order.path} is confirmed by {order.command.who}: its alarms are sent from now on.",
        order.step(shadow=False),
        journal=[order.line(order.why)],
        service=order.watched.service._replace(confirmed_us=order.now_us),
    )


def _relearn(order: Order) -> None:
    at_us = order.command.created_us
    order.done(
        f"What is usual of {order.path} is learnt anew from {order.display.when(at_us)} on.",
        order.step(),
        journal=[order.line(order.why)],
        service=order.watched.service._replace(relearn_us=at_us),
    )


# One command in one transaction each. Raises RefusedError with a whole sentence.
_DO: Mapping[Kind, Callable[[Order], None]] = {
    **{kind: partial(do_to_alarms, kind=kind) for kind in WAYS},
    Kind.CONFIRM: _confirm,
    Kind.RELEARN: _relearn,
    Kind.REASSESS: reassess,
    Kind.REPLACED: replace_unit,
    Kind.MEASURE: take_down,
    Kind.WITHDRAW: withdraw,
}
