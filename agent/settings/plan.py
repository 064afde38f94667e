"""From configuration and layout files to what the agent runs on: modules, mapping, limits, all checked.

Everything that is wrong is found in one go; each finding says file, line, column and what would be right.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple

import orjson
from pydantic import ValidationError

from agent.alarms import CATALOGUE, Entry
from agent.assess import CODE, MODE_SIGNAL, MODES, SECOND, Module, Signal
from agent.piping import Layout, LayoutError
from agent.settings.model import ModuleSettings, Settings, SignalSetSettings, SignalSettings, SystemSettings
from agent.settings.signals import Conversion, known_signals, word
from agent.settings.source import ConfigError, Finding, Source
from agent.thermo import REFRIGERANTS, absolute_pressure
from agent.units import UNITS, Dimension, difference_to_si, units_of

SEALED_AT_PA = 101_325.0  # where the config names no other sealing pressure
_INSTRUMENTS = (Dimension.TEMPERATURE, Dimension.PRESSURE)

Where = tuple[str | int, ...]


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
    mapping: str  # JSON: topic and name to signal and unit


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
            for each in error.errors():
                self.wrong(each["loc"], _sentence(dict(each)))
            raise ConfigError(self.findings) from None
        catalogue = self.catalogue(settings)
        modules = [
            self.module(settings, system, name, catalogue)
            for system, described in settings.systems.items()
            for name in described.modules
        ]
        self.check_points(modules)
        if self.findings:
            raise ConfigError(self.findings)
        plans = tuple(module for module in modules if module)
        mapping = {
            m.topic: {point: [signal, m.conversions[signal].unit] for point, signal in m.points.items()}
            for m in plans
        }
        return Plan(settings, self.store_url(settings), plans, _json(mapping))

    def wrong(self, where: Where, message: str) -> None:
        self.findings.append(self.source.at(where, message))

    def store_url(self, settings: Settings) -> str:
        scheme, slashes, file = settings.store.url.partition(":///")
        if scheme == "sqlite" and slashes and not Path(file).is_absolute():
            return f"sqlite:///{(self.folder / file).resolve()}"
        return settings.store.url

    def catalogue(self, settings: Settings) -> dict[str, Entry]:
        catalogue = dict(CATALOGUE)
        for name, changes in settings.limits.items():
            if name in catalogue:
                catalogue[name] = catalogue[name].with_limits(**changes.model_dump())
            else:
                self.wrong(("limits", name), f"no alarm {name!r}{_meant(name, catalogue)}")
        return catalogue

    def module(
        self, settings: Settings, system_name: str, name: str, catalogue: Mapping[str, Entry]
    ) -> ModulePlan | None:
        system = settings.systems[system_name]
        described = system.modules[name]
        where: Where = ("systems", system_name, "modules", name)
        found = self.layout(settings, described, where)
        signals = settings.signal_sets.get(described.signal_set)
        if signals is None:
            known = settings.signal_sets
            text = f"no signal set {described.signal_set!r}{_meant(described.signal_set, known)}"
            self.wrong((*where, "signal_set"), text)
        if system.refrigerant not in REFRIGERANTS:
            text = f"refrigerant {system.refrigerant!r} is not known; known are {', '.join(REFRIGERANTS)}"
            self.wrong(("systems", system_name, "refrigerant"), text)
        if found is None or signals is None or system.refrigerant not in REFRIGERANTS:
            return None
        layout, layout_data = found
        conversions = self.conversions(settings, described.signal_set, signals, layout)
        probe = described.configured_probe
        if probe is not None and probe not in layout.suction_probes:
            text = (
                f"layout {layout.name} has no suction probe {probe!r}{_meant(probe, layout.suction_probes)}"
            )
            self.wrong((*where, "configured_probe"), text)
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
            topic=described.topic or f"{settings.broker.telemetry}/{path}",
            module=core,
            points={signal.point or name: name for name, signal in signals.signals.items()},
            conversions=conversions,
            configured_probe=described.configured_probe,
            catalogue=catalogue,
            revision=_json(rests_on),
        )

    def layout(
        self, settings: Settings, described: ModuleSettings, where: Where
    ) -> tuple[Layout, Any] | None:
        name = described.layout
        if name not in self.layouts:
            self.layouts[name] = self.read_layout(settings, name, where)
        return self.layouts[name]

    def read_layout(self, settings: Settings, name: str, where: Where) -> tuple[Layout, Any] | None:
        folder = self.folder / settings.layouts
        file = folder / f"{name}.yaml"
        if not file.is_file():
            there = sorted(f.stem for f in folder.glob("*.yaml"))
            self.wrong((*where, "layout"), f"no layout file {file}{_meant(name, there)}")
            return None
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

    def conversions(
        self, settings: Settings, set_name: str, signals: SignalSetSettings, layout: Layout
    ) -> dict[str, Conversion]:
        known = known_signals(layout)
        found: dict[str, Conversion] = {}
        for name, signal in signals.signals.items():
            where: Where = ("signal_sets", set_name, "signals", name)
            if name not in known:
                text = f"layout {layout.name} has no place for signal {name!r}{_meant(name, known)}"
                self.wrong(where, text)
            elif known[name] is None:
                found[name] = self.state(name, signal, where)
            else:
                found[name] = self.measured(settings, signal, known[name], where)
        for needed in (layout.suction_transducer, MODE_SIGNAL):
            if needed not in signals.signals:
                text = f"signal {needed} is missing; without it layout {layout.name} can judge nothing"
                self.wrong(("signal_sets", set_name, "signals"), text)
        return found

    def state(self, name: str, signal: SignalSettings, where: Where) -> Conversion:
        if name == MODE_SIGNAL:
            if not signal.values:
                self.wrong(where, "values is missing; it says which mode each value of the point means")
                return Conversion(None)
            for value, mode in signal.values.items():
                if mode not in MODES:
                    text = f"no mode {mode!r}{_meant(mode, MODES)}"
                    self.wrong((*where, "values", value), text)
            return Conversion(None, words={word(v): float(CODE.get(m, 0)) for v, m in signal.values.items()})
        if signal.values is None:
            return Conversion(None)
        states = {"open": 1.0, "shut": 0.0}
        for value, state in signal.values.items():
            if state not in states:
                self.wrong((*where, "values", value), f"found {state!r}; a valve is open or shut")
        return Conversion(
            None, words={word(v): states.get(s, float("nan")) for v, s in signal.values.items()}
        )

    def measured(
        self, settings: Settings, signal: SignalSettings, dimension: Dimension | None, where: Where
    ) -> Conversion:
        if signal.unit is None:
            allowed = ", ".join(units_of(dimension)) if dimension else ""
            self.wrong(where, f"unit is missing; right would be one of {allowed}")
        elif signal.unit not in UNITS or UNITS[signal.unit].dimension is not dimension:
            allowed = ", ".join(units_of(dimension)) if dimension else ""
            text = f"{signal.unit!r} is no unit of {dimension}; right would be one of {allowed}"
            self.wrong((*where, "unit"), text)
        if dimension in _INSTRUMENTS and signal.accuracy is None:
            self.wrong(
                where, "accuracy is missing; state the instrument's limit of error in the signal's unit"
            )
        if dimension is not Dimension.PRESSURE:
            return Conversion(dimension, signal.unit)
        return Conversion(dimension, signal.unit, self.reference_pa(settings, signal, where))

    def reference_pa(self, settings: Settings, signal: SignalSettings, where: Where) -> float:
        """What a pressure is counted from [Pa]."""
        if signal.reference is None:
            self.wrong(where, "reference is missing; right would be absolute, gauge-vented or gauge-sealed")
            return 0.0
        if signal.reference == "gauge-vented" and settings.elevation_m is None:
            text = "a vented gauge needs the site's elevation; state elevation_m beside site"
            self.wrong((*where, "reference"), text)
            return 0.0
        sealed_at_pa = signal.sealed_at_kpa * 1e3 if signal.sealed_at_kpa else SEALED_AT_PA
        return float(absolute_pressure(0.0, signal.reference, settings.elevation_m or 0.0, sealed_at_pa))

    def check_points(self, modules: Iterable[ModulePlan | None]) -> None:
        """No value may belong to two signals."""
        owners: dict[tuple[str, str], ModulePath] = {}
        for module in modules:
            for point in module.points if module else ():
                assert module is not None
                other = owners.setdefault((module.topic, point), module.path)
                if other != module.path:
                    where = ("systems", module.path.system, "modules", module.path.module)
                    text = f"{point} on topic {module.topic} belongs to {other} already; state another topic"
                    self.wrong(where, text)


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
        max_skew_us=int(settings.assess.max_skew_s * SECOND),
        silence_us=int(settings.assess.silence_s * SECOND),
    )


def _core_signal(signals: SignalSetSettings, signal: SignalSettings) -> Signal:
    unit = signal.unit or "/"
    return Signal(
        max_age_us=int((signal.max_age_s or signals.max_age_s) * SECOND),
        interval_us=int((signal.every_s or signals.every_s) * SECOND),
        half_width=difference_to_si(signal.accuracy or 0.0, unit),
        step=difference_to_si(signal.step, unit),
        on_change=signals.on_change if signal.on_change is None else signal.on_change,
    )


def _meant(name: str, known: Iterable[str]) -> str:
    """The end of a sentence about an unknown name: what was meant, or what there is."""
    names = sorted(known)
    close = difflib.get_close_matches(name, names, n=1)
    if close:
        return f"; did you mean {close[0]!r}?"
    return f"; there are {', '.join(names)}" if names else ""


def _sentence(error: Mapping[str, Any]) -> str:
    """A pydantic error in a sentence: what was found and what would be right."""
    if error["type"] == "missing":
        return f"{error['loc'][-1]} is missing"
    if error["type"] == "extra_forbidden":
        return f"unknown key {error['loc'][-1]!r}"
    right = error["msg"].removeprefix("Input should be ").removeprefix("a valid ")
    return f"found {error['input']!r}; right would be {right}"


def _json(body: Any) -> str:
    return orjson.dumps(body, option=orjson.OPT_SORT_KEYS | orjson.OPT_NON_STR_KEYS).decode()
