"""An alarm acknowledged by somebody who holds the token of its notice, through the running agent."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.alarms import Life
from agent.outlets.ack import SECRET, AlarmId, expires_us
from agent.outlets.shown import Display
from agent.service.commanding import NOTHING_STANDS, Kind
from agent.service.listing import ANSWER_S, UnwatchedModuleError, give, outcome
from agent.settings import ModulePlan, Plan
from agent.store import Store

LONGEST_TEXT = 300  # characters of a name or a note


class Outcome(StrEnum):
    """What came of it."""

    DONE = "done"
    REFUSED = "refused"  # there is nothing to acknowledge, or not in this way
    UNKNOWN = "unknown"  # no such alarm here
    FORBIDDEN = "forbidden"  # the token does not allow it
    WAITING = "waiting"  # it is kept, and the agent has not come to it yet


@dataclass(frozen=True)
class Acknowledged:
    """What came of it, and a sentence for who asked."""

    outcome: Outcome
    text: str


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
    until_us = expires_us(store.secret(SECRET), alarm_id, token)
    if until_us is None:
        return _forbidden("This token does not belong to this alarm; take the whole link from the notice")
    if now_us >= until_us:
        return _forbidden(f"This token held until {display.when(until_us)}; take that of a newer notice")
    meant = AlarmId.read(alarm_id)
    module = next((each for each in plan.modules if meant and each.path == meant.path), None)
    if meant is None or module is None or meant.alarm not in module.catalogue:
        return Acknowledged(Outcome.UNKNOWN, "This alarm is of a module that is no longer configured.")
    who, note = who.strip(), note.strip()
    if not who:
        return _refused("Who acknowledges it? Give your name.")
    if not all((text.isprintable() and len(text) <= LONGEST_TEXT) for text in (who, note)):
        return _refused(f"A name and a note take up to {LONGEST_TEXT} characters that can be printed.")
    if why := _stale(store, module, meant, display):
        return _refused(f"{meant.alarm} at {meant.path} cannot be acknowledged: {why}.")
    try:
        command_id = give(store, module, Kind.ACKNOWLEDGE, who, now_us, meant.alarm, why=note)
    except UnwatchedModuleError as error:
        return Acknowledged(Outcome.UNKNOWN, f"{error}.")
    command = outcome(store, command_id, wait_s)
    if command is None:
        return Acknowledged(Outcome.WAITING, "It is kept, and counts as soon as the agent comes to it.")
    done = Outcome.REFUSED if command.refused else Outcome.DONE
    return Acknowledged(done, command.outcome or "")


def _forbidden(text: str) -> Acknowledged:
    return Acknowledged(Outcome.FORBIDDEN, f"{text}, or say `dewline ack` on the agent's machine.")


def _refused(text: str) -> Acknowledged:
    return Acknowledged(Outcome.REFUSED, text)


def _stale(store: Store, module: ModulePlan, meant: AlarmId, display: Display) -> str:
    """Why the occurrence that is meant waits for nobody; empty: it does."""
    module_id = store.module_ids().get(module.path)
    kept = {} if module_id is None else {each.alarm: each.state for each in store.alarm_states(module_id)}
    life = Life.load(kept[meant.alarm]) if meant.alarm in kept else Life()
    if AlarmId.of(module.path, meant.alarm, life) != meant:
        since = "" if life.since_us is None else f", the condition since {display.when(life.since_us)}"
        return f"the notice was of an earlier occurrence; it has come anew since then{since}"
    if life.withdrawn:
        return f"it is withdrawn: {life.withdrawn}"
    if not life.state.acknowledged:
        return ""
    if not (life.state.active or life.state.latched):
        return NOTHING_STANDS
    return "it is acknowledged already" + (f", by {life.acknowledged_by}" if life.acknowledged_by else "")
