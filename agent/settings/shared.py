"""Signals of system and site scope: which sets are shared, by which modules, and what comes of them.

The nearer wins: a module's own signal over the system's of the same name, the system's over the site's.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from agent.piping import Layout
from agent.settings.mapping import Address, Payload, addresses
from agent.settings.model import Settings, SharedSettings
from agent.settings.names import ModulePath
from agent.settings.ranges import filled
from agent.settings.sentences import meant
from agent.settings.signal_sets import Report, payload_of, points_of
from agent.settings.signals import Conversion, known_signals
from agent.settings.source import Where


@dataclass(frozen=True)
class SharedPlan:
    """The signals of a system or site, ready to run."""

    path: ModulePath  # the parts below its scope are empty
    topic: str
    zone: str | None  # as a module's
    payload: Payload
    points: Mapping[str, str]  # name in the payload to signal
    conversions: Mapping[str, Conversion]

    @cached_property
    def addresses(self) -> Mapping[Address, str]:
        """Topic and name in the payload to signal."""
        return addresses(self.topic, self.payload.kind, self.points)


@dataclass
class Scope:
    """A shared signal set of the configuration; gathers what the modules below make of it."""

    where: Where
    path: ModulePath
    settings: SharedSettings
    topic: str
    zone: str | None
    known: dict[str, None] = field(default_factory=dict)  # names that a layout below has a place for
    conversions: dict[str, Conversion] = field(default_factory=dict)
    is_judged: bool = True  # False: a layout below could not be read

    def note(self, layout: Layout | None, conversions: Mapping[str, Conversion]) -> None:
        """Take in what a module below makes of the signals."""
        if layout is None:
            self.is_judged = False
            return
        self.known |= dict.fromkeys(known_signals(layout))
        self.conversions |= conversions

    def plan(self, settings: Settings) -> SharedPlan:
        signals = settings.signal_sets[self.settings.signal_set]
        payload, points = payload_of(signals), points_of(signals)
        return SharedPlan(self.path, self.topic, self.zone, payload, points, self.conversions)


_Described = tuple[Where, ModulePath, SharedSettings | None, str | None]


def scopes(settings: Settings, wrong: Report) -> list[Scope]:
    """Every shared set that exists, the site's first."""
    found = []
    site = ModulePath(settings.site)
    described: list[_Described] = [((), site, settings.shared, None)]
    described += [
        (("systems", name), ModulePath(settings.site, name), system.shared, system.stamps_zone)
        for name, system in settings.systems.items()
    ]
    for where, path, shared, zone in described:
        if shared is None:
            continue
        at = (*where, "shared")
        topic, sentences = filled(
            shared.topic or "", dict(zip(("site", "system"), filter(None, path), strict=False))
        )
        for sentence in sentences:
            wrong((*at, "topic"), sentence)
        topic = topic or f"{settings.broker.telemetry}/{path}"
        found.append(Scope(at, path, shared, topic, shared.stamps_zone or zone))
    return found


def over(scopes: Iterable[Scope], system: str) -> list[Scope]:
    """Those that the modules of a system have signals of; the nearer later."""
    return [scope for scope in scopes if scope.path.system in ("", system)]


def check_places(
    scopes: Iterable[Scope], settings: Settings, unusable: Collection[Where], wrong: Report
) -> None:
    """No signal may be shared that no module could use: its writer meant another."""
    for scope in scopes:
        name, path = scope.settings.signal_set, scope.path
        below: Where = ("systems", path.system) if path.system else ("systems",)
        if any(part[: len(below)] == below for part in unusable):
            continue  # it may be of a module that could not be looked at
        if not scope.is_judged or name not in settings.signal_sets:
            continue
        for signal in settings.signal_sets[name].signals:
            if signal not in scope.known and signal not in scope.conversions:
                text = f"no layout of {path} has a place for signal {signal!r}{meant(signal, scope.known)}"
                wrong(("signal_sets", name, "signals", signal), text)
