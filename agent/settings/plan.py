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
from agent.piping import NOT_KNOWN, Layout, LayoutError
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
class ModulePlan:
    """One module, ready to run."""

    path: ModulePath
    topic: str
    zone: str | None  # IANA name, where the samples on the topic are stamped in its wall time; None: in UTC
    module: Module
    points: Mapping[str, str]  # name in the payload to signal
    conversions: Mapping[str, Conversion]
    configured_probe: str | None
    catalogue: Mapping[str, Entry]
    revision: str  # JSON: all that an assessment rests on beside the readings


@dataclass(frozen=True)
class Plan:
    """The whole configuration, ready to run."""

    settings: Settings
    store_url: str
    modules: tuple[ModulePlan, ...]
    mapping: str  # JSON: topic and name to module, signal, unit and, where stated, the zone of the stamps


def load(path: Path) -> Plan:
    """Read a configuration file and the layouts it names. Raises ConfigError with every finding."""
    return _Loader(path).plan()


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
        settings = settings.model_copy(update={"broker": settings.broker.with_files_from(self.folder)})
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
        mapping: dict[str, dict[str, list[str | None]]] = {}
        for m in plans:  # modules may share a topic under names of their own
            here = mapping.setdefault(m.topic, {})
            for point, signal in m.points.items():
                here[point] = [str(m.path), signal, m.conversions[signal].unit]
                if m.zone is not None:
                    here[point].append(m.zone)
        return Plan(settings, store_url, plans, _json(mapping))

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
        found = self.layout(settings, described, where)
        signals = settings.signal_sets.get(described.signal_set)
        if signals is None:
            set_name, known = described.signal_set, settings.signal_sets
            self.wrong((*where, "signal_set"), f"no signal set {set_name!r}{meant(set_name, known)}")
        if system.refrigerant not in REFRIGERANTS:
            text = f"no refrigerant {system.refrigerant!r}{meant(system.refrigerant, REFRIGERANTS)}"
            self.wrong(("systems", system_name, "refrigerant"), text)
        if found is None:
            return None
        layout, layout_data = found
        self.check_probes(layout, described, where)
        if signals is None:
            return None
        conversions = signal_sets.conversions(described.signal_set, layout)
        if self.findings:
            return None
        core = _core_module(settings, system, described, signals, layout)
        path = ModulePath(settings.site, system_name, name)
        rests_on = {
            "layout": layout_data,
            "refrigerant": system.refrigerant,
            "module": described.model_dump(mode="json"),
            "signals": signals.model_dump(mode="json"),
            "elevation_m": settings.elevation_m,
            "assess": settings.assess.model_dump(mode="json"),
            "limits": {entry.name: vars(entry.limits) for entry in catalogue.values()},
            "code": version("dewline"),
            "coolprop": version("CoolProp"),
        }
        return ModulePlan(
            path=path,
            topic=_topic(settings, described, path),
            zone=system.stamps_zone,
            module=core,
            points=points_of(signals),
            conversions=conversions,
            configured_probe=described.configured_probe,
            catalogue=catalogue,
            revision=_json(rests_on),
        )

    def layout(
        self, settings: Settings, described: ModuleSettings, where: Where
    ) -> tuple[Layout, Any] | None:
        name = described.layout
        file = self.folder / settings.layouts / f"{name}.yaml"
        if name == NOT_KNOWN:
            signals = settings.signal_sets.get(described.signal_set)
            if file.exists():
                self.wrong((*where, "layout"), f"no layout file may be called {name}: {file}; rename it")
            return _unknown_layout(signals.signals if signals else ())
        if not file.is_file():
            there = (other.stem for other in file.parent.glob("*.yaml"))
            self.wrong((*where, "layout"), f"no layout file {file}{meant(name, there)}")
            return None
        if name not in self.layouts:
            self.layouts[name] = self.read_layout(name, file)
        return self.layouts[name]

    def read_layout(self, name: str, file: Path) -> tuple[Layout, Any] | None:
        try:
            source = Source(file)
        except ConfigError as error:
            self.findings += error.findings
            return None
        if not isinstance(source.data, dict):
            self.findings.append(source.at((), "a layout file is a mapping with layout, suction_side, modes"))
            return None
        try:
            layout = Layout.from_mapping(source.data)
        except LayoutError as error:
            self.findings += [source.at(p.path, p.message) for p in error.problems]
            return None
        if layout.name != name:
            self.findings.append(
                source.at(("layout",), f"found {layout.name!r}; the file's name says {name!r}")
            )
        return layout, source.data

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
        owners: dict[tuple[str, str], ModulePath] = {}
        for system, of_system in settings.systems.items():
            for name, described in of_system.modules.items():
                path = ModulePath(settings.site, system, name)
                where: Where = ("systems", system, "modules", name, "topic")
                topic = _topic(settings, described, path)
                if f"{topic}/".startswith(f"{settings.broker.prefix}/"):
                    text = f"topic {topic} lies under broker.prefix, where the agent hears nothing"
                    self.wrong(where, text)
                signals = settings.signal_sets.get(described.signal_set)
                for point in points_of(signals) if signals else ():
                    other = owners.setdefault((topic, point), path)
                    if other != path:
                        text = f"{point} on topic {topic} belongs to {other} already; state another topic"
                        self.wrong(where, text)
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


@cache
def _zones() -> set[str]:
    """Read from the disk once."""
    return available_timezones()


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
