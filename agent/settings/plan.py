"""From configuration and layout files to what the agent runs on: modules, mapping, limits, all checked.

What is wrong is found in stages: the text as YAML; its keys and types; and, of all that has no mistake of
these, what it means with the layouts. Each finding says file, line, column and what would be right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import orjson

from agent.alarms import CATALOGUE, Entry
from agent.assess import SECOND, Module, Signal
from agent.piping import NOT_KNOWN, Layout, LayoutError, with_side
from agent.settings.dated import DatedLayout
from agent.settings.mapping import Address, Mapped, Payload, Taken, addresses, topic_filters, write_mapping
from agent.settings.model import ModuleSettings, Settings, SignalSetSettings, SignalSettings, SystemSettings
from agent.settings.names import ModulePath
from agent.settings.ranges import Expansion
from agent.settings.sentences import meant, shown
from agent.settings.shared import Scope, SharedPlan, check_places, over, scopes
from agent.settings.signal_sets import SignalSets, ages_s, payload_of, points_of
from agent.settings.signals import Conversion, compressors_named
from agent.settings.source import ConfigError, Finding, Source, Where
from agent.settings.typed import typed
from agent.thermo import REFRIGERANTS
from agent.units import difference_to_si


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

    @property
    def module(self) -> Module:
        """The module under its newest layout."""
        return self.epochs[-1].module

    @property
    def conversions(self) -> Mapping[str, Conversion]:
        return self.epochs[-1].conversions

    @property
    def lookback_us(self) -> int:
        """How long a reading touches what is assessed after it, under any of the layouts."""
        return max(epoch.module.lookback_us for epoch in self.epochs)

    @property
    def owners(self) -> Mapping[str, ModulePath]:
        """Whose the readings of each stored name are: the module's own, its system's or its site's."""
        return {name: owner for epoch in self.epochs for name, owner in epoch.owners.items()}

    @property
    def stored_signals(self) -> tuple[str, ...]:
        """Every name under which readings of this module are stored."""
        return tuple(dict.fromkeys(name for epoch in self.epochs for name in epoch.stored_as.values()))

    @property
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

    @property
    def topic_filters(self) -> tuple[str, ...]:
        """What to subscribe to."""
        return topic_filters((topic, one.payload.kind) for one in self.origins for topic, _ in one.addresses)

    @property
    def mapping(self) -> str:
        """JSON: topic and name to owner, signal, unit and, where stated, zone of the stamps, payload."""
        found = {
            address: Mapped(str(each.path), signal, each.conversions[signal].unit, each.zone, each.payload)
            for each in self.origins  # several may share a topic under names of their own
            for address, signal in each.addresses.items()
        }
        return write_mapping(found)


def load(path: Path) -> Plan:
    """Read a configuration file and the layouts it names. Raises ConfigError with every finding."""
    return _Loader(path).plan()


def load_layout(path: Path) -> Layout:
    """Read one layout file. Raises ConfigError with every finding."""
    return _read_layout(path)[0]


