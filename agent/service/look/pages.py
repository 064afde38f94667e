"""What the site's pages are made of: the store as it is now, and what the running agent knows."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

from agent.assess import DAY_US
from agent.outlets import ModuleView
from agent.outlets.shown import Display
from agent.outlets.visit import USUAL_SPAN
from agent.outlets.web.cards import Shown
from agent.outlets.web.page import REFRESH_S, render_page
from agent.service.look.acknowledging import Acknowledged, acknowledge, acknowledgeable
from agent.service.look.looking import find, look
from agent.service.look.over import over
from agent.service.look.past_csv import past_csv
from agent.service.look.recent import Recent
from agent.service.look.visiting import brief
from agent.service.machine.clock import now_us
from agent.service.machine.lock import is_worked_on
from agent.settings import ModulePath, ModulePlan, Plan, span_us
from agent.store import Store

LEAST_KEPT_S = 2.0  # a page is shown for so long before it is made anew, however many ask for it
KEPT_PER_S = 5  # and so many times as long as it took: watching takes a fifth of a processor at most


class Pages:
    """The pages of a site. Several threads may ask; but for an acknowledgement they read only.

    ``clock``: microseconds of UTC. ``reasons``: why the agent does not do its work now. ``held``: a module as
    the agent holds it; until it holds all of them, they are looked up in the store.
    """

    def __init__(
        self,
        store: Store,
        plan: Plan,
        clock: Callable[[], int] = now_us,
        reasons: Callable[[], list[str]] = list,
        held: Callable[[ModulePath], ModuleView | None] = lambda _: None,
    ) -> None:
        self._store = store
        self._plan = plan
        self._clock = clock
        self._reasons = reasons
        self._held = held
        self._display = Display.of(plan.settings.display)
        self._recent = Recent(store)
        self._making = threading.Lock()
        self._made: dict[bool, tuple[float, str]] = {}  # until when it is shown, by whether it stays still

    def status(self, *, still: bool = False) -> str:
        """The status page as HTML. ``still``: it does not make itself anew. Raises StoreError."""
        with self._making:
            until, page = self._made.get(still, (0.0, ""))
            began = time.monotonic()
            if began >= until:
                page = self._status(REFRESH_S if not still else None)
                ended = time.monotonic()
                self._made[still] = ended + max(LEAST_KEPT_S, KEPT_PER_S * (ended - began)), page
            return page

    def visit(self, system: str, module: str, since_us: int | None) -> str:
        """The brief of the last ``since_us`` µs as HTML. Raises UnknownModuleError, StoreError."""
        found, now = self._module(system, module), self._clock()
        back_us = span_us(USUAL_SPAN) if since_us is None else since_us
        return brief(self._store, self._plan, found, now - back_us, now, now)

    def history(self, system: str, module: str, from_us: int, to_us: int, readings: bool) -> Iterator[str]:
        """CSV in pieces. Raises UnknownModuleError; each piece, StoreError."""
        found, end_us = self._module(system, module), min(to_us, self._clock() + DAY_US)
        return past_csv(self._store, self._plan, found, from_us, end_us, readings)

    def kept_from_us(self) -> int | None:
        """Since when every reading is kept; None: none was ever removed. Raises StoreError."""
        return self._store.kept_from_us()

    def acknowledgeable(self, alarm_id: str, token: str) -> Acknowledged:
        """Whether an alarm waits for somebody, for who holds the token of its notice. Raises StoreError."""
        return acknowledgeable(self._store, self._plan, alarm_id, token, self._clock())

    def acknowledge(self, alarm_id: str, token: str, who: str, note: str) -> Acknowledged:
        """Say that somebody sees to an alarm, with the token of its notice. Raises StoreError."""
        return acknowledge(self._store, self._plan, alarm_id, token, who, note, self._clock())

    def not_ready(self) -> list[str]:
        """Why the agent does not do its work now, a sentence each; empty: it does."""
        return self._reasons()

    def _module(self, system: str, module: str) -> ModulePlan:
        return find(self._plan, f"{self._plan.settings.site}/{system}/{module}")

    def _views(self, now_us: int) -> list[ModuleView]:
        held = [view for module in self._plan.modules if (view := self._held(module.path)) is not None]
        if len(held) == len(self._plan.modules):
            return held
        return look(self._store, self._plan, now_us, search=False)

    def _status(self, refresh_s: int | None) -> str:
        now = self._clock()
        ids, past = self._store.module_ids(), over(self._store, now - DAY_US, now)
        shown = []
        for module, view in zip(self._plan.modules, self._views(now), strict=True):
            module_id, described = ids.get(module.path), module.module
            trend = first_us = None
            if module_id is not None and view.assessment is not None:
                trend = self._recent.trend(module_id, now)
            if module_id is not None and view.alarms:
                first_us = self._store.first_assessed(module_id)
            shown.append(
                Shown(
                    view,
                    module.catalogue,
                    described.layout.name,
                    described.refrigerant,
                    trend,
                    module.configured_probe,
                    first_us,
                    past.get(module_id, ()) if module_id is not None else (),
                )
            )
        return render_page(
            self._plan.settings.site,
            shown,
            now,
            self._display,
            runs=is_worked_on(self._store.path),
            refresh_s=refresh_s,
        )
