"""From configuration and layout files to a plan, all checked.

What is wrong is found in stages: the text as YAML; its keys and types; and, of all that has no mistake of
these, what it means with the layouts. Each finding says file, line, column and what would be right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

import orjson

from agent.alarms import CATALOGUE, Entry, with_supervisor
from agent.assess import SECOND, Module, Signal
from agent.piping import Layout
from agent.settings.dated import DatedLayout
from agent.settings.http import check_http
from agent.settings.layouts import Layouts
from agent.settings.model import (
    LimitSettings,
    ModuleSettings,
    Settings,
    SignalSetSettings,
    SignalSettings,
    SystemSettings,
)
from agent.settings.names import ModulePath
from agent.settings.plan import Epoch, ModulePlan, Plan
from agent.settings.ranges import Expansion
from agent.settings.sentences import meant, shown
from agent.settings.shared import Scope, check_places, over, scopes
from agent.settings.signal_sets import SignalSets, ages_s, payload_of, points_of
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding, Source, Where
from agent.settings.topics import check_topics, check_zones, newest_set, origins, topic_of
from agent.settings.typed import typed
from agent.thermo import REFRIGERANTS
from agent.units import difference_to_si

Edit = Callable[[dict[str, Any]], dict[str, Any]]


def load(path: Path, edit: Edit | None = None, limits: Path | None = None) -> Plan:
    """Read a configuration file and the layouts it names. Raises ConfigError with every finding.

    ``edit``: changes its plain data, modules written out, ahead of all checks. ``limits``: the file in which
    limits stand that come in that way.
    """
    return _Loader(path, edit, limits).plan()


class _Loader:
    def __init__(self, path: Path, edit: Edit | None, limits: Path | None) -> None:
        self.folder = path.parent
        self.source = Source(path)
        self.limits = Source(limits) if limits else None
        self.expansion = Expansion(self.source.data)
        if edit is not None:
            self.expansion.data = edit(self.expansion.data)
        self.findings = [self.source.at(w, text, at_key=at_key) for w, text, at_key in self.expansion.wrong]
        self.unusable: frozenset[Where] = frozenset()
        self.shared: list[Scope] = []

    def plan(self) -> Plan:
        usable = typed(self.expansion, lambda each: self.wrong(*each))
        if usable is None:
            raise ConfigError(self.findings)
        settings, self.unusable = usable
        settings = settings.with_files_from(self.folder)
        check_http(settings.http, self.wrong)
        self.layouts = Layouts(self.folder / settings.layouts, self.wrong)
        catalogue = self.catalogue(settings)
        store_url = self.store_url(settings)
        signal_sets = SignalSets(settings, self.wrong)
        signal_sets.check()
        self.shared = scopes(settings, self.wrong)
        for scope in self.shared:
            self.check_set(settings, scope.settings.signal_set, scope.where)
        found = list(origins(settings, self.shared))
        if not {("site",), ("broker",)} & self.unusable:
            check_topics(settings, found, self.wrong)
        check_zones((each for each in found if each.where_zone not in self.unusable), self.wrong)
        modules = [
            self.module(settings, system, name, catalogue, signal_sets)
            for system, described in settings.systems.items()
            for name in described.modules
        ]
        check_places(self.shared, settings, self.unusable, self.wrong)
        self.findings += self.layouts.findings
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
        if (
            self.limits is not None
            and where[:1] == ("limits",)
            and where[1:2]
            and where[1] in self.limits.data
        ):
            return self.limits.at(where[1:], message, at_key=at_key)
        place = self.expansion.place(where)
        return None if place is None else self.source.at(place, message, at_key=at_key)

    def store_url(self, settings: Settings) -> str:
        url = settings.store.url
        kind, _, file = url.partition(":///")
        if kind != "sqlite" or not file or file == ":memory:" or "?" in file:
            # Another database's URL may hold a password, so that only its beginning is shown.
            begin = url.partition(":")[0]
            is_plain = begin == "sqlite" and not set(url) & set("@?")
            found = shown(url) if is_plain else f"a URL that begins with {begin!r}"
            right = "sqlite:///PATH, with four slashes for an absolute path"
            self.wrong(("store", "url"), f"found {found}; right would be {right}")
        return f"sqlite:///{(self.folder / file).resolve()}"

    def catalogue(self, settings: Settings) -> dict[str, Entry]:
        catalogue = dict(CATALOGUE)
        for name, changes in settings.limits.items():
            if name in catalogue:
                self.check_limits(catalogue[name], changes)
                catalogue[name] = catalogue[name].with_limits(**changes.model_dump())
            else:
                self.wrong(("limits", name), f"no alarm {name!r}{meant(name, catalogue)}")
        return catalogue

    def check_limits(self, entry: Entry, changes: LimitSettings) -> None:
        """A limit stands in the alarm's own kind of figure."""
        where: Where = ("limits", entry.name)
        of_temperature = entry.limits.limit_c is not None
        for key in ("limit_c", "urgent_c") if not of_temperature else ("limit_k",):
            if getattr(changes, key) is not None:
                right = "limit_c and urgent_c, in degC" if of_temperature else "limit_k, in K"
                text = f"{entry.name} has no {key}; right would be {right}"
                self.wrong((*where, key), text, at_key=True)
        limits = entry.with_limits(limit_c=changes.limit_c, urgent_c=changes.urgent_c).limits
        if limits.limit_c is not None and limits.urgent_c is not None and limits.urgent_c < limits.limit_c:
            text = f"urgent_c {limits.urgent_c:g} lies below limit_c {limits.limit_c:g}"
            key = "urgent_c" if changes.urgent_c is not None else "limit_c"
            self.wrong((*where, key), f"{text}; right would be the other way round")

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
        if self.findings or self.layouts.findings or len(known) < len(epochs):
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
            topic=topic_of(settings, described, path),
            zone=system.stamps_zone,
            epochs=tuple(known),
            payload=payload_of(settings.signal_sets[newest_set(described)]),
            points=points_of(settings.signal_sets[newest_set(described)]),
            configured_probe=described.configured_probe,
            catalogue=with_supervisor(catalogue, described.configured_probe, known[-1].module.signals),
            revision=_json(rests_on),
            shadow_us=int(settings.alarms.shadow_days * 86_400 * SECOND),
            library=self.layouts.library,
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
        told = [name for each in sets.values() if each for name in each.signals]
        found = None if ("layouts",) in self.unusable else self.layouts.of(entry, told, where)
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
        newest = settings.signal_sets.get(newest_set(described))
        now = points_of(newest) if newest else {}
        stored_as = {name: name for name in owners}
        stored_as |= {name: now.get(point, name) for point, name in points_of(known[path]).items()}
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
        learning_hours=settings.assess.learning_hours,
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
