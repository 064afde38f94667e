"""Whether the agent does its work now: the store can be read, the broker is there, assessing keeps up."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from agent.assess import SECOND
from agent.outlets.metrics.scrape import ConnectionFacts
from agent.service.work.watched import Watched
from agent.store import Store, StoreError

ROUND_S = 60.0  # a round of assessing begins every few seconds


@dataclass
class Readiness:
    """What the agent knows of its own work. ``lag_us``: how far assessments may lie behind readings."""

    store: Store
    watched: Sequence[Watched]
    facts: Callable[[], ConnectionFacts]
    lag_us: int
    _worked_s: float | None = None  # by the monotonic clock

    def worked(self) -> None:
        """A round of assessing has ended."""
        self._worked_s = time.monotonic()

    def reasons(self) -> list[str]:
        """Why it does not do its work, a sentence each; empty: it does."""
        return list(self._reasons())

    def _reasons(self) -> Iterator[str]:
        try:
            self.store.modules()
        except StoreError as error:
            yield f"the store cannot be read: {error}"
        if not self.facts().connected:
            yield "the broker is not connected"
        ago_s = None if self._worked_s is None else time.monotonic() - self._worked_s
        if ago_s is None:
            yield "no round of assessing has ended yet"
        elif ago_s > ROUND_S:
            yield f"no round of assessing has ended for {ago_s:.0f} s"
        for each in self.watched:
            newest_us, latest = each.feed.newest_us, each.latest
            if newest_us is None:
                continue
            if latest is None:
                yield f"{each.plan.path} has readings and is not assessed yet"
            elif newest_us - latest.grid_us > self.lag_us:
                behind_s = (newest_us - latest.grid_us) // SECOND
                yield f"{each.plan.path} is assessed up to {behind_s} s before its newest reading"
