"""What a name on the command line means: a module of the configuration, a layout, or a layout file."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from agent.piping import NOT_KNOWN, Layout
from agent.service.look.looking import find
from agent.settings import ModulePlan, Plan, UnknownModuleError, load_layout, meant

LAYOUT_FILES = (".yaml", ".yml")


class UnknownNameError(LookupError):
    """Neither a module nor a layout."""


class Named(NamedTuple):
    """What was meant. ``note``: what else the name could have been."""

    layout: Layout
    module: ModulePlan | None = None
    note: str | None = None


def named(name: str, plan: Plan | None, layouts: Path) -> Named:
    """Find a module of ``plan``, else a layout in the folder ``layouts``, else the layout file called so.

    Raises UnknownNameError with what may have been meant, and ConfigError for a layout that cannot be used.
    """
    if Path(name).suffix in LAYOUT_FILES:
        return Named(load_layout(Path(name)))
    there = {file.stem: file for file in layouts.glob("*.yaml")}
    ending = f"/{name.strip('/')}"
    modules = [str(m.path) for m in plan.modules if f"/{m.path}".endswith(ending)] if plan else []
    if plan and modules and (len(modules) == 1 or name not in there):
        try:
            module = find(plan, name)
        except UnknownModuleError as error:
            raise UnknownNameError(str(error)) from None
        note = f"{name} is also the name of a layout; the module is shown" if name in there else None
        return Named(module.module.layout, module, note)
    if name == NOT_KNOWN:
        return Named(Layout.unknown())
    if name in there:
        return Named(load_layout(there[name]))
    raise UnknownNameError(_unknown(name, plan, layouts, there))


def _unknown(name: str, plan: Plan | None, layouts: Path, there: dict[str, Path]) -> str:
    known = [*there, *(str(m.path) for m in plan.modules)] if plan else list(there)
    ends = [m.path.module for m in plan.modules] if plan else []
    what = f"no module and no layout {name!r}" if plan else f"no layout {name!r}"
    where = "" if plan else f" in {layouts}; modules are known only with -c FILE"
    said = meant(name, [*known, *ends])
    if "did you mean" in said:
        return f"{what}{where}{said}"
    return (
        f"{what}{where}{meant(name, known) or '; there is no layout file: name one by its path, or -c FILE'}"
    )
