"""One module of a configuration with something of it changed, in memory: what a replay of its past takes.

The changed configuration goes through the same checks as any other; the file stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from agent.piping import NOT_KNOWN
from agent.settings.layouts import load_layout
from agent.settings.loading import load
from agent.settings.mapping import default_point
from agent.settings.model import ModuleSettings, Settings
from agent.settings.names import ModulePath
from agent.settings.plan import ModulePlan, Plan
from agent.settings.sentences import meant
from agent.settings.signals import known_signals
from agent.settings.source import ConfigError, Source
from agent.settings.topics import newest_set
from agent.thermo import REFRIGERANTS

LIMITS_EXAMPLE = "superheat-low: {limit_k: 4}"
SET = "as-replayed"  # of the module's signals, where they are other ones


class CannotChangeError(ValueError):
    """A change that makes no sense; the sentence says what was found and what would be right."""


@dataclass(frozen=True)
class Changes:
    """What is to be changed of a module for all of its past; what is None or empty stays."""

    layout: str | None = None
    renames: Mapping[str, str] = field(default_factory=dict)  # signal as configured, and what it is
    refrigerant: str | None = None
    limits: Path | None = None  # a YAML file with what changes of `limits`
    by: str | None = None  # who says so and why, for the lines of the file; None: to be filled in
    why: str | None = None

    @property
    def any(self) -> bool:
        return bool(self.layout or self.renames or self.refrigerant or self.limits)


class Changed(NamedTuple):
    """A plan with the changes, its module, and what of it the layout has no place for."""

    plan: Plan
    module: ModulePlan
    left_out: tuple[str, ...]
    lines: str  # YAML: what the configuration file would say, for a layout that holds from a time on


def load_changed(path: Path, plan: Plan, module: ModulePath, changes: Changes, from_us: int) -> Changed:
    """The configuration of a plan once more, with changes to one module.

    ``from_us``: from when on the lines for the file hold. Raises CannotChangeError, and ConfigError with
    every finding.
    """
    edit = _Edit(plan.settings, path.parent / plan.settings.layouts, module, changes)
    edited = load(path, edit.apply, changes.limits)
    found = next(each for each in edited.modules if each.path == module)
    return Changed(edited, found, tuple(edit.left_out), edit.lines(from_us))


class _Edit:
    """The change, worked out on plain data."""

    def __init__(self, settings: Settings, layouts: Path, path: ModulePath, changes: Changes) -> None:
        self.changes = changes
        self.path = path
        self.described: ModuleSettings = settings.systems[path.system].modules[path.module]
        self.set_name = newest_set(self.described)
        self.signal_set = settings.signal_sets[self.set_name]
        self.left_out: list[str] = []
        self.signals: dict[str, Any] | None = None  # None: as they are
        self.layout = changes.layout or self.described.layout[-1].layout
        self.limits = _mapping(changes.limits) if changes.limits else {}
        if changes.refrigerant is not None and changes.refrigerant not in REFRIGERANTS:
            there = ", ".join(sorted(REFRIGERANTS))
            raise CannotChangeError(f"no refrigerant {changes.refrigerant!r}; there are {there}")
        self.probes: tuple[str, ...] = ()  # of the layout
        self.known = self._known(layouts)
        if changes.layout or changes.renames:
            self._rename()

    def apply(self, data: dict[str, Any]) -> dict[str, Any]:
        """Plain data of the file, with modules written out, with the changes in it; the file's own stay."""
        system, module = self.path.system, self.path.module
        systems = data["systems"]
        inner = dict(systems[system])
        if self.changes.refrigerant:
            inner["refrigerant"] = self.changes.refrigerant
        described = dict(inner["modules"][module])
        described.pop("template", None)  # its keys are written out
        if self.changes.layout or self.changes.renames:
            newest = {} if self.changes.layout else {"proven": dict(self.described.layout[-1].proven)}
            described["layout"] = [{"layout": self.layout} | newest]
            described |= self._probes()
        if self.signals is not None:
            described["signal_set"] = SET
            changed_set = {**data["signal_sets"][self.set_name], "signals": self.signals}
            data = data | {"signal_sets": data["signal_sets"] | {SET: changed_set}}
        inner["modules"] = inner["modules"] | {module: described}
        limits = dict(data.get("limits") or {})
        for alarm, changes in self.limits.items():
            both = isinstance(limits.get(alarm), dict) and isinstance(changes, dict)
            limits[alarm] = limits[alarm] | changes if both else changes
        return data | {"systems": systems | {system: inner}, "limits": limits}

    def lines(self, from_us: int) -> str:
        """What to write into the configuration file in place of the options."""
        body: dict[str, Any] = {}
        module: dict[str, Any] = {}
        if self.changes.layout or self.changes.renames:
            entry: dict[str, Any] = {"layout": self.layout, "valid_from": _moment(from_us)}
            entry |= {"by": self.changes.by or "NAME", "why": self.changes.why or "TEXT"}
            if self.described.layout[-1].proven and not self.changes.layout:
                entry["proven"] = dict(self.described.layout[-1].proven)
            if self.signals is not None:
                entry["signal_set"] = f"{self.set_name}-on-{self.layout}"
                dumped = self.signal_set.model_dump(exclude_unset=True, exclude={"signals"})
                body["signal_sets"] = {entry["signal_set"]: dumped | {"signals": self.signals}}
            before = [each.model_dump(exclude_defaults=True) for each in self.described.layout]
            module["layout"] = [*before, entry]
        system: dict[str, Any] = {}
        if self.changes.refrigerant:
            system["refrigerant"] = self.changes.refrigerant
        if module:
            system["modules"] = {self.path.module: module | self._probes()}
        if self.limits:
            body["limits"] = self.limits
        if system:
            body["systems"] = {self.path.system: system}
        return yaml.safe_dump(body, sort_keys=False, allow_unicode=True)

    def _known(self, layouts: Path) -> set[str] | None:
        """The signals that the layout has a place for; None: any."""
        if self.layout == NOT_KNOWN:
            return None
        file = layouts / f"{self.layout}.yaml"
        if not file.is_file():
            there = [other.stem for other in layouts.glob("*.yaml")]
            raise CannotChangeError(f"no layout file {file}{meant(self.layout, there)}")
        layout = load_layout(file)
        self.probes = tuple(layout.suction_probes)
        return set(known_signals(layout))

    def _rename(self) -> None:
        """The module's signals under their other names, without those that the layout does not know."""
        old, renames = self.signal_set.signals, self.changes.renames
        for name, new in renames.items():
            if name not in old:
                raise CannotChangeError(f"{self.path} has no signal {name!r}{meant(name, old)}")
            if self.known is not None and new not in self.known:
                text = f"layout {self.layout} has no place for signal {new!r}{meant(new, self.known)}"
                raise CannotChangeError(text)
        names = [renames.get(name, name) for name in old]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            came = [name for name in old if renames.get(name, name) == twice]
            text = f"{' and '.join(came)} would both be {twice}; right would be a name for each, such as"
            raise CannotChangeError(f"{text} --rename {came[0]}={came[1]} --rename {came[1]}={came[0]}")
        found: dict[str, Any] = {}
        for name, signal in old.items():
            new = renames.get(name, name)
            if self.known is not None and new not in self.known:
                self.left_out.append(name)
                continue
            dumped = signal.model_dump(exclude_unset=True)
            if new != name:
                dumped["point"] = signal.point or default_point(self.signal_set.payload, name)
            found[new] = dumped
        if self.left_out or renames:
            self.signals = found

    def _probes(self) -> dict[str, Any]:
        """What the module says of its probes, by their other names, as far as the layout has them."""
        losses, configured = self.described.pressure_loss_kpa, self.described.configured_probe
        now = {name: self.changes.renames.get(name, name) for name in (*losses, *filter(None, [configured]))}
        if all(new == name and new in self.probes for name, new in now.items()):
            return {}
        return {
            "pressure_loss_kpa": {now[n]: kpa for n, kpa in losses.items() if now[n] in self.probes},
            "configured_probe": next((now[n] for n in [configured] if n and now[n] in self.probes), None),
        }


def _mapping(path: Path) -> dict[str, Any]:
    source = Source(path)
    if not isinstance(source.data, dict):
        text = "a file of limits is a mapping of alarms, as below `limits:` in the configuration"
        raise ConfigError([source.at((), text)])
    if isinstance(source.data.get("limits"), dict):
        text = f"leave out the line limits: and begin with the alarms, such as `{LIMITS_EXAMPLE}`"
        raise ConfigError([source.at(("limits",), text)])
    return source.data


def _moment(time_us: int) -> str:
    return datetime.fromtimestamp(time_us // 1_000_000, UTC).isoformat()


def left_out_words(names: Iterable[str], layout: str) -> Iterator[str]:
    """A sentence on signals that a layout has no place for, if there are any."""
    listed = ", ".join(names)
    if listed:
        yield f"Layout {layout} has no place for {listed}: left out. --rename OLD=NEW says what it is there."
