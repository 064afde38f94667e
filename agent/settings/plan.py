"""From configuration and layout files to what the agent runs on: modules, mapping, limits, all checked.

What is wrong is found in stages, each in one go: the text as YAML, its keys and types, then what it means
with the layouts. Each finding says file, line, column and what would be right.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import available_timezones

import orjson
from pydantic import ValidationError

from agent.alarms import CATALOGUE, Entry
from agent.assess import SECOND, Module, Signal
from agent.piping import NOT_KNOWN, Layout, LayoutError, with_side
from agent.settings.dated import DatedLayout
from agent.settings.mapping import Address, Mapped, Payload, addresses, topic_filters, write_mapping
from agent.settings.model import ModuleSettings, Settings, SignalSetSettings, SignalSettings, SystemSettings
from agent.settings.sentences import meant, shown, wrong
from agent.settings.signal_sets import SignalSets, ages_s, points_of
from agent.settings.signals import Conversion, compressors_named
from agent.settings.source import ConfigError, Finding, Source, Where
from agent.thermo import REFRIGERANTS
from agent.units import difference_to_si


class ModulePath(NamedTuple):
    """Site, system and module: the name of a module everywhere."""

    site: str
    system: str
    module: str

    def __str__(self) -> str:
        return "/".join(self)


@dataclass(frozen=True)
class Epoch:
    """A module from a time on, under the layout that holds then."""

    from_us: int
    module: Module
    conversions: Mapping[str, Conversion]
    stored_as: Mapping[str, str]  # each signal, and the name under which its point's readings are stored now
    rests_on: Mapping[str, Any]


@dataclass(frozen=True)
class ModulePlan:
    """One module, ready to run."""

    path: ModulePath
    topic: str
    zone: str | None  # IANA name, where the samples on the topic are stamped in its wall time; None: in UTC
    payload: Payload
    epochs: tuple[Epoch, ...]  # ascending; the first holds since ever
    points: Mapping[str, str]  # name in the payload to signal; of json a JSON Pointer, of scalar a sub-topic
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
    mapping: (
        str  # JSON: topic and name to module, signal, unit and, where stated, zone of the stamps, payload
    )

    @property
    def topic_filters(self) -> tuple[str, ...]:
        """What to subscribe to."""
        return topic_filters((topic, m.payload.kind) for m in self.modules for topic, _ in m.addresses)


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
        self.findings: list[Finding] = []
        self.layouts: dict[str, tuple[Layout, Any] | None] = {}

    def plan(self) -> Plan:
        try:
            settings = Settings.model_validate(self.source.data)
        except ValidationError as error:
            for each in error.errors(include_url=False):
                self.wrong(*wrong(dict(each)))
            raise ConfigError(self.findings) from None
        catalogue = self.catalogue(settings)
        store_url = self.store_url(settings)
        signal_sets = SignalSets(settings, self.wrong)
        signal_sets.check()
        self.check_topics(settings)
        self.check_zones(settings)
        modules = [
            self.module(settings, system, name, catalogue, signal_sets)
            for system, described in settings.systems.items()
            for name in described.modules
        ]
        if self.findings:
            raise ConfigError(self.findings)
        plans = tuple(module for module in modules if module)
        mapping = {
            address: Mapped(str(m.path), signal, m.conversions[signal].unit, m.zone, m.payload)
            for m in plans  # modules may share a topic under names of their own
            for address, signal in m.addresses.items()
        }
        return Plan(settings, store_url, plans, write_mapping(mapping))

    def wrong(self, where: Where, message: str, at_key: bool = False) -> None:
        self.findings.append(self.source.at(where, message, at_key=at_key))

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
        if system.refrigerant not in REFRIGERANTS:
            text = f"no refrigerant {system.refrigerant!r}{meant(system.refrigerant, REFRIGERANTS)}"
            self.wrong(("systems", system_name, "refrigerant"), text)
        epochs = [
            self.epoch(settings, system, described, entry, signal_sets, (*where, "layout", number))
            for number, entry in enumerate(described.layout)
        ]
        known = [each for each in epochs if each is not None]
        if self.findings or len(known) < len(epochs):
            return None
        signals = settings.signal_sets[_signal_set(described)]
        path = ModulePath(settings.site, system_name, name)
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
            payload=Payload(signals.payload, signals.time),
            points=points_of(signals),
            configured_probe=described.configured_probe,
            catalogue=catalogue,
            revision=_json(rests_on),
        )

    def epoch(
        self,
        settings: Settings,
        system: SystemSettings,
        described: ModuleSettings,
        entry: DatedLayout,
        signal_sets: SignalSets,
        where: Where,
    ) -> Epoch | None:
        set_name = entry.signal_set or described.signal_set
        signals = settings.signal_sets.get(set_name)
        if signals is None:
            at = (*where, "signal_set") if entry.signal_set else (*where[:-2], "signal_set")
            self.wrong(at, f"no signal set {set_name!r}{meant(set_name, settings.signal_sets)}")
        found = self.layout(settings, entry, signals, where)
        if found and entry is described.layout[-1]:
            self.check_probes(found[0], described, where[:-2])
        if found is None or signals is None:
            return None
        layout, layout_data = found
        conversions = signal_sets.conversions(set_name, layout)
        if self.findings:
            return None
        now = {point: name for name, point in _names(settings.signal_sets.get(_signal_set(described)))}
        return Epoch(
            from_us=entry.from_us,
            module=_core_module(settings, system, described, signals, layout),
            conversions=conversions,
            stored_as={name: now.get(point, name) for name, point in _names(signals)},
            rests_on={
                "from_us": entry.from_us,
                "by": entry.by,
                "why": entry.why,
                "layout": layout_data,
                "signals": signals.model_dump(mode="json"),
            },
        )

    def layout(
        self, settings: Settings, entry: DatedLayout, signals: SignalSetSettings | None, where: Where
    ) -> tuple[Layout, Any] | None:
        name = entry.layout
        file = self.folder / settings.layouts / f"{name}.yaml"
        if name == NOT_KNOWN:
            if file.exists():
                self.wrong((*where, "layout"), f"no layout file may be called {name}: {file}; rename it")
            return _unknown_layout(signals.signals if signals else ())
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
        """No value may belong to two modules, and none may come in where the agent publishes."""
        owners: dict[Address, ModulePath] = {}
        payloads: dict[str, tuple[Payload, ModulePath]] = {}
        for system, of_system in settings.systems.items():
            for name, described in of_system.modules.items():
                path = ModulePath(settings.site, system, name)
                where: Where = ("systems", system, "modules", name, "topic")
                topic = _topic(settings, described, path)
                signals = settings.signal_sets.get(_signal_set(described))
                found: Mapping[Address, str] = {}
                payload = Payload()
                if signals is not None:
                    found = addresses(topic, signals.payload, points_of(signals))
                    payload = Payload(signals.payload, signals.time)
                topics = dict.fromkeys(each for each, _ in found) or {topic: None}
                own = next((t for t in topics if f"{t}/".startswith(f"{settings.broker.prefix}/")), None)
                if own is not None:
                    text = f"topic {own} lies under broker.prefix, where the agent hears nothing"
                    self.wrong(where, text)
                for each in topics:
                    other_payload, other = payloads.setdefault(each, (payload, path))
                    if other_payload != payload:
                        text = f"topic {each} is {payload} here and {other_payload} for {other}"
                        self.wrong(where, f"{text}; state another topic")
                        break
                for each, point in found:
                    other = owners.setdefault((each, point), path)
                    if other != path:
                        what = f"{point} on topic {each}" if point else f"topic {each}"
                        self.wrong(where, f"{what} belongs to {other} already; state another topic")
                        break

    def check_zones(self, settings: Settings) -> None:
        """A zone exists, and a topic's stamps are of one."""
        zones: dict[str, tuple[str, str | None]] = {}
        for system, of_system in settings.systems.items():
            zone = of_system.stamps_zone
            where: Where = ("systems", system, "stamps_zone")
            if zone is not None and zone not in _zones():
                said = meant(zone, _zones())
                if "did you mean" not in said:  # there are 600, too many to list
                    said = "; right would be a name of the IANA time zone database, as Europe/Berlin"
                self.wrong(where, f"no time zone {zone!r}{said}")
            for name, described in of_system.modules.items():
                topic = _topic(settings, described, ModulePath(settings.site, system, name))
                other, its_zone = zones.setdefault(topic, (system, zone))
                if its_zone != zone:
                    found = f"{zone or 'UTC'} here and {its_zone or 'UTC'} in system {other}"
                    self.wrong(where, f"topic {topic} is stamped in {found}; right would be one stamps_zone")
                    break


