"""A round of the running agent: what people said, then each module's turn, and what of it goes out.

It comes every few seconds. Where nothing is dirty or due, a module's turn is a look at its feed and at what
time alone does to its alarms.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from agent.outlets import Lives, Metrics, ModuleView, alarm_messages, assessment_message, stale_alarm, view
from agent.outlets.shown import Display
from agent.service.commands.commanding import work_off_commands
from agent.service.tell.posting import Poster
from agent.service.work.alarming import Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.to_do import Work
from agent.service.work.watched import NEVER_US, Watched
from agent.settings import ModulePath, Plan
from agent.store import Store, StoreError

AT_ONCE = 64  # modules whose steps are begun together: bounds the memory

_log = logging.getLogger(__name__)


@dataclass
class Rounds:
    """What a round needs. ``unconnected_us``: since when there is no connection to the broker.

    ``views``: each module as it was shown last, for whoever makes pages of it.
    """

    plan: Plan
    store: Store
    assessor: Assessor
    alarms: Alarms
    watched: Sequence[Watched]
    metrics: Metrics
    poster: Poster | None
    publish: Callable[[str, bytes], object]
    unconnected_us: Callable[[], int | None]
    clock: Callable[[], int]
    views: dict[ModulePath, ModuleView] = field(default_factory=dict)
    _shown: dict[ModulePath, tuple[object, ...]] = field(default_factory=dict)
    _published: dict[ModulePath, tuple[object, ...]] = field(default_factory=dict)

    def work_off(self, stopping: threading.Event) -> None:
        """One round; what fails in it is told and counted, and left for the next one."""
        self._commands()
        dirty_us = self._dirty_us()
        for first in range(0, len(self.watched), AT_ONCE):
            several = self.watched[first : first + AT_ONCE]
            due = {each.module_id: each for each in several if self._is_due(each, dirty_us)}
            begun = self._look_ahead([*due.values()])
            for each in several:
                if stopping.is_set():
                    return
                self._turn(each, begun.get(each.module_id), is_due=each.module_id in due)

    def _is_due(self, each: Watched, dirty_us: Mapping[int, int]) -> bool:
        return self.assessor.works.is_due(each, dirty_us.get(each.module_id), self.clock())

    def _look_ahead(self, due: Sequence[Watched]) -> Mapping[int, Work]:
        try:
            return self.assessor.works.of_several(due, self.clock()) if due else {}
        except StoreError:  # each finds out for itself
            return {}

    def _commands(self) -> None:
        """What people have said since; where the store cannot be written, it waits."""
        try:
            display = Display.of(self.plan.settings.display)
            work_off_commands(self.store, self.alarms, self.watched, self.clock(), display)
        except StoreError as error:
            _log.error("commands wait for the store: %s", error)
            self.metrics.count_failed("commands")

    def _dirty_us(self) -> Mapping[int, int]:
        """Where each module's first dirty span begins; where that cannot be read, each finds out itself."""
        try:
            return self.store.earliest_dirty()
        except StoreError:
            return {each.module_id: NEVER_US for each in self.watched}

    def _turn(self, each: Watched, work: Work | None, *, is_due: bool) -> None:
        """One module's work, and what of it goes out; where it fails, the other modules still have theirs."""
        try:
            self.alarms.look_at_feed(each, self.clock(), self.unconnected_us())
            if is_due:
                fresh = self.assessor.work_off(each, self.clock(), work)
                self.metrics.count_assessed(each.plan.path, fresh, self.plan.settings.assess.step_s)
            self.alarms.settle(each, self.clock())
        except Exception as error:
            known = isinstance(error, StoreError)
            _log.error(
                "%s could not be assessed and stays dirty: %s", each.plan.path, error, exc_info=not known
            )
            self.metrics.count_failed("assess")
            return
        self._show(each)

    def _show(self, each: Watched) -> None:
        """What has changed of a module, if anything has."""
        feed, now_us = each.feed, self.clock()
        service = each.service
        lives = Lives(  # other threads read it while these go on
            dict(each.lives), each.shadow_ends_us, now_us, service.unconfirmed_us, service.replaced_us
        )
        stale = stale_alarm(feed.text, feed.since_us) if feed.raised else None
        stands = (each.latest, each.states, each.findings, feed.newest_us, stale)
        seen = (*stands, lives.of, lives.shadow_ends_us, lives.shadow, service)
        if self._shown.get(each.plan.path) == seen:
            return
        self._shown[each.plan.path] = seen
        shown = view(each.plan, each.latest, each.states, feed.newest_us, stale, each.findings, lives)
        self.metrics.show(shown)
        self.views[each.plan.path] = shown
        if self.poster is not None:
            self.poster.look_at(shown)
        found = (shown.assessment, shown.alarms, lives.shadow, lives.of)
        if shown.assessment is not None and self._published.get(each.plan.path) != found:
            self._published[each.plan.path] = found
            self._publish(each, shown)

    def _publish(self, each: Watched, shown: ModuleView) -> None:
        prefix = self.plan.settings.broker.prefix
        alarms = alarm_messages(prefix, shown, each.plan.catalogue)
        for message in filter(None, [assessment_message(prefix, shown), *alarms]):
            self.publish(message.topic, message.payload)
