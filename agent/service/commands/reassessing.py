"""A span of a module's past assessed anew because a person said so, under a revision of its own.

What the module is stays as the configuration file says; what was assessed before stays under its revision.
"""

from __future__ import annotations

from agent.alarms import RefusedError
from agent.readings import Span
from agent.service.work.keeping import assessable_from_us, no_longer_kept
from agent.service.work.order import Order
from agent.settings import reassessed


def reassess(order: Order) -> None:
    """Open the revision, with its span to be worked off like any other, and say so in the journal.

    Given again after a kill in between it opens the same one, and nothing twice. Raises RefusedError.
    """
    store, watched, path, why = order.store, order.watched, order.path, order.why
    from_us, until_us = order.body.get("from_us"), order.body.get("until_us")
    if not isinstance(from_us, int) or not isinstance(until_us, int):
        raise RefusedError(f"{path} cannot be assessed anew: the command does not say from when to when.")
    first_us = store.first_sample_us(watched.signal_ids.values(), watched.moved)
    progress_us = store.progress(watched.module_id)
    kept_us = assessable_from_us(store, watched.plan)
    if kept_us is not None and until_us < kept_us:
        raise RefusedError(f"{path} cannot be assessed anew. {no_longer_kept(kept_us, order.display)}")
    if first_us is None or progress_us is None or max(from_us, first_us) > min(until_us, progress_us):
        raise RefusedError(f"{path} has nothing to assess anew: no reading of it lies in that time.")
    span = Span(watched.module_id, max(from_us, first_us, kept_us or first_us), min(until_us, progress_us))
    said = {
        "from_us": span.from_us,
        "to_us": span.to_us,
        "given_us": order.command.created_us,
        "by": order.command.who,
        "why": why,
    }
    revised = reassessed(watched.plan.revision, said)
    reason = f"assessed anew: {why} ({order.command.who})"
    watched.revision_id = store.open_revision(watched.module_id, revised, reason, order.now_us, span).id
    since, until = (order.display.when(each) for each in (span.from_us, span.to_us))
    outcome = f"{path} is assessed anew from {since} to {until}."
    if kept_us is not None and from_us < kept_us:
        outcome += f" {no_longer_kept(kept_us, order.display)}"
    order.done(outcome, journal=[order.line(why)])
