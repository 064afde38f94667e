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

import orjson
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.background import BackgroundScheduler

from agent.alarms import FEED_STALE
from agent.assess import SECOND
from agent.intake import Connection, Inbox
from agent.outlets import (
    Lives,
    Metrics,
    ModuleView,
    alarm_messages,
    assessment_message,
    stale_alarm,
    view,
)
from agent.outlets.routes import open_routes
from agent.outlets.shown import Display
from agent.outlets.web import app
from agent.service.alarming import Alarms
from agent.service.announcing import Announcer
from agent.service.assessing import Assessor
from agent.service.broker import broker_settings
from agent.service.clock import now_us
from agent.service.commanding import work_off_commands
from agent.service.intaking import Intake, Source
from agent.service.lock import only_agent
from agent.service.mapping import Mapped, point_map
from agent.service.notifying import Notifier
from agent.service.pages import Pages
from agent.service.posting import Poster, open_alertmanager
from agent.service.readiness import Readiness
from agent.service.registering import origins, register
from agent.service.serving import Serving
from agent.service.watched import Watched
from agent.settings import ModulePath, Plan, ended_filters
from agent.store import JournalEntry, Store, StoreError

INBOX_BYTES = 64 * 1024 * 1024
LOOK_S = 0.2  # how often is looked whether to end; asleep for good, a signal in the wrong moment wakes nobody
CHECK_S = 2.0  # how often is looked whether anything is dirty or due
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
        self._published: dict[ModulePath, tuple[object, ...]] = {}
        self._shown: dict[ModulePath, ModuleView] = {}

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
            self.watched = register(store, self.plan, self.clock())
            inbox = Inbox(INBOX_BYTES)
            connected_before = any(each.feed.newest_us is not None for each in self.watched)
            broker = replace(broker, ended=ended_filters(store.mappings().values(), broker.subscriptions))
            self.connection = Connection(
                broker, inbox, self.clock, expect_session=connected_before, on_session_lost=_tell_gap
            )
            self.readiness = Readiness(store, self.watched, self.connection.facts, self._lag_us)
            pages = Pages(store, self.plan, self.clock, self.readiness.reasons, self._shown.get)
            self.metrics.ask(self.connection.facts)
            posted = self.poster.counts if self.poster else dict
            self.metrics.ask_notices(lambda: {**notifier.counts(), **posted()})
            intake = self._intake(store, inbox)
            receiver = threading.Thread(target=self._receive, args=(intake,), name="intake")
            scheduler = self._schedule(store)
            served = app(pages, self.metrics.exposition, settings.http, serving.token, self.clock)
            serving.start(served, self._break_down)
            receiver.start()
            notices.start()
            posting = self._start_posting()
            self.connection.start()
            scheduler.start()
            _log.info("watching %d modules; pages and metrics at %s", len(self.watched), settings.http.origin)
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

    def _intake(self, store: Store, inbox: Inbox) -> Intake:
        mapping_id = store.register_mapping(self.plan.mapping, self.clock())
        users: dict[int, list[Watched]] = {}  # by signal id
        for each in self.watched:
            for signal_id in each.signal_ids.values():
                users.setdefault(signal_id, []).append(each)
        mapped = []
        sources = {}
        for origin, ids in origins(store, self.plan):
            modules = {name: tuple(each.module_id for each in users.get(i, ())) for name, i in ids.items()}
            mapped.append(Mapped(origin, ids, modules))
            for name, i in ids.items():
                sources[i] = Source(origin.path, name, [each.feed for each in users.get(i, ())])
        points = point_map(mapped, mapping_id, self.plan.settings.assess.tolerance_s * SECOND)
        topics = {each.topic: each.path for each in self.plan.origins}
        self.metrics.ask_offsets(
            lambda: {topics[topic]: us for topic, us in points.offsets().items() if topic in topics}
        )
        return Intake(store, inbox, self.connection, points, self.metrics, sources)

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
        assessor = Assessor(store, assess.step_s * SECOND, assess.grace_s * SECOND, self.alarms)

        def work_off() -> None:
            began = time.monotonic()
            self._work_off_commands(store)
            for each in self.watched:
                if self.stopping.is_set():
                    break
                self._work_off(store, assessor, each)
            self.metrics.count_work(time.monotonic() - began)
            self.readiness.worked()

        def tell(event: JobExecutionEvent) -> None:
            _log.error("a round of assessing failed: %s", getattr(event, "exception", None) or "missed")
            self.metrics.count_failed("assess")

        scheduler = BackgroundScheduler(timezone="UTC")
        scheduler.add_listener(tell, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        scheduler.add_job(
            work_off, "interval", seconds=CHECK_S, misfire_grace_time=None, coalesce=True, max_instances=1
        )
        return scheduler

    def _work_off_commands(self, store: Store) -> None:
        """What people have said since; where the store cannot be written, it waits."""
        try:
            display = Display.of(self.plan.settings.display)
            work_off_commands(store, self.alarms, self.watched, self.clock(), display)
        except StoreError as error:
            _log.error("commands wait for the store: %s", error)
            self.metrics.count_failed("commands")

    def _work_off(self, store: Store, assessor: Assessor, each: Watched) -> None:
        """One module's work, and what of it goes out; where it fails, the other modules still have theirs."""
        try:
            self._look_at_feed(store, each)
            fresh = assessor.work_off(each, self.clock())
            self.alarms.settle(each, self.clock())
        except Exception as error:
            known = isinstance(error, StoreError)
            _log.error(
                "%s could not be assessed and stays dirty: %s", each.plan.path, error, exc_info=not known
            )
            self.metrics.count_failed("assess")
            return
        self.metrics.count_assessed(each.plan.path, fresh, self.plan.settings.assess.step_s)
        feed = each.feed
        stale = stale_alarm(feed.text, feed.since_us) if feed.raised else None
        now_us = self.clock()
        service = each.service
        lives = Lives(  # other threads read it while these go on
            dict(each.lives), each.shadow_ends_us, now_us, service.unconfirmed_us, service.replaced_us
        )
        shown = view(each.plan, each.latest, each.states, feed.newest_us, stale, each.findings, lives)
        self.metrics.show(shown)
        self._shown[each.plan.path] = shown
        if self.poster is not None:
            self.poster.look_at(shown)
        found = (shown.assessment, shown.alarms, lives.shadow, lives.of)
        if shown.assessment is not None and self._published.get(each.plan.path) != found:
            self._published[each.plan.path] = found
            prefix = self.plan.settings.broker.prefix
            alarms = alarm_messages(prefix, shown, each.plan.catalogue)
            for message in filter(None, [assessment_message(prefix, shown), *alarms]):
                self.connection.publish(message.topic, message.payload)

    def _look_at_feed(self, store: Store, each: Watched) -> None:
        facts = self.connection.facts()
        before = replace(each.feed)
        line = each.feed.judge(self.clock(), facts.unconnected_since_us, each.latest)
        if line is not None:
            body = {
                "since_us": line.since_us,
                "priority": FEED_STALE.priority,
                "cause": each.feed.cause,
                "text": each.feed.text,
            }
            entry = JournalEntry(
                each.module_id,
                FEED_STALE.name,
                line.event_us,
                line.event_us,
                line.transition,
                orjson.dumps(body).decode(),
            )
            try:
                step = self.alarms.step(
                    each, self.clock(), each.latest, lambda _: each.latest, journal=[entry]
                )
                store.finish(
                    each.module_id,
                    each.revision_id,
                    [],
                    journal=step.journal,
                    notices=step.notices,
                    alarm_states=step.alarm_states,
                )
            except StoreError:
                each.feed.take_back(before)  # told again in the next round
                raise
            each.lives |= step.lives


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
