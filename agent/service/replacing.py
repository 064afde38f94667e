"""Another unit under the same name: nothing is usual for it yet, and its layout is not confirmed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson

from agent.alarms import RefusedError
from agent.assess import SECOND
from agent.outlets.shown import Display
from agent.readings import Span
from agent.service.alarming import EVER_US, Alarms, shadow_ends_us
from agent.service.assessing import CATCH_UP_US
from agent.service.said import OF_THE_MODULE, module_line, when
from agent.service.watched import Watched
from agent.store import Command, Store

SAME_US = 600 * SECOND  # said twice of the same exchange; design choice, no source


def replace_unit(
    store: Store,
    alarms: Alarms,
    watched: Watched,
    command: Command,
    body: Mapping[str, Any],
    now_us: int,
    display: Display,
) -> None:
    """Take down that another unit stands there, and have assessed anew what was assessed since.

    Alarms that stand stay as they are. Raises RefusedError with a whole sentence.
    """
    path = watched.plan.path
    since_us = replaced_at(store, command, body, watched.service.replaced_us, display)
    kept_us = store.first_sample_us(watched.signal_ids.values(), watched.moved)
    known = (at_us for at_us in (kept_us, store.first_assessed(watched.module_id)) if at_us is not None)
    first_us = min(known, default=None)  # readings may not be kept as far back as they came in
    if first_us is None or since_us < first_us:
        first = "none has come in" if first_us is None else f"its first is of {when(first_us, display)}"
        raise RefusedError(f"There is no reading of {path} before {when(since_us, display)}: {first}.")
    service = watched.service._replace(replaced_us=since_us)
    shadow = watched.in_shadow(now_us, service)
    step = alarms.step(watched, now_us, watched.latest, lambda _: watched.latest, shadow=shadow)
    outcome = (
        f"Another unit stands at {path} since {when(since_us, display)}: what is usual of it is learnt anew "
        "from then on, and its layout is not confirmed. "
        + _sent(shadow_ends_us(watched.plan, service, watched.opened_us, watched.first_us), now_us, display)
    )
    from_us, progress_us = max(since_us, now_us - CATCH_UP_US), store.progress(watched.module_id) or 0
    store.finish_command(
        command,
        now_us,
        outcome,
        service=service,
        alarm_states=step.alarm_states,
        journal=[*step.journal, module_line(watched, command, body.get("why", ""), now_us, since_us)],
        notices=step.notices,
        dirty_span=Span(watched.module_id, from_us, progress_us) if from_us <= progress_us else None,
    )
    watched.service = service
    watched.lives |= step.lives


def _sent(shadow_ends: int | None, now_us: int, display: Display) -> str:
    if shadow_ends is None:
        return "Its alarms are sent at once (shadow_days: 0)."
    if shadow_ends <= now_us:
        return "Its alarms are sent: it has stood there longer than the time for which they are only shown."
    return f"Its alarms are shown and not sent until {when(shadow_ends, display)}, or until it is confirmed."


def replaced_at(
    store: Store, command: Command, body: Mapping[str, Any], before_us: int | None, display: Display
) -> int:
    """Since when it stands there: as stated, else since it was said. Raises RefusedError."""
    at_us = body.get("at_us", command.created_us)
    if not isinstance(at_us, int):
        raise RefusedError("The time is not understood by this version of the agent.")
    if at_us > command.created_us:
        raise RefusedError("No unit can have been replaced in the future.")
    if before_us is not None and abs(at_us - before_us) < SAME_US:
        raise RefusedError(
            f"It was already replaced at {when(before_us, display)}{_by(store, command, before_us)}."
        )
    if before_us is not None and at_us < before_us:
        raise RefusedError(f"It was replaced after that already, at {when(before_us, display)}.")
    return at_us


def _by(store: Store, command: Command, replaced_us: int) -> str:
    """Who said it."""
    said = [
        orjson.loads(entry.body)["who"]
        for entry in store.journal(command.module_id or 0, 0, EVER_US)
        if (entry.alarm, entry.transition, entry.event_us) == (OF_THE_MODULE, "replaced", replaced_us)
    ]
    return f" by {said[-1]}" if said else ""
