"""What whoever commissions should know of a configuration that can be used: nothing of it hinders running.

Modules that are alike are looked at once. The figures come from an invented quiet hour of each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

from agent.alarms import cannot_prove_dry
from agent.assess import SECOND, Assessment, Status, quiet_valves, typical, typical_dew_c
from agent.assess.signals import current_of, speed_of
from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Choice,
    Fitness,
    Layout,
    Standing,
)
from agent.settings.http import is_loopback
from agent.settings.plan import ModulePlan, Plan
from agent.settings.source import Finding, Where

SLOW_S = 60  # hunting has periods of some minutes; common practice, no source
QUANTITIES = {
    RETURN: "return superheat",
    ACCUMULATOR_OUTLET: "accumulator-outlet superheat",
    COMPRESSOR_INLET: "compressor-inlet superheat",
    RISE: "oil-return rise",
    ACCUMULATOR_CHANGE: "accumulator change",
}
_GOODNESS = tuple(Standing)  # from best to worst


@dataclass(frozen=True)
class Alike:
    """Modules that are alike in all but their names, and a quiet hour of theirs by mode."""

    modules: tuple[ModulePlan, ...]
    modes: Mapping[str, Assessment]

    @property
    def first(self) -> ModulePlan:
        return self.modules[0]


def alike(plan: Plan) -> list[Alike]:
    """The modules of a plan, those that are alike together."""
    groups: list[list[ModulePlan]] = []
    for module in plan.modules:
        mine = (module.module, module.configured_probe)
        group = next((g for g in groups if (g[0].module, g[0].configured_probe) == mine), None)
        if group is None:
            groups.append([module])
        else:
            group.append(module)
    return [
        Alike(tuple(group), {mode: typical(group[0].module, mode) for mode in group[0].module.layout.modes})
        for group in groups
    ]


def notes(plan: Plan, groups: Iterable[Alike]) -> list[Finding]:
    """What is worth knowing, each with its place in the file, in the file's order."""
    said = [*_open(plan), *_unused(plan), *(each for group in groups for each in _of(plan, group))]
    return sorted({found for where, text in said if (found := plan.at(where, text)) is not None})


def _of(plan: Plan, group: Alike) -> Iterator[tuple[Where, str]]:
    for module in group.modules:
        yield from _slow(plan, module)
    yield from _compressors(plan, group.first)
    yield from _valves(plan, group.first)
    yield from _probes(plan, group.first)
    yield from _configured(group)
    yield from _instruments(group)


def _open(plan: Plan) -> Iterator[tuple[Where, str]]:
    http = plan.settings.http
    if http.public_url is not None and not http.has_token:
        text = (
            "whoever reaches this address reads every page; right would be token_env or token_file under http"
        )
        yield ("http", "public_url"), text
    if http.public_url is not None and is_loopback(urlsplit(http.public_url).hostname or ""):
        text = f"links in notices lead to {http.public_url}, which is this machine alone: no phone opens them"
        text += "; right would be an address that is reached from there"
        yield ("http", "public_url"), text


def _unused(plan: Plan) -> Iterator[tuple[Where, str]]:
    settings = plan.settings
    modules = [module for system in settings.systems.values() for module in system.modules.values()]
    shared = [settings.shared, *(system.shared for system in settings.systems.values())]
    used = {module.signal_set for module in modules if any(not each.signal_set for each in module.layout)}
    used |= {each.signal_set for module in modules for each in module.layout if each.signal_set}
    used |= {each.signal_set for each in shared if each}
    for name in settings.signal_sets.keys() - used:
        yield ("signal_sets", name), f"no module uses signal set {name}"
    for name in settings.templates.keys() - {module.template for module in modules}:
        yield ("templates", name), f"no module uses template {name}"


def _slow(plan: Plan, module: ModulePlan) -> Iterator[tuple[Where, str]]:
    layout, settings = module.module.layout, plan.settings
    for name in (*layout.suction_probes, layout.suction_transducer):
        signal = module.module.signals.get(name)
        if signal is None or signal.interval_us <= SLOW_S * SECOND:
            continue
        set_name = _set_of(plan, module, name)
        where: Where = ("signal_sets", set_name)
        if settings.signal_sets[set_name].signals[name].every_s is not None:
            where = (*where, "signals", name)
        text = f"every {signal.interval_us / SECOND:g} s is too slow to see superheat hunting"
        yield (*where, "every_s"), f"{text}; right would be every {SLOW_S} s or faster"


def _compressors(plan: Plan, module: ModulePlan) -> Iterator[tuple[Where, str]]:
    layout, signals = module.module.layout, module.module.signals
    names = {c: [speed_of(c), current_of(c)] for c in layout.compressors}
    silent = [c for c in layout.compressors if not any(name in signals for name in names[c])]
    if not silent or not layout.is_known:
        return
    right = "; right would be " + ", ".join(" or ".join(names[c]) for c in silent)
    where = _signals_of(plan, module)
    if len(silent) < len(layout.compressors):
        yield where, f"no signal tells whether compressor {' or '.join(silent)} runs{right}"
    elif layout.discharge_transducer in signals and any(p in signals for p in layout.discharge_probes):
        which = ", and not which of them" if len(silent) > 1 else ""
        text = f"only the pressures tell whether a compressor runs{which}"
        yield where, f"{text}; and that only while their ratio does not fall and the discharge is hot{right}"
    else:
        yield where, f"no signal tells whether a compressor runs, so that no superheat is decided{right}"