class _Loader:
    def __init__(self, path: Path) -> None:
        self.folder = path.parent
        self.source = Source(path)
        self.expansion = Expansion(self.source.data)
        self.findings = [self.source.at(w, text, at_key=at_key) for w, text, at_key in self.expansion.wrong]
        self.layouts: dict[str, tuple[Layout, Any] | None] = {}
        self.unusable: frozenset[Where] = frozenset()
        self.shared: list[Scope] = []

    def plan(self) -> Plan:
        usable = typed(self.expansion, lambda each: self.wrong(*each))
        if usable is None:
            raise ConfigError(self.findings)
        settings, self.unusable = usable
        catalogue = self.catalogue(settings)
        store_url = self.store_url(settings)
        signal_sets = SignalSets(settings, self.wrong)
        signal_sets.check()
        self.shared = scopes(settings, self.wrong)
        for scope in self.shared:
            self.check_set(settings, scope.settings.signal_set, scope.where)
        self.check_topics(settings)
        self.check_zones(settings)
        modules = [
            self.module(settings, system, name, catalogue, signal_sets)
            for system, described in settings.systems.items()
            for name in described.modules
        ]
        check_places(self.shared, settings, self.wrong)
        if self.findings:
            raise ConfigError(self.findings)
        plans = tuple(module for module in modules if module)
        shared = tuple(scope.plan(settings) for scope in self.shared)
        return Plan(settings, store_url, plans, shared, self.finding)

    def wrong(self, where: Where, message: str, at_key: bool = False) -> None:
        finding = self.finding(where, message, at_key)
        if finding is not None:
            self.findings.append(finding)

    def finding(self, where: Where, message: str, at_key: bool = False) -> Finding | None:
        place = self.expansion.place(where)
        return None if place is None else self.source.at(place, message, at_key=at_key)

    def store_url(self, settings: Settings) -> str:
        url = settings.store.url
        kind, _, file = url.partition(":///")
        if kind != "sqlite" or not file or file == ":memory:" or "?" in file:
            # Another database's URL may hold a password, so that only its beginning is shown.
            begin = url.partition(":")[0]
            found = shown(url) if begin == "sqlite" else f"a URL that begins with {begin!r}"
            right = "sqlite:///PATH, with four slashes for an absolute path"
            self.wrong(("store", "url"), f"found {found}; right would be {right}")
        return f"sqlite:///{(self.folder / file).resolve()}"

    def catalogue(self, settings: Settings) -> dict[str, Entry]:
        catalogue = dict(CATALOGUE)
        for name, changes in settings.limits.items():
            if name in catalogue:
                catalogue[name] = catalogue[name].with_limits(**changes.model_dump())
            else:
                self.wrong(("limits", name), f"no alarm {name!r}{meant(name, catalogue)}")
        return catalogue

    def module(
        self,
        settings: Settings,
        system_name: str,
        name: str,
        catalogue: Mapping[str, Entry],
        signal_sets: SignalSets,
    ) -> ModulePlan | None:
        system = settings.systems[system_name]
        described = system.modules[name]
        where: Where = ("systems", system_name, "modules", name)
        path = ModulePath(settings.site, system_name, name)
        if system.refrigerant not in REFRIGERANTS:
            text = f"no refrigerant {system.refrigerant!r}{meant(system.refrigerant, REFRIGERANTS)}"
            self.wrong(("systems", system_name, "refrigerant"), text)
        epochs = [
            self.epoch(settings, path, described, entry, signal_sets, (*where, "layout", number))
            for number, entry in enumerate(described.layout)
        ]
        known = [each for each in epochs if each is not None]
        if self.findings or len(known) < len(epochs):
            return None
        rests_on = {
            "layouts": [each.rests_on for each in known],
            "refrigerant": system.refrigerant,
            "module": described.model_dump(mode="json", exclude={"layout", "signal_set"}),
            "elevation_m": settings.elevation_m,
            "assess": settings.assess.model_dump(mode="json", exclude={"grace_s", "tolerance_s"}),
            "limits": {entry.name: vars(entry.limits) for entry in catalogue.values()},
            "code": version("dewline"),
            "coolprop": version("CoolProp"),
        }
        return ModulePlan(
            path=path,
            topic=_topic(settings, described, path),
            zone=system.stamps_zone,
            epochs=tuple(known),
            payload=payload_of(settings.signal_sets[_signal_set(described)]),
            points=points_of(settings.signal_sets[_signal_set(described)]),
            configured_probe=described.configured_probe,
            catalogue=catalogue,
            revision=_json(rests_on),
        )

    def epoch(
        self,
        settings: Settings,
        path: ModulePath,
        described: ModuleSettings,
        entry: DatedLayout,
        signal_sets: SignalSets,
        where: Where,
    ) -> Epoch | None:
        set_name = entry.signal_set or described.signal_set
        self.check_set(settings, set_name, where if entry.signal_set else where[:-2])
        above = over(self.shared, path.system)
        names = {scope.path: scope.settings.signal_set for scope in above} | {path: set_name}
        sets = {owner: settings.signal_sets.get(name) for owner, name in names.items()}
        found = self.layout(
            settings, entry, [name for each in sets.values() if each for name in each.signals], where
        )
        if found and entry is described.layout[-1]:
            self.check_probes(found[0], described, where[:-2])
        if found is None:
            for scope in above:
                scope.note(None, {})
            return None
        layout, layout_data = found
        conversions: dict[str, Conversion] = {}
        owners: dict[str, ModulePath] = {}
        for owner, each in sets.items():
            here = signal_sets.conversions(names[owner], layout, shared=owner != path) if each else {}
            conversions |= here
            owners |= dict.fromkeys(here, owner)
            for scope in above:
                if scope.path == owner:
                    scope.note(layout, here)
        if None not in sets.values() and not self.may_lack_signals(names.values(), path.system):
            signal_sets.check_needed(set_name, layout, conversions)
        if self.findings:
            return None
        known = {owner: each for owner, each in sets.items() if each is not None}
        signals = {
            name: _core_signal(known[owner], known[owner].signals[name], owner != path)
            for name, owner in owners.items()
        }
        now = {point: name for name, point in _names(settings.signal_sets.get(_signal_set(described)))}
        stored_as = {name: name for name in owners}
        stored_as |= {name: now.get(point, name) for name, point in _names(known[path])}
        dumped = {owner: each.model_dump(mode="json") for owner, each in known.items()}
        return Epoch(
            from_us=entry.from_us,
            module=_core_module(settings, settings.systems[path.system], described, signals, layout),
            conversions=conversions,
            owners={stored_as[name]: owner for name, owner in owners.items()},
            stored_as=stored_as,
            rests_on={
                "from_us": entry.from_us,
                "by": entry.by,
                "why": entry.why,
                "layout": layout_data,
                "signals": dumped.pop(path)
                | ({"shared": {str(o): d for o, d in dumped.items()}} if dumped else {}),
            },
        )

    def check_set(self, settings: Settings, name: str, where: Where) -> None:
        unusable = {str(part[1]) for part in self.unusable if part[0] == "signal_sets" and len(part) == 2}
        known = settings.signal_sets.keys() | unusable
        if name not in known and ("signal_sets",) not in self.unusable:
            self.wrong((*where, "signal_set"), f"no signal set {name!r}{meant(name, known)}")

    def may_lack_signals(self, sets: Iterable[str], system: str) -> bool:
        """What a module's signals are taken from has mistakes: what seems missing may only be unusable."""
        mentioned: set[Where] = {("signal_sets", name) for name in sets}
        whole: set[Where] = {("signal_sets",), ("shared",), ("systems", system, "shared")}
        return any(part in whole or part[:2] in mentioned for part in self.unusable)

    def layout(
        self, settings: Settings, entry: DatedLayout, signals: Iterable[str], where: Where
    ) -> tuple[Layout, Any] | None:
        name = entry.layout
        file = self.folder / settings.layouts / f"{name}.yaml"
        if ("layouts",) in self.unusable:
            return None
        if name == NOT_KNOWN:
            if file.exists():
                self.wrong((*where, "layout"), f"no layout file may be called {name}: {file}; rename it")
            return _unknown_layout(tuple(compressors_named(signals)))
        if not file.is_file():
            there = (other.stem for other in file.parent.glob("*.yaml"))
            self.wrong((*where, "layout"), f"no layout file {file}{meant(name, there)}")
            return None
        if name not in self.layouts:
            self.layouts[name] = self.read_layout(file)
        found = self.layouts[name]
        return self.with_sides(*found, entry, where) if found and entry.proven else found

    def with_sides(
        self, layout: Layout, data: Any, entry: DatedLayout, where: Where
    ) -> tuple[Layout, Any] | None:
        for probe, side in entry.proven.items():
            try:
                data = with_side(data, probe, side)
            except ValueError as error:
                self.wrong((*where, "proven", probe), f"{error}; leave it out", at_key=True)
                return None
        return Layout.from_mapping(data), data

    def read_layout(self, file: Path) -> tuple[Layout, Any] | None:
        try:
            return _read_layout(file)
        except ConfigError as error:
            self.findings += error.findings
            return None

    def check_probes(self, layout: Layout, described: ModuleSettings, where: Where) -> None:
        for probe in described.pressure_loss_kpa:
            self.check_probe(layout, probe, (*where, "pressure_loss_kpa", probe), at_key=True)
        if described.configured_probe is not None:
            self.check_probe(layout, described.configured_probe, (*where, "configured_probe"))

    def check_probe(self, layout: Layout, probe: str, where: Where, at_key: bool = False) -> None:
        known = layout.suction_probes
        if probe not in known:
            text = f"layout {layout.name} has no suction probe {probe!r}{meant(probe, known)}"
            self.wrong(where, text, at_key)

    def check_topics(self, settings: Settings) -> None:
        """No value may belong to two owners, and none may come in where the agent publishes."""
        if {("site",), ("broker",)} & self.unusable:
            return
        taken = Taken(settings.broker.prefix)
        for where, path, topic, set_name in self.sources(settings):
            signals = settings.signal_sets.get(set_name)
            payload, points = (payload_of(signals), points_of(signals)) if signals else (Payload(), {})
            for problem in taken.take(str(path), topic, payload, points):
                self.wrong((*where, "topic"), problem)

    def sources(self, settings: Settings) -> Iterator[tuple[Where, ModulePath, str, str]]:
        """All that signals come from: where it is written, whose it is, its topic and its signal set."""
        for scope in self.shared:
            yield scope.where, scope.path, scope.topic, scope.settings.signal_set
        for system, of_system in settings.systems.items():
            for name, described in of_system.modules.items():
                path = ModulePath(settings.site, system, name)
                topic = _topic(settings, described, path)
                yield ("systems", system, "modules", name), path, topic, _signal_set(described)

    def check_zones(self, settings: Settings) -> None:
        """A zone exists, and a topic's stamps are of one."""
        stated: dict[Where, str | None] = {
            ("systems", name, "stamps_zone"): system.stamps_zone for name, system in settings.systems.items()
        }
        stated |= {(*scope.where, "stamps_zone"): scope.zone for scope in self.shared}
        for where, zone in stated.items():
            if zone is not None and zone not in _zones():
                said = meant(zone, _zones())
                if "did you mean" not in said:  # there are 600, too many to list
                    said = "; right would be a name of the IANA time zone database, as Europe/Berlin"
                self.wrong(where, f"no time zone {zone!r}{said}")
        zones: dict[str, tuple[str, str | None]] = {}
        told = set(self.unusable)
        for where, path, topic, _ in self.sources(settings):
            place = (*where, "stamps_zone") if where[-1] == "shared" else (*where[:2], "stamps_zone")
            zone = stated[place]
            of = f"system {path.system}" if path.module else f"the shared signals of {path}"
            other, its_zone = zones.setdefault(topic, (of, zone))
            if its_zone != zone and place not in told:
                told.add(place)
                found = f"{zone or 'UTC'} here and {its_zone or 'UTC'} in {other}"
                self.wrong(place, f"topic {topic} is stamped in {found}; right would be one stamps_zone")


