"""Another unit under the same name: nothing is usual for it yet, and its layout is not confirmed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from agent.alarms import RefusedError
from agent.readings import Span
from agent.service.alarming import Alarms
from agent.service.assessing import CATCH_UP_US
from agent.service.said import module_line, when
from agent.service.watched import Watched
from agent.store import Command, Store


def replace_unit(
    store: Store, alarms: Alarms, watched: Watched, command: Command, body: Mapping[str, Any], now_us: int
) -> None:
    """Take down that another unit stands there, and have assessed anew what was assessed since.

    Alarms that stand stay as they are. Raises RefusedError with a whole sentence.
    """
    path, since_us = watched.plan.path, replaced_at(command, body, watched.service.replaced_us)
    service = watched.service._replace(replaced_us=since_us)
    shadow = watched.in_shadow(now_us, service)
    step = alarms.step(watched, now_us, watched.latest, lambda _: watched.latest, shadow=shadow)
    outcome = (
        f"Another unit stands at {path} since {when(since_us)}: what is usual of it is learnt anew from then "
        "on, and its layout is not confirmed."
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


def replaced_at(command: Command, body: Mapping[str, Any], before_us: int | None) -> int:
    """Since when it stands there: as stated, else since it was said. Raises RefusedError."""
    at_us = body.get("at_us", command.created_us)
    if not isinstance(at_us, int):
        raise RefusedError("The time is not understood by this version of the agent.")
    if at_us > command.created_us:
        raise RefusedError("No unit can have been replaced in the future.")
    if before_us is not None and at_us < before_us:
        raise RefusedError(f"It was replaced after that already, at {when(before_us)}.")
    return at_us
