"""The command that shows the modules as they are now."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click
from rich.console import Console
from rich.live import Live

from agent.cli.ending import is_told, told_to_end
from agent.cli.shared import (
    config_option,
    display_of,
    look_at,
    main,
    module_of,
    plan_of,
    print_json,
    show_no_hours,
    store_of,
)
from agent.outlets import ModuleView, as_mapping, evidence_mapping, is_unwatched, render, render_evidence
from agent.outlets.shown import SI
from agent.service import evidence, now_us
from agent.settings import ModulePlan, Plan


@main.command()
@click.argument("name", metavar="[MODULE]", required=False)
@config_option()
@click.option("--watch", is_flag=True, help="Show it anew every few seconds until Ctrl-C.")
@click.option("--causes", is_flag=True, help="Of one module: what its hours say, and what may be behind it.")
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def status(name: str | None, config: Path, watch: bool, causes: bool, as_json: bool) -> None:
    """Show every module now, or one: mode, chosen probe and why, superheat, oil-return rise, alarms, age.

    With --causes it shows of one module what takes hours to tell: what ran, the oil against what is usual
    for it, whose superheat the supervisor shows, suspicions of its instruments, and likely causes (hints).

    Exit code 0: no alarm stands; 1: one does, or nothing is assessed up to now; 2: usage or configuration.
    With --causes 0, whatever it shows.
    """
    plan = plan_of(config)
    if causes and (name is None or watch):
        raise click.UsageError("--causes shows one module, once: name it, and leave out --watch.")
    module = module_of(plan, name) if name is not None else None
    if causes and module is not None:
        _show_causes(plan, module, as_json)
        return
    if as_json:
        views, _ = _views(plan, module)
        print_json([as_mapping(view) for view in views])
        sys.exit(_exit_code(views))
    if not watch:
        views, runs = _views(plan, module)
        Console().print(render(views, now_us(), _notes(plan), runs=runs, display=display_of(plan)))
        sys.exit(_exit_code(views))
    _watch(plan, module)


def _views(plan: Plan, module: ModulePlan | None) -> tuple[list[ModuleView], bool]:
    """Of every module, or of one; and whether an agent runs."""
    views, runs = look_at(plan)
    return [view for view in views if module is None or view.path == module.path], runs


def _show_causes(plan: Plan, module: ModulePlan, as_json: bool) -> None:
    at_us, display = now_us(), SI if as_json else display_of(plan)
    with store_of(plan) as store:
        found = evidence(store, plan, module, at_us, display)
        if found is None:
            show_no_hours(store, plan, module, at_us, as_json)
            return
    if as_json:
        print_json(evidence_mapping(found))
    else:
        Console(highlight=False).print(render_evidence(found, _views(plan, module)[0][0], display))


def _watch(plan: Plan, module: ModulePlan | None) -> None:
    """Until a signal ends it; on a terminal in place."""
    console, display = Console(), display_of(plan)
    with told_to_end() as told:
        if not console.is_terminal:
            while True:
                views, runs = _views(plan, module)
                console.print(render(views, now_us(), _notes(plan), runs=runs, display=display))
                if is_told(told, 10):
                    return
        with Live(console=console, auto_refresh=False, screen=True) as live:
            while True:
                views, runs = _views(plan, module)
                show = partial(render, views, now_us(), _notes(plan), runs=runs, display=display)
                shown = show()
                if len(console.render_lines(shown)) > console.height:
                    shown = show(short=True)
                live.update(shown, refresh=True)
                if is_told(told, 2):
                    return


def _exit_code(views: list[ModuleView]) -> int:
    """1 where an alarm stands, or nothing is assessed up to now."""
    return int(any(view.alarms for view in views) or is_unwatched(views, now_us()))


def _notes(plan: Plan) -> list[str]:
    return [f"status page at {plan.settings.http.origin}/"]
