"""What the agent runs on: modules, where their signals come from, limits; all of it checked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import orjson

from agent.alarms import Entry
from agent.assess import Module
from agent.piping import Layout
from agent.settings.mapping import Address, Mapped, Payload, addresses, topic_filters, write_mapping
from agent.settings.model import Settings
from agent.settings.names import ModulePath
from agent.settings.shared import SharedPlan
from agent.settings.signals import Conversion
from agent.settings.source import Finding, Where


class UnknownModuleError(LookupError):
    """No such module in the configuration."""


@dataclass(frozen=True)
class Epoch:
    """A module from a time on, under the layout that holds then."""

    from_us: int
    module: Module
    conversions: Mapping[str, Conversion]
    stored_as: Mapping[str, str]  # each signal, and the name under which its point's readings are stored now
    owners: Mapping[str, ModulePath]  # of each stored name: the module itself, its system or its site
    rests_on: Mapping[str, Any]


@dataclass(frozen=True)
class ModulePlan:
    """One module, ready to run."""

    path: ModulePath
    topic: str
    zone: str | None  # IANA name, where the samples on the topic are stamped in its wall time; None: in UTC
    payload: Payload
    epochs: tuple[Epoch, ...]  # ascending; the first holds since ever
    points: Mapping[str, str]  # what comes in on the topic: record name, pointer or sub-topic to signal
    configured_probe: str | None
    catalogue: Mapping[str, Entry]
    revision: str  # JSON: all that an assessment rests on beside the readings
    shadow_us: int = 0  # how long after the first assessment alarms are shown and not sent
    library: Callable[[], tuple[Layout, ...]] = field(
        default=tuple, compare=False
    )  # all of the folder, read once

    @cached_property
    def module(self) -> Module:
        """The module under its newest layout."""
        return self.epochs[-1].module

    @cached_property
    def conversions(self) -> Mapping[str, Conversion]:
        return self.epochs[-1].conversions

    @cached_property
    def kind(self) -> bytes:
        """One for all modules that are assessed alike: its revision, but for where readings come in."""
        body = orjson.loads(self.revision)
        body["module"].pop("topic")
        return orjson.dumps(body)

    @cached_property
    def lookback_us(self) -> int:
        """How long a reading touches what is assessed after it, under any of the layouts."""
        return max(epoch.module.lookback_us for epoch in self.epochs)

    @cached_property
    def owners(self) -> Mapping[str, ModulePath]:
        """Whose the readings of each stored name are: the module's own, its system's or its site's."""
        return {name: owner for epoch in self.epochs for name, owner in epoch.owners.items()}

    @cached_property
    def stored_signals(self) -> tuple[str, ...]:
        """Every name under which readings of this module are stored."""
        return tuple(dict.fromkeys(name for epoch in self.epochs for name in epoch.stored_as.values()))

    @cached_property
    def addresses(self) -> Mapping[Address, str]:
        """Topic and name in the payload to signal."""
        return addresses(self.topic, self.payload.kind, self.points)


@dataclass(frozen=True)
class Plan:
    """The whole configuration, ready to run."""

    settings: Settings
    store_url: str
    modules: tuple[ModulePlan, ...]
    shared: tuple[SharedPlan, ...]
    at: Callable[[Where, str], Finding | None] = field(repr=False, compare=False)  # a sentence with its place

    @property
    def origins(self) -> tuple[SharedPlan | ModulePlan, ...]:
        """All that signals come from. Several may share a topic under names of their own."""
        return (*self.shared, *self.modules)

    @cached_property
    def topic_filters(self) -> tuple[str, ...]:
        """What to subscribe to."""
        return topic_filters((topic, one.payload.kind) for one in self.origins for topic, _ in one.addresses)

    @cached_property
    def mapping(self) -> str:
        """JSON: topic and name to owner, signal, unit and, where stated, zone of the stamps, payload."""
        found = {
            address: Mapped(str(each.path), signal, each.conversions[signal].unit, each.zone, each.payload)
            for each in self.origins  # several may share a topic under names of their own
            for address, signal in each.addresses.items()
        }
        return write_mapping(found)
