"""A span of a module's past assessed anew because a person said so, under a revision of its own.

What the module is stays as the configuration file says; what was assessed before stays under its revision.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from agent.alarms import RefusedError
from agent.outlets.shown import Display
from agent.readings import Span
from agent.service.keeping import assessable_from_us, no_longer_kept
from agent.service.said import module_line, when
from agent.service.watched import Watched
from agent.settings import reassessed
from agent.store import Command, Store


def reassess(
    store: Store, watched: Watched, command: Command, body: Mapping[str, Any], now_us: int, display: Display
) -> None:
    """Open the revision, with its span to be worked off like any other, and say so in the journal.

    Given again after a kill in between it opens the same one, and nothing twice. Raises RefusedError.
    """
    path, why = watched.plan.path, str(body.get("why", ""))
    from_us, until_us = body.get("from_us"), body.get("until_us")
    if not isinstance(from_us, int) or not isinstance(until_us, int):
        raise RefusedError(f"{path} cannot be assessed anew: the command does not say from when to when.")
    first_us = store.first_sample_us(watched.signal_ids.values(), watched.moved)
    progress_us = store.progress(watched.module_id)
    kept_us = assessable_from_us(store, watched.plan)
    if kept_us is not None and until_us < kept_us:
        raise RefusedError(f"{path} cannot be assessed anew. {no_longer_kept(kept_us, display)}")
    if first_us is None or progress_us is None or max(from_us, first_us) > min(until_us, progress_us):
        raise RefusedError(f"{path} has nothing to assess anew: no reading of it lies in that time.")
    span = Span(watched.module_id, max(from_us, first_us, kept_us or first_us), min(until_us, progress_us))
    said = {
        "from_us": span.from_us,
        "to_us": span.to_us,
        "given_us": command.created_us,
        "by": command.who,
        "why": why,
    }
    revised = reassessed(watched.plan.revision, said)
    reason = f"assessed anew: {why} ({command.who})"
    watched.revision_id = store.open_revision(watched.module_id, revised, reason, now_us, span).id
    outcome = f"{path} is assessed anew from {when(span.from_us, display)} to {when(span.to_us, display)}."
    if kept_us is not None and from_us < kept_us:
        outcome += f" {no_longer_kept(kept_us, display)}"
    store.finish_command(command, now_us, outcome, journal=[module_line(watched, command, why, now_us)])
