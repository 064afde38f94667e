"""What the pages are made of: the store and the running agent, as the server asks for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from agent.service.acknowledging import Acknowledged, acknowledge
from agent.service.looking import find
from agent.service.past_csv import past_csv
from agent.service.visiting import brief
from agent.settings import ModulePlan, Plan
from agent.store import Store

DAY_US = 86_400_000_000
VISIT_US = 14 * DAY_US  # how far back a brief looks unless it is said


class Pages:
    """The pages of a site, for reading only. Several threads may ask.

    ``clock``: microseconds of UTC. ``reasons``: why the agent does not do its work now.
    """

    def __init__(
        self, store: Store, plan: Plan, clock: Callable[[], int], reasons: Callable[[], list[str]]
    ) -> None:
        self._store = store
        self._plan = plan
        self._clock = clock
        self._reasons = reasons

    def status(self, *, still: bool = False) -> str:
        """The status page as HTML. ``still``: it does not make itself anew. Raises StoreError."""
        return "<!doctype html><title>Dewline</title>"

    def visit(self, system: str, module: str, since_us: int | None) -> str:
        """The brief as HTML. Raises LookupError, StoreError."""
        found, now_us = self._module(system, module), self._clock()
        return brief(self._store, self._plan, found, now_us - (since_us or VISIT_US), now_us, now_us)

    def history(self, system: str, module: str, from_us: int, to_us: int, readings: bool) -> Iterator[str]:
        """CSV in pieces. Raises LookupError, StoreError."""
        found, latest_us = self._module(system, module), self._clock() + DAY_US
        return past_csv(self._store, self._plan, found, from_us, min(to_us, latest_us), readings)

    def acknowledge(self, alarm_id: str, token: str, who: str, note: str) -> Acknowledged:
        """Say that somebody sees to an alarm. Raises StoreError."""
        return acknowledge(self._store, self._plan, alarm_id, token, who, note, self._clock())

    def not_ready(self) -> list[str]:
        """Why the agent does not do its work now, a sentence each; empty: it does."""
        return self._reasons()

    def _module(self, system: str, module: str) -> ModulePlan:
        return find(self._plan, f"{self._plan.settings.site}/{system}/{module}")