def _unknown_layout(signals: Iterable[str]) -> tuple[Layout, Any]:
    layout = Layout.unknown(compressors_named(signals))
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
    signals: SignalSetSettings,
    layout: Layout,
) -> Module:
    return Module(
        layout=layout,
        refrigerant=system.refrigerant,
        signals={name: _core_signal(signals, signal) for name, signal in signals.signals.items()},
        known_loss_pa={probe: kpa * 1e3 for probe, kpa in described.pressure_loss_kpa.items()},
        unknown_loss_pa=described.unknown_loss_kpa * 1e3,
        runs_above_hz=described.runs_above_hz,
        runs_above_a=described.runs_above_a,
        max_skew_us=int(settings.assess.max_skew_s * SECOND),
        silence_us=int(settings.assess.silence_s * SECOND),
    )


def _core_signal(signals: SignalSetSettings, signal: SignalSettings) -> Signal:
    unit = signal.unit or "/"
    every_s, max_age_s = ages_s(signals, signal)
    return Signal(
        max_age_us=int(max_age_s * SECOND),
        interval_us=int(every_s * SECOND),
        half_width=difference_to_si(signal.accuracy or 0.0, unit),
        step=difference_to_si(signal.step, unit),
        on_change=signals.on_change if signal.on_change is None else signal.on_change,
    )


def _json(body: Any) -> str:
    return orjson.dumps(body, option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS).decode()
