"""The command that goes over a module's past as if something of its configuration had been otherwise."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path

import click
from click.core import ParameterSource
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from agent.cli.shared import (
    Failure,
    Span,
    Words,
    config_option,
    display_of,
    main,
    module_of,
    plan_of,
    print_json,
    store_of,
    unusable,
    zone_of,
)
from agent.cli.telling import told
from agent.outlets import render_replay, replay_mapping
from agent.service import (
    Kind,
    NothingToReplayError,
    compared,
    first_reading_us,
    now_us,
)
from agent.settings import (
    LIMITS_EXAMPLE,
    CannotChangeError,
    Changed,
    Changes,
    ConfigError,
    ModulePlan,
    Plan,
    is_same,
    left_out_words,
    load_changed,
    moment_us,
)
from agent.store import Store

EXAMPLE_ZONE = timezone(timedelta(hours=2))
SILENT_S = 1.0  # before that no bar is shown
INTERRUPTED = 130


class _Moment(click.ParamType[int]):
    """A length of time back from now, a day, or a time with its offset; microseconds of UTC."""

    name = "time"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if isinstance(value, int):
            return value
        try:
            return moment_us(str(value))
        except ValueError:
            pass
        try:
            return now_us() - Span().convert(value, param, ctx)
        except click.BadParameter:
            zone = zone_of(ctx)
            such = datetime(2026, 8, 1, 14, tzinfo=zone or EXAMPLE_ZONE).isoformat(timespec="minutes")
            day = f"a day{' of UTC' if zone else ''} such as 2026-08-01"
            right = f"90d (back from now), {day}, or {such}"
            self.fail(f"{value!r} is no time; right would be {right}", param, ctx)


def _renames(ctx: click.Context, param: click.Parameter, values: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for value in values:
        old, equals, new = (part.strip() for part in value.partition("="))
        if not (old and equals and new):
            raise click.BadParameter(f"{value!r} is no renaming; right would be OLD=NEW", ctx, param)
        if old in found:
            raise click.BadParameter(f"{old} is renamed twice; right would be once", ctx, param)
        found[old] = new
    return found


_file = click.Path(path_type=Path, dir_okay=False)


@main.command()
@click.argument("module")
@config_option()
@click.option("--since", type=_Moment(), default="90d", show_default=True, help="From when on.")
@click.option("--until", type=_Moment(), default="0s", help="Up to when; unless stated up to now.")
@click.option("--layout", metavar="LAYOUT", help="As if it had been piped like this all the time.")
@click.option(
    "--rename",
    "renames",
    multiple=True,
    metavar="OLD=NEW",
    callback=_renames,
    help="Signal OLD of the configuration is NEW; may be given several times.",
)
@click.option("--refrigerant", metavar="NAME", help="As if its system held this, such as R-32.")
@click.option("--with", "other", type=_file, help="As if this configuration file had held.")
@click.option("--limits", type=_file, help=f"YAML file of limits to try, such as {LIMITS_EXAMPLE}")
@click.option("--write", is_flag=True, help="Have the agent assess that time anew, as the file has it.")
@click.option("--by", type=Words(), metavar="NAME", help="With --write: who says so.")
@click.option("--why", type=Words(), metavar="TEXT", help="With --write: the reason.")
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def replay(
    module: str,
    config: Path,
    since: int,
    until: int,
    layout: str | None,
    renames: dict[str, str],
    refrigerant: str | None,
    other: Path | None,
    limits: Path | None,
    write: bool,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Go over the past of MODULE as the configuration has it, or otherwise; compare with what is recorded.

    Reads only, beside a running agent or without one. --write has the agent assess that time anew as the
    configuration file now says; what is recorded stays under its revision. Exit code 0: nothing differs, or
    it is written; 1: something differs, or the agent refused; 2: usage or configuration.
    """
    if since >= until:
        raise click.UsageError("--since lies after --until; right would be the other way round")
    if write and (by is None or why is None):
        raise click.UsageError("--write takes who says so and the reason: --by NAME --why TEXT")
    if not write and (by is not None or why is not None):
        raise click.UsageError("--by and --why go with --write")
    plan = plan_of(config)
    base = module_of(plan, module)
    changes = Changes(layout, renames, refrigerant, limits, by, why)
    source = click.get_current_context().get_parameter_source("since")
    valid_us = _first_reading_us(plan, base) if write and source is ParameterSource.DEFAULT else None
    changed = _changed(config, plan, base, other, changes, since if valid_us is None else valid_us)
    if write and (other or changes.any):
        raise _to_write_first(config, other, changed)
    notes = list(left_out_words(changed.left_out, changed.module.module.layout.name))
    try:
        with store_of(plan) as store, _progress() as progress:
            agent_has = _current(store, base)
            if agent_has is not None and not is_same(agent_has, base.revision):
                if write:
                    raise Failure(_not_taken_over(config))
                notes.append(f"The agent does not run on what {config} says now.")
            report = compared(
                store, changed.plan, changed.module, base, since, until, notes=notes, progress=progress
            )
    except NothingToReplayError as error:
        raise Failure(str(error)) from None
    except KeyboardInterrupt:
        click.echo("ended; nothing was changed", err=True)
        sys.exit(INTERRUPTED)
    if as_json:
        print_json(replay_mapping(report))
    else:
        Console(highlight=False).print(render_replay(report, display_of(plan)))
    if write and report.differs:
        _write(plan, base, (report.from_us, report.to_us), str(by), str(why), err=as_json)
    elif write:
        click.echo("Nothing is written: it would be the same.", err=as_json)
    sys.exit(int(report.differs and not write))


