"""An alarm acknowledged by somebody who holds the token of its notice, through the running agent."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from agent.alarms import Life
from agent.outlets import typed
from agent.outlets.alarm_words import acknowledged_words
from agent.outlets.notices.ack import SECRET, AlarmId, expires_us
from agent.outlets.shown import Display
from agent.service.commands.deeds import NOTHING_STANDS
from agent.service.commands.giving import ANSWER_S, UnwatchedModuleError, give, outcome
from agent.service.work.order import Kind
from agent.settings import ModulePlan, Plan
from agent.store import Store


class Outcome(StrEnum):
    """What came of it."""

    OPEN = "open"  # it may be acknowledged, and nobody has
    DONE = "done"
    REFUSED = "refused"  # there is nothing to acknowledge, or not in this way
    UNKNOWN = "unknown"  # no such alarm here
    FORBIDDEN = "forbidden"  # the token does not allow it
    EXPIRED = "expired"  # nor any more
    WAITING = "waiting"  # it is kept, and the agent has not come to it yet


@dataclass(frozen=True)
class Acknowledged:
    """What came of it, and what to say to who asked."""

    outcome: Outcome
    text: str


class _Meant(NamedTuple):
    """The occurrence that a token is of."""

    id: AlarmId
    module: ModulePlan


def acknowledgeable(store: Store, plan: Plan, alarm_id: str, token: str, now_us: int) -> Acknowledged:
    """Whether one occurrence of an alarm waits for somebody, or why it does not. It changes nothing.

    Nothing is said of alarms to whoever has no token of this one. Raises StoreError.
    """
    display = Display.of(plan.settings.display)
    meant = _meant(store, plan, alarm_id, token, now_us, display)
    if isinstance(meant, Acknowledged):
        return meant
    life = _life(store, meant)
    if why := _stale(life, meant, display):
        return _refused(why)
    return Acknowledged(Outcome.OPEN, f"{_stands(life, display)} Nobody has acknowledged it yet.")


def acknowledge(
    store: Store,
    plan: Plan,
    alarm_id: str,
    token: str,
    who: str,
    note: str,
    now_us: int,
    wait_s: float = ANSWER_S,
) -> Acknowledged:
    """Acknowledge one occurrence of an alarm. ``who`` and ``note``: as somebody typed them.

    Nothing is said of alarms to whoever has no token of this one. Raises StoreError.
    """
    display = Display.of(plan.settings.display)
    meant = _meant(store, plan, alarm_id, token, now_us, display)
    if isinstance(meant, Acknowledged):
        return meant
    who, note = who.strip(), note.strip()
    if not who:
        return _refused("Who acknowledges it? Give your name.")
    if not all(map(typed.is_fit, (who, note))):
        return _refused(f"A name and a note take up to {typed.LONGEST} characters that can be printed.")
    alarm, path = meant.id.alarm, meant.id.path
    if why := _stale(_life(store, meant), meant, display):
        return _refused(why)
    try:
        command_id = give(store, meant.module, Kind.ACKNOWLEDGE, who, now_us, alarm, why=note)
    except UnwatchedModuleError as error:
        return Acknowledged(Outcome.UNKNOWN, f"{error}.")
    command = outcome(store, command_id, wait_s)
    by = acknowledged_words(Life(acknowledged_by=who, acknowledged_us=now_us, note=note), display)
    if command is None:
        text = f"That it is acknowledged {by} is kept, and counts as soon as the agent comes to it."
        return Acknowledged(Outcome.WAITING, text)
    if command.refused:
        return _refused(command.outcome or "")
    text = f"{alarm} at {path} is acknowledged {by}. {_stands(_life(store, meant), display)}"
    return Acknowledged(Outcome.DONE, text)


def _meant(
    store: Store, plan: Plan, alarm_id: str, token: str, now_us: int, display: Display
) -> _Meant | Acknowledged:
    """What a token opens; or what to say to who shows it."""
    until_us = expires_us(store.secret(SECRET), alarm_id, token)
    if until_us is None:
        lacks = "This token does not belong to this alarm" if token else "A token is missing"
        return _not(Outcome.FORBIDDEN, f"{lacks}; take the whole link from the notice")
    if now_us >= until_us:
        held = f"This link worked until {display.when(until_us)}; take that of a newer notice"
        return _not(Outcome.EXPIRED, held)
    meant = AlarmId.read(alarm_id)
    module = next((each for each in plan.modules if meant and each.path == meant.path), None)
    if meant is None or module is None or meant.alarm not in module.catalogue:
        return Acknowledged(Outcome.UNKNOWN, "This alarm is of a module that is no longer configured.")
    return _Meant(meant, module)


def _not(what: Outcome, text: str) -> Acknowledged:
    return Acknowledged(what, f"{text}, or say `dewline ack` on the machine where Dewline runs.")


def _refused(text: str) -> Acknowledged:
    return Acknowledged(Outcome.REFUSED, text)


def _life(store: Store, meant: _Meant) -> Life:
    module_id = store.module_ids().get(meant.module.path)
    kept = {} if module_id is None else {each.alarm: each.state for each in store.alarm_states(module_id)}
    return Life.load(kept[meant.id.alarm]) if meant.id.alarm in kept else Life()


def _stands(life: Life, display: Display) -> str:
    """Whether it stands, in a sentence."""
    if life.state.active:
        return f"The alarm still stands; it began {display.day_time(life.since_us)}."
    latched = " It is latched, until somebody resets it." if life.state.latched else ""
    return f"The alarm is over.{latched}"


def _stale(life: Life, meant: _Meant, display: Display) -> str:
    """Why the occurrence that is meant waits for nobody; empty: it does."""
    what = f"{meant.id.alarm} at {meant.id.path}"
    cannot = f"{what} cannot be acknowledged"
    if AlarmId.of(meant.module.path, meant.id.alarm, life) != meant.id:
        since = "" if life.since_us is None else f", the condition since {display.when(life.since_us)}"
        return f"{cannot}: the notice was of an earlier occurrence; it has come anew since then{since}."
    if life.withdrawn:
        return f"{cannot}: it is withdrawn: {life.withdrawn}."
    if not life.state.acknowledged:
        return ""
    if not (life.state.active or life.state.latched):
        return f"{cannot}: {NOTHING_STANDS}."
    by = f", {acknowledged_words(life, display)}" if life.acknowledged_by else ""
    return f"{what} is acknowledged already{by}. {_stands(life, display)}"
