"""Telling people: notices go into the outbox with what caused them, and from there to their receivers.

Delivered at least once, on each route in order: a notice that is not accepted holds back those behind it, and
is tried again until it is. What waits together goes in one message; what tells of the past goes by
itself, and holds back no alarm. In the quiet hours of a route what may
wait waits. A kill between the receiver's answer and the mark sends it once more.
"""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from itertools import takewhile

from agent.alarms import Transition
from agent.assess import SECOND, Status
from agent.assess.assessment import Basis
from agent.outlets.notices import PAST_KEY, pasts_together, together
from agent.outlets.notices_daily import Day, ModuleDay, heartbeat, heartbeat_key
from agent.outlets.routes import Route
from agent.outlets.shown import Display
from agent.piping import RETURN
from agent.service.alarming import EVER_US
from agent.service.announcing import Quiet, addressed
from agent.service.looking import look
from agent.settings import Plan
from agent.store import OutboxEntry, Store, StoreError

WAKE_S = 3.0
OUTCOMES = ("sent", "failed")
FIRST_PAUSE_US = 60 * SECOND
LONGEST_PAUSE_US = 3600 * SECOND
HOUR_US = 3600 * SECOND
DAY_US = 24 * HOUR_US

MOST_TOGETHER = 50  # notices in one message; design choice, no source
MOST_WAITING = 500  # notices of a route that are looked at: quiet hours may hold those ahead

_log = logging.getLogger(__name__)


class Notifier:
    """Takes what waits in the outbox to the routes, and puts in a sign of life each day."""

    def __init__(self, store: Store, routes: Sequence[Route], clock: Callable[[], int], plan: Plan) -> None:
        self._store = store
        self._routes = {route.name: route for route in routes}
        self._clock = clock
        self._plan = plan
        self._display = Display.of(plan.settings.display)
        zone = plan.settings.display.zone
        self._quiet = {each.name: Quiet(each.quiet, zone) for each in plan.settings.notices.routes}
        self._accepted: set[int] = set()  # by the receiver, and not marked yet
        self._counts = {(name, outcome): 0 for name in self._routes for outcome in OUTCOMES}

    def counts(self) -> Mapping[tuple[str, str], int]:
        """Attempts of this process by route and outcome, sent or failed."""
        return dict(self._counts)

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop; a send that is under way is finished first."""
        self._tell_stranded()
        while True:
            try:
                self.work(stop)
            except StoreError as error:
                _log.error("notices wait for the store: %s", error)
            except Exception:
                _log.exception("a round of notices failed and is tried again")
            if stop.wait(WAKE_S):
                return

    def work(self, stop: threading.Event) -> None:
        """Put in the sign of life where it is due, then send what is due."""
        now_us = self._clock()
        if self.heartbeat_due(now_us):
            notice = heartbeat(_day(self._store, self._plan, now_us), now_us, self._display)
            self._store.enqueue(addressed(notice, list(self._routes), now_us))
        while not stop.is_set():
            due = self._due()
            if not due:
                return
            for each in due:
                if stop.is_set():
                    return
                self._deliver(each)

    def heartbeat_due(self, now_us: int) -> bool:
        """Whether a route has not been given this day's sign of life though its hour has come."""
        if self._display.at(now_us).hour < self._plan.settings.notices.heartbeat_hour:
            return False
        return not self._routes.keys() <= self._store.routes_told(heartbeat_key(now_us, self._display))

    def _due(self) -> list[Sequence[OutboxEntry]]:
        """For each route what goes out next: one notice, or those that go in one message."""
        now_us = self._clock()
        waiting: dict[tuple[str, bool], list[OutboxEntry]] = {}
        for each in self._store.next_notices(MOST_WAITING):
            if each.route in self._routes and self._may_go(each, now_us):
                waiting.setdefault((each.route, _is_past(each)), []).append(each)
        due: list[Sequence[OutboxEntry]] = []
        for (route, are_past), entries in sorted(waiting.items(), key=lambda each: each[0][1]):
            ahead = waiting.get((route, False), []) if are_past else []
            if not _is_due(entries[0], now_us) or (ahead and ahead[0].attempts):
                continue
            alike = [each for each in entries if each.brief] if entries[0].brief else entries[:1]
            if not are_past:  # of the past, what still gathers goes with it
                alike = list(takewhile(lambda each: _is_due(each, now_us), alike))
            due.append(alike[:MOST_TOGETHER])
        return due

    def _may_go(self, entry: OutboxEntry, now_us: int) -> bool:
        """Whether the quiet hours of its route let it through now."""
        quiet = self._quiet.get(entry.route)
        return entry.priority is None or quiet is None or entry.priority in quiet.passing(now_us)

    def _deliver(self, entries: Sequence[OutboxEntry]) -> None:
        first, ids = entries[0], [each.id for each in entries]
        accepted = [each for each in ids if each in self._accepted]
        if not accepted:
            subject, body = self._message(entries)
            error = self._routes[first.route].send(subject, body)
            if error is not None:
                self._counts[first.route, "failed"] += 1
                pause_us = min(FIRST_PAUSE_US << min(first.attempts, 10), LONGEST_PAUSE_US)
                _log.warning(
                    "route %s: %r is tried again in %d min: %s",
                    first.route,
                    subject,
                    pause_us // (60 * SECOND),
                    error,
                )
                self._store.notice_failed(first.id, error, self._clock() + pause_us)
                return
            self._counts[first.route, "sent"] += 1
            accepted = ids
            self._accepted.update(ids)  # a store that fails now must not make it go out every few seconds
        self._store.notices_sent(accepted, self._clock())
        self._accepted.difference_update(accepted)

    def _message(self, entries: Sequence[OutboxEntry]) -> tuple[str, str]:
        if len(entries) == 1:
            return entries[0].subject, entries[0].body
        refrigerants = {module.module.refrigerant for module in self._plan.modules}
        told = [(each.subject, each.brief or "") for each in entries]
        if _is_past(entries[0]):
            return pasts_together(self._plan.settings.site, told, refrigerants)
        return together(self._plan.settings.site, told, refrigerants)

    def _tell_stranded(self) -> None:
        try:
            waiting = self._store.waiting_notices()
        except StoreError as error:
            _log.error("the outbox cannot be read: %s", error)
            return
        for route in waiting.keys() - self._routes.keys():
            _log.warning("%d notices wait for route %s, which is not configured", waiting[route], route)


def _is_past(entry: OutboxEntry) -> bool:
    """Whether it is for information alone: such a one neither holds back an alarm nor goes with one."""
    return entry.notice_key.startswith(PAST_KEY)


def _is_due(entry: OutboxEntry, now_us: int) -> bool:
    # Further ahead than any pause is a clock that has been set back.
    return not 0 < entry.next_us - now_us <= LONGEST_PAUSE_US


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
