"""How a layout or a module is piped, and how well that fits what its probes show."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console

from agent.assess import Tracking
from agent.assess.by_hand.handheld import HandheldCompared
from agent.assess.identity import Conclusion
from agent.cli.shared import (
    Failure,
    Span,
    config_option,
    display_of,
    main,
    plan_of,
    print_json,
    show_no_hours,
    store_of,
)
from agent.outlets import (
    can_show,
    drawn_svg,
    explained,
    explained_mapping,
    explanation_of,
    identity_mapping,
    in_ascii,
    render_identity,
    unit_words,
)
from agent.outlets.shown import SI, Display
from agent.piping import STEADY_MODES
from agent.service import (
    Named,
    UnknownNameError,
    identified,
    measured,
    named,
    now_us,
    of_newest_layout,
    tracked,
    unconfirmed_us,
)
from agent.settings import ConfigError, Plan
from agent.store import Store, StoreError


@main.command()
@click.argument("name", metavar="LAYOUT|MODULE")
@config_option(
    required=False, help="The configuration file; without it layouts are looked for in config/layouts."
)
@click.option("--mode", type=click.Choice(STEADY_MODES), help="Only this mode.")
@click.option(
    "--since",
    type=Span(),
    default="7d",
    show_default=True,
    help="Of a module: how far back its readings are asked how it is piped.",
)
@click.option(
    "--evidence", is_flag=True, help="Of a module: only how well each layout explains its readings."
)
@click.option("--ascii", "ascii_only", is_flag=True, help="Draw with plain characters.")
@click.option("--svg", type=click.Path(path_type=Path, dir_okay=False), help="Also draw into this file.")
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def explain(
    name: str,
    config: Path | None,
    mode: str | None,
    since: int,
    evidence: bool,
    ascii_only: bool,
    svg: Path | None,
    as_json: bool,
) -> None:
    """Draw how a layout (by name or file) or a module is piped; which probe holds in which mode, and why.

    Exit code 0: shown; 1: with --evidence, the configured layout is in doubt; 2: usage or configuration.
    """
    plan = plan_of(config) if config else None
    found = _named(name, config, plan)
    if evidence:
        _show_identity(found, plan, since, as_json)
        return
    if mode and mode not in found.layout.modes:
        known = ", ".join(found.layout.modes) or "no mode"
        raise Failure(f"layout {found.layout.name} does not describe {mode}; it describes {known}")
    explanation = explanation_of(found.layout, found.module, mode)
    if svg:
        title = f"{found.module.path} on {found.layout.name}" if found.module else found.layout.name
        try:
            svg.write_text(drawn_svg(explanation.drawing, title, found.layout.about), encoding="utf-8")
        except OSError as error:
            raise Failure(f"{svg} cannot be written: {error.strerror}") from None
    sides = _sides(found, plan, since)
    display = display_of(plan) if plan and not as_json else SI
    by_hand, unit = _of_the_unit(found, plan, display)
    if as_json:
        body = explained_mapping(explanation, found.module, sides, by_hand)
        print_json(body)
        return
    console = Console(highlight=False)
    told = [note for note in (found.note, unit) if note]
    lines = explained(explanation, found.module, told, console.width, sides, by_hand, display)
    if ascii_only or not can_show(console.encoding):
        lines = [in_ascii(line) for line in lines]
    for line in lines:
        console.print(line, soft_wrap=True)


def _show_identity(found: Named, plan: Plan | None, since: int, as_json: bool) -> None:
    """Exit code 1 where the configured layout is in doubt."""
    if found.module is None or plan is None:
        raise click.UsageError("--evidence is of a module: name one, with -c FILE.")
    to_us = now_us()
    with store_of(plan) as store:
        known = identified(store, plan, found.module, to_us - since, to_us)
        if known is None:
            show_no_hours(store, plan, found.module, to_us, as_json)
            return
    refrigerant = found.module.module.refrigerant
    if as_json:
        print_json(identity_mapping(known, refrigerant))
    else:
        Console(highlight=False).print(
            render_identity(known, str(found.module.path), refrigerant, display_of(plan))
        )
    sys.exit(int(known.conclusion is Conclusion.DOUBTED))


def _sides(found: Named, plan: Plan | None, since: int) -> list[Tracking]:
    """What the readings of a module say of its probes, where there are readings."""
    if found.module is None or plan is None or not found.layout.unproven:
        return []
    to_us = now_us()
    try:
        with Store.open_readonly(plan.store_url) as store:
            return tracked(store, plan, found.module, to_us - since, to_us)
    except StoreError:
        return []


def _of_the_unit(
    found: Named, plan: Plan | None, display: Display
) -> tuple[tuple[HandheldCompared, ...], str]:
    """What clamps say of the sides of inlets, and that the unit was replaced; where there is a store."""
    if found.module is None or plan is None:
        return (), ""
    path = found.module.path
    try:
        with Store.open_readonly(plan.store_url) as store:
            every = measured(store, plan, found.module, display)
            since_us, name = unconfirmed_us(store, found.module), f"{path.system}/{path.module}"
            return of_newest_layout(found.module, every).sides, unit_words(since_us, name, display)
    except StoreError:
        return (), ""


def _named(name: str, config: Path | None, plan: Plan | None) -> Named:
    layouts = config.parent / plan.settings.layouts if config and plan else Path("config/layouts")
    try:
        return named(name, plan, layouts)
    except UnknownNameError as error:
        raise Failure(str(error)) from None
    except ConfigError as error:
        raise Failure(f"the layout cannot be used:\n{error}") from None
