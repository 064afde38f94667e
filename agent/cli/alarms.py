"""Commands about alarms: the list, and what people do about them through the running agent."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

import click
from rich.console import Console

from agent.alarms import CATALOGUE
from agent.cli.shared import (
    Failure,
    Moment,
    Span,
    Words,
    config_option,
    display_of,
    main,
    module_of,
    plan_of,
    print_json,
    store_of,
)
from agent.cli.telling import told
from agent.outlets import (
    alarms_mapping,
    is_unacknowledged,
    is_unwatched,
    render_alarms,
    render_happened,
    render_rates,
)
from agent.service import (
    Kind,
    happened,
    is_worked_on,
    loads,
    look,
    now_us,
)
from agent.settings import meant

_by = click.option("--by", type=Words(), required=True, metavar="NAME", help="Who says so.")


@main.command()
@click.argument("module", required=False)
@config_option()
@click.option("--all", "all_of_it", is_flag=True, help="Also what happened to alarms, and who did what.")
@click.option("--rates", "with_rates", is_flag=True, help="Also how many each receiver was sent.")
@click.option(
    "--since",
    type=Span(),
    default="7d",
    show_default=True,
    help="How far back --all and --rates look, such as 6h or 30d.",
)
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def alarms(
    module: str | None, config: Path, all_of_it: bool, with_rates: bool, since: int, as_json: bool
) -> None:
    """List the alarms that are not normal, of MODULE or of all: state, priority, since when, who did what.

    Exit code 0: none waits to be acknowledged; 1: one does, or nothing is assessed up to now; 2: usage or
    configuration.
    """
    plan = plan_of(config)
    modules = [module_of(plan, module)] if module else list(plan.modules)
    paths = {each.path for each in modules}
    now = now_us()
    with store_of(plan) as store:
        views = [view for view in look(store, plan, now) if view.path in paths]
        past = happened(store, modules, now - since) if all_of_it else None
        runs = is_worked_on(store.path)
        load = loads(store, plan, now - since, now) if with_rates else None
    if as_json:
        print_json(alarms_mapping(views, past, load))
    else:
        console, display = Console(highlight=False), display_of(plan)
        console.print(
            render_alarms(
                views,
                now,
                runs=runs,
                advice=module is not None,
                refrigerants={each.module.refrigerant for each in modules},
                display=display,
            )
        )
        if past is not None:
            console.print(render_happened(past, display))
        if load is not None:
            console.print(render_rates(load, since, display))
    sys.exit(int(is_unacknowledged(views) or is_unwatched(views, now)))


@main.command()
@click.argument("module")
@click.argument("alarm")
@config_option()
@_by
@click.option("--note", type=Words(), default=None, metavar="TEXT", help="What is being done about it.")
@click.option("--reset", is_flag=True, help="Reset a latched alarm whose condition is over.")
def ack(module: str, alarm: str, config: Path, by: str, note: str | None, reset: bool) -> None:
    """Acknowledge ALARM at MODULE: somebody has seen it and sees to it.

    Exit code 0: done, or kept until the agent starts; 1: the agent refused; 2: usage or configuration.
    """
    _tell(config, module, Kind.RESET if reset else Kind.ACKNOWLEDGE, by, alarm, why=note or "")


@main.command()
@click.argument("module")
@click.argument("alarm")
@config_option()
@_by
@click.option("--for", "span", type=Span(), help="How long, such as 8h; at most 31d.")
@click.option("--why", type=Words(), metavar="TEXT", help="The reason; needed, unless --end.")
@click.option("--end", is_flag=True, help="Take it off the shelf now.")
def shelve(
    module: str, alarm: str, config: Path, by: str, span: int | None, why: str | None, end: bool
) -> None:
    """Shelve ALARM at MODULE for a time: it is still watched and shown, and nobody is told of it.

    Exit code 0: done, or kept until the agent starts; 1: the agent refused; 2: usage or configuration.
    """
    if end:
        if span is not None:
            raise click.UsageError("--end takes no --for")
        _tell(config, module, Kind.UNSHELVE, by, alarm, why=why or "")
        return
    missing = [] if span else ["an end: --for 8h"]
    missing += [] if why else ["a reason: --why TEXT"]
    if not span or why is None:
        raise click.UsageError(f"shelving takes {' and '.join(missing)}")
    _tell(config, module, Kind.SHELVE, by, alarm, why=why, span=span)


@main.command()
@click.argument("module")
@click.argument("what", type=click.Choice(["out", "back", "confirm", "relearn", "replaced"]))
@config_option()
@_by
@click.option("--why", type=Words(), metavar="TEXT", help="The reason; out, relearn and replaced need one.")
@click.option("--alarm", metavar="ALARM", help="With out and back: only this alarm, instead of all.")
@click.option(
    "--at", "at_us", type=Moment(), metavar="TIME", help="With replaced: since when; now, unless stated."
)
def service(
    module: str, what: str, config: Path, by: str, why: str | None, alarm: str | None, at_us: int | None
) -> None:
    """Take alarms of MODULE out of service and back; confirm a new module; learn anew; another unit.

    out: its alarms are shown and not sent until they are back. confirm: a new module's alarms are sent from
    now on. relearn: what is usual of it is learnt anew from now on, after work on the module. replaced:
    another unit stands there under the same name; nothing of the one before is usual for it, its alarms are
    shown and not sent for a while, and its layout counts as unconfirmed until confirm.

    Exit code 0: done, or kept until the agent starts; 1: the agent refused; 2: usage or configuration.
    """
    kinds = {
        "out": Kind.REMOVE,
        "back": Kind.RETURN,
        "confirm": Kind.CONFIRM,
        "relearn": Kind.RELEARN,
        "replaced": Kind.REPLACED,
    }
    kind = kinds[what]
    if why is None and kind in (Kind.REMOVE, Kind.RELEARN, Kind.REPLACED):
        raise click.UsageError(f"{what} takes a reason: --why TEXT")
    if alarm is not None and kind not in (Kind.REMOVE, Kind.RETURN):
        raise click.UsageError(f"{what} is of the whole module: no --alarm")
    if at_us is not None and kind is not Kind.REPLACED:
        raise click.UsageError(f"{what} takes no --at")
    more = None if at_us is None else {"at_us": at_us}
    _tell(config, module, kind, by, alarm, why=why or "", more=more)


def _tell(
    config: Path,
    module: str,
    kind: Kind,
    by: str,
    alarm: str | None,
    *,
    why: str = "",
    span: int | None = None,
    more: Mapping[str, object] | None = None,
) -> None:
    """Put it to the running agent and say what came of it. Exit code 1 where it was refused."""
    plan = plan_of(config)
    meant_module = module_of(plan, module)
    if alarm is not None and alarm not in CATALOGUE:
        raise Failure(f"no alarm {alarm!r}{meant(alarm, CATALOGUE)}")
    done = told(plan, meant_module, kind, by, alarm, why=why, span=span, more=more)
    sys.exit(int(done is not None and bool(done.refused)))
