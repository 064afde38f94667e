"""The running agent: what starts, what runs beside what, and how it ends."""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from importlib.metadata import version

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.background import BackgroundScheduler

from agent.assess import SECOND
from agent.intake import Connection, Inbox
from agent.outlets import Metrics, ModuleView
from agent.outlets.notices.routes import open_routes
from agent.outlets.shown import number_of
from agent.outlets.web import app
from agent.service.intaking import Intake, intake_of
from agent.service.look.pages import Pages
from agent.service.machine.broker import broker_settings
from agent.service.machine.clock import now_us
from agent.service.machine.lock import only_agent
from agent.service.readiness import Readiness
from agent.service.rounds import Rounds
from agent.service.serving import Serving
from agent.service.tell.announcing import Announcer
from agent.service.tell.notifying import Notifier
from agent.service.tell.posting import Poster, open_alertmanager
from agent.service.work.alarming import Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.keeping import Keeping
from agent.service.work.registering import register
from agent.settings import ModulePath, Plan, ended_filters
from agent.store import Store

INBOX_BYTES = 64 * 1024 * 1024
LOOK_S = 0.2  # how often is looked whether to end; asleep for good, a signal in the wrong moment wakes nobody
CHECK_S = 2.0  # how often is looked whether anything is dirty or due
AT_HAND_US = 75 * 60 * SECOND  # before what a grid time looks back on: an hour that ends, and what comes late
TOLD_S = 10.0  # how long is waited in the end for what tells people
CLOCK_STEP_S = 5.0  # by which the clock must step to be told

_log = logging.getLogger(__name__)


