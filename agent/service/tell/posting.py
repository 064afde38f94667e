"""Alarms that stand, posted to Alertmanager for as long as they do: all of them each time, by the store.

So a restart of either side mends itself. What is no longer posted, since this process ended or lost the way,
is over there after `HOLDS` periods.
"""

from __future__ import annotations

import logging
import ssl
import threading
from collections.abc import Callable, Collection, Iterator, Mapping

from agent.alarms import Life, Priority, rank
from agent.assess import SECOND
from agent.outlets.notices.alertmanager import (
    PRIORITY,
    SAME_US,
    Alert,
    Alertmanager,
    Answer,
    Labels,
    alert,
    message,
    standing,
)
from agent.outlets.shown import Display
from agent.outlets.view import ModuleView
from agent.service.look.looking import look
from agent.service.machine.secrets import secret
from agent.service.tell.announcing import ways
from agent.service.tell.patience import Patience
from agent.settings import ModulePath, Plan
from agent.settings.notices import ALERTMANAGER, AlertmanagerSettings
from agent.store import Store, StoreError

HOLDS = 4  # periods for which an alert stands without being posted again
LOOK_S = 1.0  # how often is looked whether something has changed
ANSWER_S = 30.0  # how long the whole of an answer is waited for; design choice, no source
WORTH_TELLING_US = 60 * SECOND  # between the clocks

_log = logging.getLogger(__name__)


def open_alertmanager(settings: AlertmanagerSettings, environment: Mapping[str, str]) -> Alertmanager:
    """The way there. Raises ValueError for a secret that is not there, OSError for a certificate."""
    at = "notices.alertmanager"
    password = secret(at, "password", settings.password_env, settings.password_file, environment)
    bearer = secret(at, "token", settings.token_env, settings.token_file, environment)
    user = None if settings.username is None or password is None else (settings.username, password)
    try:
        tls = ssl.create_default_context(cafile=settings.ca_file)
    except OSError as error:  # an SSLError is one
        raise OSError(f"{at}: ca_file {settings.ca_file} cannot be used: {error.strerror}") from None
    return Alertmanager(settings.url, user=user, bearer=bearer, tls=tls)


class Poster:
    """Posts what stands, every so often and as soon as it changes."""

    def __init__(
        self, store: Store, plan: Plan, to: Alertmanager, every_s: int, clock: Callable[[], int]
    ) -> None:
        self._store = store
        self._plan = plan
        self._to = to
        self._every_s = every_s
        self._clock = clock
        self._display = Display.of(plan.settings.display)
        self._modules = {each.path: each for each in plan.modules}
        self._posted: dict[Labels, Alert] = {}  # what it holds by what it accepted
        self._seen: dict[ModulePath, set[tuple[str, Priority, bool]]] = {}
        self._changed = threading.Event()
        self._failing = False
        self._ahead_us: int | None = None  # by how much its clock is ahead of ours; None: not known yet
        self._told_ahead = False
        self._patience: Patience[Answer] = Patience("post to Alertmanager", ANSWER_S)
        self._counts = {(ALERTMANAGER, "sent"): 0, (ALERTMANAGER, "failed"): 0}

    def counts(self) -> Mapping[tuple[str, str], int]:
        """Posts of this process by outcome, as `Notifier.counts` gives them."""
        return dict(self._counts)

    def look_at(self, view: ModuleView) -> None:
        """How a module stands now: where that is news, it is posted without waiting for the next time."""
        stands = {(alarm.name, alarm.priority, view.lives.is_told(alarm.name)) for alarm in view.alarms}
        if self._seen.get(view.path) != stands:
            self._seen[view.path] = stands
            self._changed.set()

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop; an answer that is under way is waited for a little."""
        waited_s = float(self._every_s)
        while not stop.is_set():
            if waited_s >= self._every_s or self._changed.is_set():
                self._changed.clear()
                waited_s = 0.0
                try:
                    self.post(stop)
                except StoreError as error:
                    _log.error("alarms for Alertmanager wait for the store: %s", error)
                except Exception:
                    _log.exception("a post to Alertmanager failed and is tried again")
            stop.wait(LOOK_S)
            waited_s += LOOK_S

    def post(self, stop: threading.Event | None = None) -> None:
        """Post what stands now, and that what stood before is over."""
        stop = stop or threading.Event()
        alerts = {each.labels: each for each in self._alerts(self._clock())}
        ended = [each for labels, each in self._posted.items() if labels not in alerts]
        for _ in range(2):
            ahead_us = self._ahead_us
            known = ahead_us is not None  # else it is asked for with a post of nothing
            error = self._send(alerts.values() if known else (), ended if known else (), stop)
            if error is not None or self._ahead_us == ahead_us:
                break
        if error is not None and stop.is_set():
            return
        self._counts[ALERTMANAGER, "sent" if error is None else "failed"] += 1
        if error is None:
            self._posted = alerts
        if (error is not None) != self._failing:
            self._failing = error is not None
            if error is None:
                _log.info("Alertmanager takes alarms again")
            else:
                _log.warning("Alertmanager does not take alarms, and is tried on: %s", error)

    def _send(self, alerts: Collection[Alert], ended: Collection[Alert], stop: threading.Event) -> str | None:
        asked_us = self._clock()
        body = message(alerts, ended, asked_us, HOLDS * self._every_s * SECOND, self._ahead_us or 0)
        call = self._patience.call(lambda: self._to.post(body), stop)
        if call is None or not call.done():
            return "not answered whole in time"
        answer = call.result()
        if answer.error is None:
            self._learn(answer.date_us, asked_us, self._clock())
        return answer.error

    def _learn(self, date_us: int | None, asked_us: int, now_us: int) -> None:
        """By how much its clock is ahead; where it told no time, ours counts. A slow answer tells nothing."""
        before_us = self._ahead_us or 0
        ahead_us = 0 if date_us is None else date_us + SECOND // 2 - (asked_us + now_us) // 2
        if not 0 <= now_us - asked_us <= SAME_US or abs(ahead_us - before_us) <= SAME_US:
            self._ahead_us = before_us
            return
        self._ahead_us = ahead_us = ahead_us if abs(ahead_us) > SAME_US else 0
        is_off = abs(ahead_us) > WORTH_TELLING_US
        if is_off and not self._told_ahead:
            how = "ahead of" if ahead_us > 0 else "behind"
            seconds = abs(ahead_us) // SECOND
            _log.warning("the clock of Alertmanager is %d s %s this machine's: set both", seconds, how)
        elif self._told_ahead and not is_off:
            _log.info("the clock of Alertmanager agrees with this machine's again")
        self._told_ahead = is_off

    def _alerts(self, now_us: int) -> Iterator[Alert]:
        public_url = self._plan.settings.http.public_url
        posted = {labels[:-1]: labels[-1][1] for labels in self._posted}
        for view, alarm in standing(look(self._store, self._plan, now_us, search=False)):
            module, life = self._modules[view.path], view.lives.of.get(alarm.name, Life())
            by = ways(self._store, public_url, module, alarm.name, life, now_us)
            made = alert(view, alarm, module.module.refrigerant, by, self._display)
            # A label that went to and fro would tell people each time; so while it stands it only rises.
            before = posted.get(made.labels[:-1])
            if before is not None and rank(Priority(before)) > rank(alarm.priority):
                made = made._replace(labels=(*made.labels[:-1], (PRIORITY, before)))
            yield made