def _valves(plan: Plan, module: ModulePlan) -> Iterator[tuple[Where, str]]:
    layout = module.module.layout
    for valve in layout.valves:
        if valve in module.module.signals:
            continue
        inlets = [inlet.name for inlet in layout.inlets.values() if inlet.valve == valve]
        coils = [coil.name for coil in layout.coils.values() if coil.valve == valve]
        costs = (
            f"{' and '.join(inlets)} is never known shut"
            if inlets
            else f"what {coils[0]} does is never known"
        )
        text = f"no signal gives {valve} of layout {layout.name}, so that {costs}"
        yield _signals_of(plan, module), text + _gain(module, valve=valve)


def _probes(plan: Plan, module: ModulePlan) -> Iterator[tuple[Where, str]]:
    layout = module.module.layout
    for probe in layout.suction_probes:
        if probe not in module.module.signals:
            text = f"no signal gives probe {probe} of layout {layout.name}"
            yield _signals_of(plan, module), text + _gain(module, probe=probe)


def _gain(module: ModulePlan, probe: str | None = None, valve: str | None = None) -> str:
    """What would be better with one signal more."""
    layout = module.module.layout
    better: dict[str, list[str]] = {}
    for mode in layout.modes:
        now, then = _choices(module, mode), _choices(module, mode, probe, valve)
        for place in now:
            if _GOODNESS.index(then[place].standing) < _GOODNESS.index(now[place].standing):
                better.setdefault(place, []).append(mode)
    if not better:
        return "; no choice of a probe would change with it"
    places = (f"{QUANTITIES[place]} in {' and '.join(modes)}" for place, modes in better.items())
    return f"; with it better: {', '.join(places)}"


def _choices(
    module: ModulePlan, mode: str, probe: str | None = None, valve: str | None = None
) -> Mapping[str, Choice]:
    layout, signals = module.module.layout, module.module.signals
    known = [*signals, *filter(None, (probe, valve))]
    told = {name: state for name, state in quiet_valves(layout, mode).items() if name in known}
    return layout.choose(mode, told, _running(layout, known), known).places


def _running(layout: Layout, signals: Iterable[str]) -> tuple[str, ...] | None:
    known = set(signals)
    told = [{speed_of(c), current_of(c)} & known for c in layout.compressors]
    return layout.compressors if all(told) else None


def _configured(group: Alike) -> Iterator[tuple[Where, str]]:
    probe = group.first.configured_probe
    found: dict[tuple[Fitness, str], list[str]] = {}
    for mode, assessment in group.modes.items() if probe else ():
        found.setdefault(assessment.fitness[str(probe)], []).append(mode)
    for (verdict, reason), modes in found.items():
        if verdict is not Fitness.FIT:
            text = f"{probe} is {_words(verdict)} in {' and '.join(modes)}: {reason}"
            for module in group.modules:
                yield (*_place(module), "configured_probe"), f"{text}; alarm probe-unfit will stand then"


def _instruments(group: Alike) -> Iterator[tuple[Where, str]]:
    """Of the first module alone: what is said holds for all that are alike."""
    where = _place(group.first)
    more = len(group.modules) - 1
    which = f"{group.first.path}{f' and {more} more like it' if more else ''}"
    if not group.first.module.layout.is_known:
        for module in group.modules:
            yield (*_place(module), "layout"), "nobody has described the piping, so that nothing is judged"
    for mode, assessment in group.modes.items():
        returned = assessment.quantities[RETURN].said
        if returned.status is not Status.DECIDED:
            text = f"{which}: return superheat is {_words(returned.status)} in {mode}"
            yield where, f"{text}: {returned.text}"
        doubt = cannot_prove_dry(group.first.catalogue, assessment)
        if doubt:
            known = group.first.module.known_loss_pa.keys() >= set(returned.probes)
            narrower = "" if known else "; a stated pressure_loss_kpa would narrow it"
            dew = f"{mode} at {typical_dew_c(mode):g} degC dew temperature"
            yield where, f"{which}, {dew}: {doubt}{narrower}"


def _place(module: ModulePlan) -> Where:
    return ("systems", module.path.system, "modules", module.path.module)


def _signals_of(plan: Plan, module: ModulePlan) -> Where:
    """Where a signal would be added."""
    own = plan.settings.systems[module.path.system].modules[module.path.module]
    return ("signal_sets", own.layout[-1].signal_set or own.signal_set, "signals")


def _set_of(plan: Plan, module: ModulePlan, name: str) -> str:
    """The signal set that a signal of a module stands in."""
    owner, settings = module.owners[name], plan.settings
    if owner == module.path:
        return str(_signals_of(plan, module)[1])
    shared = settings.systems[owner.system].shared if owner.system else settings.shared
    assert shared is not None
    return shared.signal_set


def _words(name: str) -> str:
    return name.replace("_", " ")