@cache
def _unknown_layout(compressors: tuple[str, ...]) -> tuple[Layout, Any]:
    layout = Layout.unknown(compressors)
    return layout, {"layout": layout.name, "compressors": list(layout.compressors)}


def _read_layout(file: Path) -> tuple[Layout, Any]:
    """A layout, and the data that it was read from."""
    source = Source(file)
    if not isinstance(source.data, dict):
        raise ConfigError([source.at((), "a layout file is a mapping with layout, suction_side, modes")])
    try:
        layout = Layout.from_mapping(source.data)
    except LayoutError as error:
        raise ConfigError([source.at(p.path, p.message) for p in error.problems]) from None
    if layout.name != file.stem:
        found = f"found {layout.name!r}; the file's name says {file.stem!r}"
        raise ConfigError([source.at(("layout",), found)])
    return layout, source.data


@cache
def _zones() -> set[str]:
    """Read from the disk once."""
    return available_timezones()


def _signal_set(described: ModuleSettings) -> str:
    """The signal set of the newest layout: what arrives now is stored by its names."""
    return described.layout[-1].signal_set or described.signal_set


def _names(signals: SignalSetSettings | None) -> list[tuple[str, str]]:
    """Each signal with its point."""
    return [] if signals is None else [(name, point) for point, name in points_of(signals).items()]


