"""Layout files: each read once, with every mistake at its place in its own file."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from agent.piping import NOT_KNOWN, Layout, LayoutError, with_side
from agent.settings.dated import DatedLayout
from agent.settings.sentences import meant
from agent.settings.signal_sets import Report
from agent.settings.signals import compressors_named
from agent.settings.source import ConfigError, Finding, Source, Where


def load_layout(path: Path) -> Layout:
    """Read one layout file. Raises ConfigError with every finding."""
    return _read_layout(path)[0]


NO_LAYOUTS = "; there is none: copy config/layouts of Dewline there, or name that folder by `layouts:`"


class Layouts:
    """The layouts of one folder. ``findings`` holds what is wrong in their files."""

    def __init__(self, folder: Path, wrong: Report) -> None:
        self.folder = folder
        self.wrong = wrong
        self.findings: list[Finding] = []
        self._read: dict[str, tuple[Layout, Any] | None] = {}

    def of(self, entry: DatedLayout, signals: Iterable[str], where: Where) -> tuple[Layout, Any] | None:
        """The layout of a module at a time, with the data it rests on; None where it cannot be used."""
        name = entry.layout
        file = self.folder / f"{name}.yaml"
        if name == NOT_KNOWN:
            if file.exists():
                self.wrong((*where, "layout"), f"no layout file may be called {name}: {file}; rename it")
            return _unknown_layout(tuple(compressors_named(signals)))
        if not file.is_file():
            there = [other.stem for other in file.parent.glob("*.yaml")]
            self.wrong((*where, "layout"), f"no layout file {file}{meant(name, there) or NO_LAYOUTS}")
            return None
        if name not in self._read:
            self._read[name] = self._from(file)
        found = self._read[name]
        return self._with_sides(*found, entry, where) if found and entry.proven else found

    @cache  # noqa: B019 - one folder of layouts lives as long as its plan
    def library(self) -> tuple[Layout, ...]:
        """Every layout of the folder that can be used, by name. What is wrong in others is not looked at."""
        found = []
        for file in sorted(self.folder.glob("*.yaml")):
            with suppress(ConfigError):
                known = self._read.get(file.stem) or _read_layout(file)
                found.append(known[0])
        return tuple(found)

    def _with_sides(
        self, layout: Layout, data: Any, entry: DatedLayout, where: Where
    ) -> tuple[Layout, Any] | None:
        for probe, side in entry.proven.items():
            try:
                data = with_side(data, probe, side)
            except ValueError as error:
                self.wrong((*where, "proven", probe), f"{error}; leave it out", at_key=True)
                return None
        return Layout.from_mapping(data), data

    def _from(self, file: Path) -> tuple[Layout, Any] | None:
        try:
            return _read_layout(file)
        except ConfigError as error:
            self.findings += error.findings
            return None


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
