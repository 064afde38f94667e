"""A module as the running agent holds it: its plan, its ids, and what stands of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from agent.alarms import Detection, Finding, Life
from agent.assess import Assessment
from agent.readings import EVER_US, Moved
from agent.service.work.feed import Feed
from agent.service.work.hourly import Hourly
from agent.settings import ModulePlan
from agent.store import ModuleService, Store

NEVER_US = -EVER_US


@dataclass
class Watched:
    """A module as the running agent holds it."""

    plan: ModulePlan
    module_id: int
    revision_id: int
    signal_ids: Mapping[str, int]
    feed: Feed
    announced_us: dict[str, int] = field(default_factory=dict)  # per raised alarm: since when it holds
    latest: Assessment | None = None  # the newest that is not ahead of now
    states: dict[str, Detection] = field(default_factory=dict)
    findings: Mapping[str, Finding] = field(default_factory=dict)  # of the alarms that are judged by the hour
    _hourly: Hourly | None = None
    moved: Moved = field(default_factory=dict)  # readings that a mended mapping gives to another signal
    lives: dict[str, Life] = field(default_factory=dict)  # what has become of each alarm
    service: ModuleService = field(default_factory=ModuleService)
    opened_us: int = 0  # since when it is watched
    progress_us: int | None = None  # the grid time up to which the live edge has come
    first_us: int | None = None  # the first grid time assessed, as it was when that was looked up

    @property
    def shadow_ends_us(self) -> int | None:
        """Before that its alarms are shown and not sent; None: they are sent."""
        return shadow_ends_us(self.plan, self.service, self.opened_us, self.first_us)

    def in_shadow(self, now_us: int, service: ModuleService | None = None) -> bool:
        """Whether its alarms are shown and not sent. ``service``: in place of what has been said of it."""
        ends_us = shadow_ends_us(self.plan, service or self.service, self.opened_us, self.first_us)
        return ends_us is not None and now_us < ends_us

    def hourly(self, store: Store) -> Hourly:
        """What is known of it by the hour."""
        said = (self.service.relearn_us, self.service.replaced_us)
        if self._hourly is None or (self._hourly.relearn_us, self._hourly.replaced_us) != said:
            self._hourly = Hourly(store, self.plan, self.module_id)
        return self._hourly

    def shown_us(self, progress_us: int | None, edge_us: int) -> int:
        """Up to when assessments have been handed on as live."""
        shown = self.latest.grid_us if self.latest is not None else progress_us
        return NEVER_US if shown is None or shown > edge_us else shown

    def latest_with(self, assessment: Assessment, edge_us: int) -> Assessment:
        """The latest beside another one: that, unless a newer one, not ahead of now, is held."""
        held = self.latest
        newer = held is not None and assessment.grid_us < held.grid_us <= edge_us
        return held if held is not None and newer else assessment


def shadow_ends_us(
    plan: ModulePlan, service: ModuleService, opened_us: int, first_us: int | None
) -> int | None:
    """When a module's alarms begin to be sent; None: they are.

    ``opened_us``: since when it is watched. ``first_us``: the first grid time assessed; a backlog of the
    time before counts from when it is watched. Of a unit that was replaced it counts from then.
    """
    confirmed = service.confirmed_us is not None and service.unconfirmed_us is None
    if confirmed or not plan.shadow_us:
        return None
    return max(opened_us, first_us or opened_us, service.replaced_us or 0) + plan.shadow_us
