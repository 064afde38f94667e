"""Telling people: notices go into the outbox with what caused them, and from there to their receivers.

Each route has a thread of its own, so none waits for another's receiver.
"""

from __future__ import annotations

import logging
import sys
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from agent.alarms import Transition
from agent.assess import DAY_US, HOUR_US, SECOND, Status
from agent.assess.assessment import Basis
from agent.outlets.notices.daily import HEARTBEAT_KEY, Day, ModuleDay, heartbeat, heartbeat_key
from agent.outlets.notices.routes import Route
from agent.outlets.shown import Display
from agent.piping import RETURN
from agent.readings import EVER_US
from agent.service.look.looking import look
from agent.service.tell.announcing import Quiet, addressed
from agent.service.tell.delivering import Delivery
from agent.settings import Plan
from agent.store import Store, StoreError

WAKE_S = 3.0

_log = logging.getLogger(__name__)


class Notifier:
    """Takes what waits in the outbox to the routes, and puts in a sign of life each day."""

    def __init__(self, store: Store, routes: Sequence[Route], clock: Callable[[], int], plan: Plan) -> None:
        self._store = store
        self._clock = clock
        self._plan = plan
        self._display = Display.of(plan.settings.display)
        self._newest_us = sys.maxsize  # the furthest that the clock has been; at first, not known
        zone = plan.settings.display.zone
        quiet = {each.name: Quiet(each.quiet, zone) for each in plan.settings.notices.routes}
        self._deliveries = {
            route.name: Delivery(store, route, clock, plan, quiet.get(route.name)) for route in routes
        }

    def counts(self) -> Mapping[tuple[str, str], int]:
        """Attempts of this process by route and outcome, sent or failed."""
        return {
            (name, outcome): count
            for name, delivery in self._deliveries.items()
            for outcome, count in delivery.counts.items()
        }

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop; an answer that is under way is waited for a little."""
        self._tell_stranded()
        threads = [
            threading.Thread(target=_keep_on, args=(delivery.work, stop), name=f"route {name}", daemon=True)
            for name, delivery in self._deliveries.items()
        ]
        for thread in threads:
            thread.start()
        _keep_on(self._give_sign_of_life, stop)
        for thread in threads:
            thread.join()

    def work(self, stop: threading.Event) -> None:
        """Put in the sign of life where it is due, then send what is due, one route after another."""
        self._give_sign_of_life(stop)
        for delivery in self._deliveries.values():
            delivery.work(stop)

    def heartbeat_due(self, now_us: int) -> bool:
        """Whether a route has not been given this day's sign of life though its hour has come."""
        if self._display.at(now_us).hour < self._plan.settings.notices.heartbeat_hour:
            return False
        return not self._deliveries.keys() <= self._store.routes_told(heartbeat_key(now_us, self._display))

    def _give_sign_of_life(self, _: threading.Event) -> None:
        now_us = self._clock()
        if now_us < self._newest_us - HOUR_US:
            # A clock that ran ahead and is put right: the days that it told still are to have theirs.
            self._store.free_notice_keys(HEARTBEAT_KEY, now_us + HOUR_US, now_us)
            self._newest_us = now_us
        self._newest_us = max(self._newest_us, now_us)
        if self.heartbeat_due(now_us):
            notice = heartbeat(_day(self._store, self._plan, now_us), now_us, self._display)
            self._store.enqueue(addressed(notice, list(self._deliveries), now_us))

    def _tell_stranded(self) -> None:
        try:
            waiting = self._store.waiting_notices()
        except StoreError as error:
            _log.error("the outbox cannot be read: %s", error)
            return
        for route in waiting.keys() - self._deliveries.keys():
            _log.warning("%d notices wait for route %s, which is not configured", waiting[route], route)


def _keep_on(work: Callable[[threading.Event], None], stop: threading.Event) -> None:
    while True:
        try:
            work(stop)
        except StoreError as error:
            _log.error("notices wait for the store: %s", error)
        except Exception:
            _log.exception("a round of notices failed and is tried again")
        if stop.wait(WAKE_S):
            return


def _day(store: Store, plan: Plan, now_us: int) -> Day:
    """The 24 hours before now."""
    assess = plan.settings.assess
    step_us = assess.step_s * SECOND
    until_us = (now_us - assess.grace_s * SECOND) // step_us * step_us
    ids = store.module_ids()
    modules = []
    for module, view in zip(plan.modules, look(store, plan, now_us), strict=True):
        undecided = assessed = 0
        for body, count in (
            store.assessed_counts(ids[module.path], until_us - DAY_US + step_us, until_us)
            if module.path in ids
            else ()
        ):
            words = Basis.load(body)
            assessed += count
            undecided += count * (words.mode != "off" and words.said[RETURN].status is not Status.DECIDED)
        missing = max(DAY_US // step_us - assessed, 0)
        step_h = step_us / HOUR_US
        modules.append(ModuleDay(view, module.module.refrigerant, undecided * step_h, missing * step_h))
    refused = store.refused_between(now_us - DAY_US, now_us)
    raised = Counter(
        entry.alarm
        for entry in store.journal(None, 0, EVER_US)
        if entry.transition == Transition.RAISED and entry.known_us > now_us - DAY_US
    )
    hour = plan.settings.notices.heartbeat_hour
    return Day(plan.settings.site, modules, raised, refused, store.waiting_notices(), hour)