def _topic(settings: Settings, described: ModuleSettings, path: ModulePath) -> str:
    return described.topic or f"{settings.broker.telemetry}/{path}"


def _core_module(
    settings: Settings,
    system: SystemSettings,
    described: ModuleSettings,
    signals: Mapping[str, Signal],
    layout: Layout,
) -> Module:
    return Module(
        layout=layout,
        refrigerant=system.refrigerant,
        signals=signals,
        known_loss_pa={probe: kpa * 1e3 for probe, kpa in described.pressure_loss_kpa.items()},
        unknown_loss_pa=described.unknown_loss_kpa * 1e3,
        runs_above_hz=described.runs_above_hz,
        runs_above_a=described.runs_above_a,
        max_skew_us=int(settings.assess.max_skew_s * SECOND),
        silence_us=int(settings.assess.silence_s * SECOND),
    )


def _core_signal(signals: SignalSetSettings, signal: SignalSettings, shared: bool) -> Signal:
    unit = signal.unit or "/"
    every_s, max_age_s = ages_s(signals, signal)
    return Signal(
        max_age_us=int(max_age_s * SECOND),
        interval_us=int(every_s * SECOND),
        half_width=difference_to_si(signal.accuracy or 0.0, unit),
        step=difference_to_si(signal.step, unit),
        on_change=signals.on_change if signal.on_change is None else signal.on_change,
        shared=shared,
    )


def _json(body: Any) -> str:
    return orjson.dumps(body, option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS).decode()
