"""The running agent: what starts, what runs beside what, and how it ends."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping
from importlib.metadata import version

import orjson
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MAX_INSTANCES, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.background import BackgroundScheduler

from agent.alarms import Line, Transition, next_announced
from agent.assess import SECOND, load_assessment
from agent.intake import BrokerSettings, Connection, Inbox, Point, PointMap
from agent.outlets import Metrics, alarm_messages, assessment_message, status_topic, view
from agent.service.assessing import EVER_US, Assessor, Watched, read_states
from agent.service.clock import now_us
from agent.service.intaking import Intake
from agent.settings import ModulePath, Plan
from agent.store import DetectionChange, Store, StoreError

INBOX_BYTES = 64 * 1024 * 1024
CHECK_S = 2.0  # how often is looked whether anything is dirty or due

_log = logging.getLogger(__name__)


class Agent:
    """One agent on one store. ``clock`` gives microseconds of UTC."""

    def __init__(self, plan: Plan, clock: Callable[[], int] = now_us) -> None:
        self.plan = plan
        self.clock = clock
        self.stopping = threading.Event()
        self.newest_us: dict[ModulePath, int] = {}
        self.failed = False

    def run(self) -> None:
        """Work until ``stop``. Raises StoreError or OSError where it cannot begin."""
        settings = self.plan.settings
        with Store.open(self.plan.store_url, durable=settings.store.durable) as store:
            known_here = bool(store.modules())
            watched = self._watch(store)
            metrics = self._metrics()
            server, server_thread = metrics.serve(settings.metrics.host, settings.metrics.port)
            inbox = Inbox(INBOX_BYTES)
            connection = Connection(
                self._broker(), inbox, self.clock, expect_session=known_here, on_session_lost=_tell_gap
            )
            metrics.ask(lambda: self._connection_facts(connection))
            intake = self._intake(store, inbox, connection, metrics, watched)
            receiver = threading.Thread(target=self._receive, args=(intake,), name="intake")
            scheduler = self._schedule(store, watched, metrics, connection)
            receiver.start()
            connection.start()
            scheduler.start()
            try:
                self.stopping.wait()
            finally:
                scheduler.shutdown(wait=True)
                inbox.close()
                receiver.join()
                connection.stop()
                server.shutdown()
                server.server_close()
                server_thread.join()
        if self.failed:
            raise RuntimeError("the intake broke down; what was not stored stays with the broker")

    def stop(self) -> None:
        """Make ``run`` end; what is under way is finished first."""
        self.stopping.set()

    def _watch(self, store: Store) -> list[Watched]:
        """Bring the store in line with the plan: modules, signals, revisions, alarms that stand."""
        modules = store.register_modules(m.path for m in self.plan.modules)
        keys = [(str(m.path), name) for m in self.plan.modules for name in m.module.signals]
        signals = store.register_signals(keys)
        watched = []
        for module in self.plan.modules:
            module_id = modules[module.path]
            revision_id = self._revision(store, module_id, module.revision)
            each = Watched(
                plan=module,
                module_id=module_id,
                revision_id=revision_id,
                signal_ids={name: signals[str(module.path), name] for name in module.module.signals},
            )
            for entry in store.journal(module_id, 0, EVER_US):
                line = Line(
                    Transition(entry.transition), entry.event_us, orjson.loads(entry.body)["since_us"]
                )
                since_us = next_announced(each.announced_us.pop(entry.alarm, None), line)
                if since_us is not None:
                    each.announced_us[entry.alarm] = since_us
            kept = store.latest_assessment(module_id)
            if kept:
                each.latest = load_assessment(*kept)
                each.states = read_states(store.detection_states(module_id, revision_id, EVER_US))
            newest = store.latest_reading(each.signal_ids.values(), self.clock() - 86_400 * SECOND)
            if newest:
                self.newest_us[module.path] = max(reading.sample_us for reading in newest.values())
            watched.append(each)
        return watched

    def _revision(self, store: Store, module_id: int, body: str) -> int:
        """The module's revision; a new one takes over the alarms as they stand."""
        before = store.current_revision(module_id)
        reason = "first configuration" if before is None else "configuration or program changed"
        revision = store.open_revision(module_id, body, reason, self.clock())
        progress_us = store.progress(module_id)
        if before is not None and before.id != revision.id and progress_us is not None:
            states = store.detection_states(module_id, before.id, EVER_US)
            changes = [DetectionChange(alarm, progress_us, state) for alarm, state in states.items()]
            store.finish(module_id, revision.id, [], detections=changes, detections_from_us=progress_us)
        return revision.id

    def _metrics(self) -> Metrics:
        assess = self.plan.settings.assess
        stale_us = (3 * assess.step_s + assess.grace_s + 60) * SECOND
        return Metrics(self.clock, stale_us, {"version": version("dewline"), "coolprop": version("CoolProp")})

    def _broker(self) -> BrokerSettings:
        broker = self.plan.settings.broker
        return BrokerSettings(
            host=broker.host,
            port=broker.port,
            client_id=broker.client_id,
            prefix=f"{broker.prefix}/",
            status_topic=status_topic(broker.prefix, broker.client_id),
            subscriptions=tuple(sorted({module.topic for module in self.plan.modules})),
            session_expiry_s=broker.session_expiry_s,
            keepalive_s=broker.keepalive_s,
            receive_maximum=broker.receive_maximum,
        )

    def _intake(
        self, store: Store, inbox: Inbox, connection: Connection, metrics: Metrics, watched: list[Watched]
    ) -> Intake:
        tolerance_us = self.plan.settings.assess.tolerance_s * SECOND
        mapping_id = store.register_mapping(self.plan.mapping, self.clock())
        points = {
            (each.plan.topic, point): Point(
                each.signal_ids[name], each.module_id, units=each.plan.conversions[name].units
            )
            for each in watched
            for point, name in each.plan.points.items()
        }
        owners = {signal_id: each.plan.path for each in watched for signal_id in each.signal_ids.values()}
        point_map = PointMap(points, mapping_id, tolerance_us)
        return Intake(store, inbox, connection, point_map, metrics, owners, self._heard)

    def _receive(self, intake: Intake) -> None:
        """Intake that breaks down takes the agent with it: a silent half of an agent helps nobody."""
        try:
            intake.run(self.stopping)
        except Exception:
            _log.exception("the intake broke down")
            self.failed = True
            self.stop()

    def _heard(self, newest: Mapping[ModulePath, int]) -> None:
        for path, sample_us in newest.items():
            self.newest_us[path] = max(self.newest_us.get(path, 0), sample_us)

    def _schedule(
        self, store: Store, watched: list[Watched], metrics: Metrics, connection: Connection
    ) -> BackgroundScheduler:
        assess = self.plan.settings.assess
        assessor = Assessor(store, assess.step_s * SECOND, assess.grace_s * SECOND)

        def work_off() -> None:
            began = time.monotonic()
            for each in watched:
                if self.stopping.is_set():
                    break
                self._assess(assessor, each, metrics, connection)
            metrics.count_work(time.monotonic() - began)

        def tell(event: JobExecutionEvent) -> None:
            _log.error(
                "assessing was skipped or failed: %s", getattr(event, "exception", None) or "still busy"
            )
            metrics.count_failed("assess")

        scheduler = BackgroundScheduler(timezone="UTC")
        scheduler.add_listener(tell, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        scheduler.add_listener(lambda event: metrics.count_failed("busy"), EVENT_JOB_MAX_INSTANCES)
        scheduler.add_job(
            work_off, "interval", seconds=CHECK_S, misfire_grace_time=None, coalesce=True, max_instances=1
        )
        return scheduler

    def _assess(self, assessor: Assessor, each: Watched, metrics: Metrics, connection: Connection) -> None:
        """One module's work, and what of it goes out; where it fails, the other modules still have theirs."""
        path, prefix = each.plan.path, self.plan.settings.broker.prefix
        try:
            fresh = assessor.work_off(each, self.clock())
        except Exception as error:
            _log.error(
                "%s could not be assessed and stays dirty: %s",
                path,
                error,
                exc_info=not isinstance(error, StoreError),
            )
            metrics.count_failed("assess")
            return
        metrics.count_assessed(path, fresh, self.plan.settings.assess.step_s)
        shown = view(each.plan, each.latest, each.states, self.newest_us.get(path))
        metrics.show(shown)
        if not fresh:
            return
        message = assessment_message(prefix, shown)
        for outgoing in ([message] if message else []) + list(
            alarm_messages(prefix, shown, each.plan.catalogue)
        ):
            connection.publish(outgoing.topic, outgoing.payload)

    def _connection_facts(self, connection: Connection) -> dict[str, float]:
        facts = connection.facts()
        found = {
            "connected": float(facts.connected),
            "connects": facts.connects,
            "disconnects": facts.disconnects,
            "sessions_lost": facts.sessions_lost,
            "callback_errors": facts.callback_errors,
        }
        if facts.oldest_unacknowledged_us is not None:
            found["oldest_unacknowledged_seconds"] = (self.clock() - facts.oldest_unacknowledged_us) / 1e6
        return found


def _tell_gap(since_us: int | None, until_us: int) -> None:
    length = f"{(until_us - since_us) // SECOND} s" if since_us is not None else "unknown length"
    _log.warning("the broker had lost the session: readings may be missing from a gap of %s", length)
