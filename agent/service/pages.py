"""What the site's pages are made of: the store as it is now, put together for people."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from agent.outlets.shown import Display
from agent.outlets.web.page import REFRESH_S, Shown, render_page
from agent.service.clock import now_us
from agent.service.lock import is_worked_on
from agent.service.looking import look
from agent.service.recent import Recent
from agent.settings import Plan
from agent.store import Store

LEAST_KEPT_S = 2.0  # a page is shown for so long before it is made anew, however many ask for it
KEPT_PER_S = 5  # and so many times as long as it took: watching takes a fifth of a processor at most


class Pages:
    """The pages of a site, for reading only. Several threads may ask. ``clock``: microseconds of UTC."""

    def __init__(self, store: Store, plan: Plan, clock: Callable[[], int] = now_us) -> None:
        self._store = store
        self._plan = plan
        self._clock = clock
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

    def _status(self, refresh_s: int | None) -> str:
        now = self._clock()
        ids = self._store.module_ids()
        shown = []
        views = look(self._store, self._plan, now, search=False)
        for module, view in zip(self._plan.modules, views, strict=True):
            trend = None
            if view.assessment is not None:
                trend = self._recent.trend(ids[module.path], now)
            shown.append(
                Shown(view, module.catalogue, module.module.layout.name, module.module.refrigerant, trend)
            )
        return render_page(
            self._plan.settings.site,
            shown,
            now,
            self._display,
            runs=is_worked_on(self._store.path),
            refresh_s=refresh_s,
        )
