"""Another unit under the same name: nothing is usual for it yet, and its layout is not confirmed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson

from agent.alarms import RefusedError
from agent.assess import SECOND
from agent.outlets.shown import Display
from agent.readings import EVER_US, Span
from agent.service.work.order import OF_THE_MODULE, Order
from agent.service.work.to_do import CATCH_UP_US
from agent.service.work.watched import shadow_ends_us
from agent.store import Command, Store

SAME_US = 600 * SECOND  # said twice of the same exchange; design choice, no source


def replace_unit(order: Order) -> None:
    """Take down that another unit stands there, and have assessed anew what was assessed since.

    Alarms that stand stay as they are. Raises RefusedError with a whole sentence.
    """
    store, watched, path, display = order.store, order.watched, order.path, order.display
    since_us = replaced_at(store, order.command, order.body, watched.service.replaced_us, display)
    kept_us = store.first_sample_us(watched.signal_ids.values(), watched.moved)
    known = (at_us for at_us in (kept_us, store.first_assessed(watched.module_id)) if at_us is not None)
    first_us = min(known, default=None)  # readings may not be kept as far back as they came in
    if first_us is None or since_us < first_us:
        first = "none has come in" if first_us is None else f"its first is of {display.when(first_us)}"
        raise RefusedError(f"There is no reading of {path} before {display.when(since_us)}: {first}.")
    service = watched.service._replace(replaced_us=since_us)
    shadow_ends = shadow_ends_us(watched.plan, service, watched.opened_us, watched.first_us)
    from_us, progress_us = max(since_us, order.now_us - CATCH_UP_US), store.progress(watched.module_id) or 0
    order.done(
        f"Another unit stands at {path} since {display.when(since_us)}: what is usual of it is learnt anew "
        f"from then on, and its layout is not confirmed. {_sent(shadow_ends, order.now_us, display)}",
        order.step(shadow=watched.in_shadow(order.now_us, service)),
        journal=[order.line(order.why, since_us)],
        service=service,
        dirty_span=Span(watched.module_id, from_us, progress_us) if from_us <= progress_us else None,
    )


def _sent(shadow_ends: int | None, now_us: int, display: Display) -> str:
    if shadow_ends is None:
        return "Its alarms are sent at once (shadow_days: 0)."
    if shadow_ends <= now_us:
        return "Its alarms are sent: it has stood there longer than the time for which they are only shown."
    return f"Its alarms are shown and not sent until {display.when(shadow_ends)}, or until it is confirmed."


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
            f"It was already replaced at {display.when(before_us)}{_by(store, command, before_us)}."
        )
    if before_us is not None and at_us < before_us:
        raise RefusedError(f"It was replaced after that already, at {display.when(before_us)}.")
    return at_us


def _by(store: Store, command: Command, replaced_us: int) -> str:
    """Who said it."""
    said = [
        orjson.loads(entry.body)["who"]
        for entry in store.journal(command.module_id or 0, 0, EVER_US)
        if (entry.alarm, entry.transition, entry.event_us) == (OF_THE_MODULE, "replaced", replaced_us)
    ]
    return f" by {said[-1]}" if said else ""