def _changed(
    config: Path, plan: Plan, base: ModulePlan, other: Path | None, changes: Changes, since_us: int
) -> Changed:
    """What is replayed: the configuration, or another one, with the changes."""
    if other is not None:
        plan = plan_of(other)
        found = next((each for each in plan.modules if each.path == base.path), None)
        if found is None:
            there = ", ".join(str(each.path) for each in plan.modules)
            raise Failure(f"{other} has no module {base.path}; it has {there}")
        base = found
    if not changes.any:
        return Changed(plan, base, (), "")
    try:
        return load_changed(other or config, plan, base.path, changes, since_us)
    except CannotChangeError as error:
        raise Failure(str(error)) from None
    except ConfigError as error:
        if changes.limits:
            example = f"A file of limits has lines such as `{LIMITS_EXAMPLE}`."
            raise Failure(f"{unusable(error).message}\n{example}") from None
        raise unusable(error) from None


def _first_reading_us(plan: Plan, module: ModulePlan) -> int | None:
    with store_of(plan) as store:
        return first_reading_us(store, plan, module)


def _current(store: Store, module: ModulePlan) -> str | None:
    """The revision that the agent works under, as JSON; None: it has not worked on the module."""
    module_id = store.module_ids().get(module.path)
    revision = None if module_id is None else store.current_revision(module_id)
    return revision.body if revision else None


def _to_write_first(config: Path, other: Path | None, changed: Changed) -> Failure:
    first = "--write takes the past as the configuration file has it, so that the file stays the only truth."
    then = "have the agent load it (SIGHUP), and give --write without these options."
    if not changed.lines:
        return Failure(f"{first}\nPut what {other} says of the module into {config}, {then}")
    beside = f" Beside that, put what {other} says of the module there." if other else ""
    always = (
        "\nIf it was piped like this from the start, replace the first entry of layout: instead."
        if "valid_from" in changed.lines
        else ""
    )
    return Failure(f"{first}\nPut this into {config}, {then}{beside}{always}", changed.lines)


def _not_taken_over(config: Path) -> str:
    return (
        f"the agent does not run on what {config} says now: have it load the file first (SIGHUP, as "
        "`systemctl reload` or `kill -HUP` send it), then give --write again"
    )


def _write(plan: Plan, module: ModulePlan, span_us: tuple[int, int], by: str, why: str, *, err: bool) -> None:
    from_us, until_us = span_us
    span = {"from_us": from_us, "until_us": until_us}
    done = told(plan, module, Kind.REASSESS, by, why=why, more=span, err=err)
    if done is not None and done.refused:
        sys.exit(1)


@contextmanager
def _progress() -> Iterator[Callable[[float], None]]:
    """A bar on a terminal, once it takes longer than a moment."""
    console = Console(stderr=True)
    columns = (TextColumn("replaying"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    bar = Progress(*columns, console=console, transient=True)
    task = bar.add_task("", total=1.0)
    began = time.monotonic()

    def show(share: float) -> None:
        if console.is_terminal and time.monotonic() - began > SILENT_S:
            bar.start()
            bar.update(task, completed=share)

    try:
        yield show
    finally:
        if bar.live.is_started:
            bar.stop()