class Agent:
    """One agent on one store. ``clock`` gives microseconds of UTC; ``look`` is called often while it runs.

    ``began_us``: since when the process runs; None: since now. It tells what could be known of an alarm when.
    """

    def __init__(
        self,
        plan: Plan,
        clock: Callable[[], int] = now_us,
        look: Callable[[], None] = lambda: None,
        began_us: int | None = None,
    ) -> None:
        self.plan = plan
        self.clock = clock
        self.look = look
        self._began_us = clock() if began_us is None else began_us
        self.started = False
        self.stopping = threading.Event()
        self._told = False  # no Event: a signal handler must not wait for a lock that its own thread holds
        self.failed = False
        self._views: dict[ModulePath, ModuleView] = {}  # each module as it was shown last

    def run(self) -> None:
        """Work until ``stop``. Raises StoreError, StoreTakenError, OSError, ValueError if it cannot begin."""
        settings = self.plan.settings
        routes = open_routes(settings.notices.routes, os.environ)
        broker = broker_settings(self.plan, os.environ)
        with ExitStack() as open_until_the_end:
            store = open_until_the_end.enter_context(
                Store.open(self.plan.store_url, durable=settings.store.durable)
            )
            open_until_the_end.enter_context(only_agent(store.path))
            # Before anything is written: where it cannot start, it was never there.
            serving = open_until_the_end.enter_context(Serving(settings.http, os.environ))
            self.metrics = Metrics(self.clock, self._lag_us, _build())
            self.alarms = Alarms(store, Announcer(store, self.plan, began_us=self._began_us))
            notifier = Notifier(store, routes, self.clock, self.plan)
            notices = threading.Thread(
                target=notifier.run, args=(self.stopping,), name="notices", daemon=True
            )
            self.poster = self._poster(store, open_until_the_end)
            store.keep_at_hand(max((each.lookback_us for each in self.plan.modules), default=0) + AT_HAND_US)
            self.watched = register(store, self.plan, self.clock())
            inbox = Inbox(INBOX_BYTES)
            connected_before = any(each.feed.newest_us is not None for each in self.watched)
            broker = replace(broker, ended=ended_filters(store.mappings().values(), broker.subscriptions))
            self.connection = Connection(
                broker, inbox, self.clock, expect_session=connected_before, on_session_lost=_tell_gap
            )
            self.readiness = Readiness(store, self.watched, self.connection.facts, self._lag_us)
            pages = Pages(store, self.plan, self.clock, self.readiness.reasons, self._views.get)
            self.metrics.ask(self.connection.facts)
            posted = self.poster.counts if self.poster else dict
            self.metrics.ask_notices(lambda: {**notifier.counts(), **posted()})
            intake = intake_of(
                store, self.plan, self.watched, inbox, self.connection, self.metrics, self.clock()
            )
            receiver = threading.Thread(target=self._receive, args=(intake,), name="intake")
            scheduler = self._schedule(store)
            served = app(pages, self.metrics.exposition, settings.http, serving.token, self.clock)
            serving.start(served, self._break_down)
            receiver.start()
            notices.start()
            posting = self._start_posting()
            self.connection.start()
            scheduler.start()
            _log.info(
                "watching %s; pages and metrics at %s",
                number_of(len(self.watched), "module"),
                settings.http.origin,
            )
            self.started = True
            try:
                self._wait(scheduler)
            finally:
                self.stopping.set()
                scheduler.shutdown(wait=True)
                inbox.close()
                receiver.join()
                _wait_for_end([notices, *filter(None, [posting])])
                self.connection.stop()
        if self.failed:
            raise RuntimeError("a part of the agent broke down; what was not stored stays with the broker")

    def stop(self) -> None:
        """Make ``run`` end; what is under way is finished first. A signal handler may call it."""
        self._told = True

    def _wait(self, scheduler: BackgroundScheduler) -> None:
        """Until told to stop. A clock that steps would leave the scheduler waiting for its old times."""
        ahead_s = self.clock() / 1e6 - time.monotonic()
        while not self._told:
            time.sleep(LOOK_S)
            self.look()
            now_ahead_s = self.clock() / 1e6 - time.monotonic()
            if abs(now_ahead_s - ahead_s) > CLOCK_STEP_S:
                _log.warning("the clock of this machine stepped by %.0f s", now_ahead_s - ahead_s)
                self.metrics.count_clock_step()
                for job in scheduler.get_jobs():
                    job.reschedule("interval", seconds=CHECK_S)
                ahead_s = now_ahead_s

    @property
    def _lag_us(self) -> int:
        """How old an assessment may be and still tell of now."""
        assess = self.plan.settings.assess
        return (3 * assess.step_s + assess.grace_s + 60) * SECOND

    def _poster(self, store: Store, open_until_the_end: ExitStack) -> Poster | None:
        settings = self.plan.settings.notices.alertmanager
        if settings is None:
            return None
        to = open_until_the_end.enter_context(open_alertmanager(settings, os.environ))
        return Poster(store, self.plan, to, settings.every_s, self.clock)

    def _start_posting(self) -> threading.Thread | None:
        if self.poster is None:
            return None
        run = self.poster.run
        thread = threading.Thread(target=run, args=(self.stopping,), name="alertmanager", daemon=True)
        thread.start()
        return thread

    def _receive(self, intake: Intake) -> None:
        """Intake that breaks down takes the agent with it: a silent half of an agent helps nobody."""
        try:
            intake.run(self.stopping)
        except Exception:
            _log.exception("the intake broke down")
            self._break_down()

    def _break_down(self) -> None:
        self.failed = True
        self.stop()

    def _schedule(self, store: Store) -> BackgroundScheduler:
        assess = self.plan.settings.assess
        rounds = Rounds(
            self.plan,
            store,
            Assessor(store, assess.step_s * SECOND, assess.grace_s * SECOND, self.alarms),
            self.alarms,
            self.watched,
            self.metrics,
            self.poster,
            self.connection.publish,
            lambda: self.connection.facts().unconnected_since_us,
            self.clock,
            self._views,
        )

        def work_off() -> None:
            began = time.monotonic()
            rounds.work_off(self.stopping)
            self.metrics.count_work(time.monotonic() - began)
            self.readiness.worked()

        def tell(event: JobExecutionEvent) -> None:
            why = getattr(event, "exception", None) or "missed"
            _log.error("a round of work (%s) failed: %s", event.job_id, why)
            self.metrics.count_failed(event.job_id)

        scheduler = BackgroundScheduler(timezone="UTC")
        scheduler.add_listener(tell, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        keeping = Keeping(store, self.plan, self.watched, self.clock, self.metrics.count_failed)
        self.metrics.ask_kept(lambda: keeping.kept_from_us)
        for name, work in (("assess", work_off), ("keeping", lambda: keeping.turn(self.stopping))):
            scheduler.add_job(
                work,
                "interval",
                id=name,
                seconds=CHECK_S,
                misfire_grace_time=None,
                coalesce=True,
                max_instances=1,
            )
        return scheduler


def _wait_for_end(threads: Sequence[threading.Thread]) -> None:
    """Nothing that is told people is lost: what was not accepted is told by the next agent."""
    until = time.monotonic() + TOLD_S
    for thread in threads:
        thread.join(max(until - time.monotonic(), 0))
        if thread.is_alive():
            _log.warning("the thread %r does not end, and is left behind", thread.name)


def _build() -> dict[str, str]:
    return {"version": version("dewline"), "coolprop": version("CoolProp")}


def _tell_gap(since_us: int | None, until_us: int) -> None:
    length = f"{(until_us - since_us) // SECOND} s" if since_us is not None else "unknown length"
    _log.warning("the broker had lost the session: readings may be missing from a gap of %s", length)
