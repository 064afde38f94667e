"""Commands that run the agent, and that show what it sees."""

from __future__ import annotations

import logging
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from types import FrameType

import click
import orjson
from rich.console import Console
from rich.live import Live

from agent.cli.shared import (
    USAGE_ERROR,
    Failure,
    Span,
    config_option,
    display_of,
    look_at,
    main,
    module_of,
    plan_of,
    print_json,
    show_no_hours,
    unusable,
)
from agent.outlets import (
    FORMATS,
    ModuleView,
    as_mapping,
    assessment_rows,
    check_mapping,
    evidence_mapping,
    heard_mapping,
    listen_progress,
    reading_rows,
    render,
    render_check,
    render_evidence,
    render_heard,
    render_wrong,
    silent_for,
    write_rows,
)
from agent.outlets.shown import SI, Display
from agent.service import (
    CANNOT_START,
    BrokerUnreachableError,
    Listening,
    Runner,
    absent,
    evidence,
    now_us,
    past,
    received,
)
from agent.settings import ConfigError, ModulePlan, Plan, alike, json_schema, load, notes
from agent.store import Store, StoreError

WIDE = 160  # columns
LISTEN_S = 0.2


@main.command()
@config_option()
@click.option("--quiet", is_flag=True, help="Say only what goes wrong.")
def run(config: Path, quiet: bool) -> None:
    """Run the agent until it is told to end (Ctrl-C or SIGTERM); on SIGHUP it loads its file anew.

    Exit code 0: it was told to end; 1: it broke off; 2: it could not start.
    """
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(message)s")
    logging.getLogger("agent").setLevel(logging.WARNING if quiet else logging.INFO)
    logging.getLogger("apscheduler").setLevel(logging.ERROR)
    runner = Runner(config)

    def end(number: int, frame: FrameType | None) -> None:
        runner.stop()

    def reload(number: int, frame: FrameType | None) -> None:
        runner.reload()

    signal.signal(signal.SIGINT, end)
    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGHUP, reload)
    try:
        runner.run()
    except ConfigError as error:
        raise unusable(error) from None
    except CANNOT_START as error:
        raise Failure(str(error)) from None
    except RuntimeError as error:
        raise click.ClickException(str(error)) from None


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
        click.echo(orjson.dumps([as_mapping(view) for view in views], option=orjson.OPT_INDENT_2))
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
    try:
        with Store.open_readonly(plan.store_url) as store:
            found = evidence(store, plan, module, at_us, display)
            if found is None:
                show_no_hours(store, plan, module, at_us, as_json)
                return
    except StoreError as error:
        raise Failure(str(error)) from None
    if as_json:
        print_json(evidence_mapping(found))
    else:
        Console(highlight=False).print(render_evidence(found, _views(plan, module)[0][0], display))


@main.command()
@config_option(required=False)
@click.option("--json", "as_json", is_flag=True, help="For a program.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of the configuration, and check nothing.")
def check(config: Path | None, as_json: bool, schema: bool) -> None:
    """Check the configuration and its layouts, and tell what the instruments of each module can prove.

    Exit code 0: fine; 1: notes that do not hinder running; 2: it cannot be used.
    """
    if schema:
        click.echo(orjson.dumps(json_schema(), option=orjson.OPT_INDENT_2))
        return
    if config is None:
        raise click.UsageError("Missing option '-c' / '--config'.")
    console = Console(highlight=False)
    try:
        plan = load(config)
    except ConfigError as error:
        if as_json:
            print_json(check_mapping(None, [], error.findings, []))
        else:
            console.print(render_wrong(error.findings))
        sys.exit(USAGE_ERROR)
    groups = alike(plan)
    missing = (plan.at(*each) for each in absent(plan.settings, os.environ))
    noted = sorted({*notes(plan, groups), *filter(None, missing)})
    if as_json:
        print_json(check_mapping(plan, groups, [], noted))
    else:
        console.print(render_check(plan, groups, noted, display_of(plan)))
    sys.exit(1 if noted else 0)


def _watch(plan: Plan, module: ModulePlan | None) -> None:
    console, display = Console(), display_of(plan)
    told: SimpleQueue[int] = SimpleQueue()  # no Event: its lock is not for signal handlers
    signal.signal(signal.SIGINT, lambda number, frame: told.put(number))
    signal.signal(signal.SIGTERM, lambda number, frame: told.put(number))
    if not console.is_terminal:
        while True:
            views, runs = _views(plan, module)
            console.print(render(views, now_us(), _notes(plan), runs=runs, display=display))
            if _is_told(told, 10):
                return
    with Live(console=console, auto_refresh=False, screen=True) as live:
        while True:
            views, runs = _views(plan, module)
            show = partial(render, views, now_us(), _notes(plan), runs=runs, display=display)
            shown = show()
            if len(console.render_lines(shown)) > console.height:
                shown = show(short=True)
            live.update(shown, refresh=True)
            if _is_told(told, 2):
                return


def _is_told(told: SimpleQueue[int], within_s: float) -> bool:
    try:
        told.get(timeout=within_s)
    except Empty:
        return False
    return True


@main.command()
@click.argument("module")
@config_option()
@click.option(
    "--since", type=Span(), default="24h", show_default=True, help="How far back, such as 6h or 7d."
)
@click.option("--format", "form", type=click.Choice(FORMATS), default="table", show_default=True)
@click.option("--readings", is_flag=True, help="The readings as received, instead of the assessments.")
def history(module: str, config: Path, since: int, form: str, readings: bool) -> None:
    """Readings or assessments of MODULE (site/system/module, or the end of it).

    Exit code 0: whether there was anything or not; 2: usage or configuration.
    """
    plan = plan_of(config)
    found = module_of(plan, module)
    to_us = now_us()
    try:
        with Store.open_readonly(plan.store_url) as store:
            if readings:
                rows = reading_rows(received(store, plan, found, to_us - since, to_us))
            else:
                rows = assessment_rows(*past(store, found, to_us - since, to_us))
            count = write_rows(rows, form, sys.stdout, display_of(plan))
    except StoreError as error:
        raise Failure(str(error)) from None
    if not count:
        start = display_of(plan).when(to_us - since)
        click.echo(f"nothing kept of {found.path} since {start}", err=True)


@main.command()
@config_option()
@click.option("--for", "span", type=Span(), default="60s", show_default=True, help="How long to listen.")
@click.option("--topic", "topics", multiple=True, metavar="FILTER", help="Listen to these topics as well.")
@click.option("--store", "from_store", is_flag=True, help="Also look at the last hour that the agent stored.")
@click.option("--watch", is_flag=True, help="Show it anew every few seconds while listening.")
@click.option("--wide", is_flag=True, help="Use 160 columns, whatever the terminal has.")
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def listen(
    config: Path, span: int, topics: tuple[str, ...], from_store: bool, watch: bool, wide: bool, as_json: bool
) -> None:
    """Listen at the broker, beside a running agent: what arrives as mapped, what does not, what looks wrong.

    Changes nothing and publishes nothing. Ctrl-C ends it early and shows what came so far. Exit code 0:
    everything mapped arrives and nothing looks wrong; 1: something does not; 2: it could not listen.
    """
    plan = plan_of(config)
    logging.getLogger("agent").addHandler(logging.NullHandler())  # what goes wrong is said below
    with ExitStack() as until_the_end:
        told = until_the_end.enter_context(_told_to_end())
        try:
            store = until_the_end.enter_context(Store.open_readonly(plan.store_url)) if from_store else None
            listening = Listening(plan, topics, os.environ, told=lambda: not told.empty())
            until_the_end.enter_context(listening)
            _listen(listening, span, told, watch and not as_json, display_of(plan))
            site = listening.site(store)
        except (BrokerUnreachableError, StoreError, OSError, ValueError) as error:
            raise Failure(str(error)) from None
    if as_json:
        click.echo(orjson.dumps(heard_mapping(site), option=orjson.OPT_INDENT_2))
    else:
        Console(width=WIDE if wide else None).print(render_heard(site, display=display_of(plan)))
    sys.exit(int(not site.is_fine))


def _listen(listening: Listening, span: int, told: SimpleQueue[int], watch: bool, display: Display) -> None:
    """Until the time is over or a signal says so; on a terminal with what came so far."""
    console = Console(stderr=True)
    if not console.is_terminal:
        while listening.work().listened_us < span and not _is_told(told, LISTEN_S):
            pass
        return
    with Live(console=console, auto_refresh=False, transient=True, vertical_overflow="crop") as live:
        rounds = 0
        while (now := listening.work()).listened_us < span:
            if not watch:
                live.update(listen_progress(now, span), refresh=True)
            elif rounds % 10 == 0:
                live.update(render_heard(listening.site(), over=False, display=display), refresh=True)
            if _is_told(told, LISTEN_S):
                return
            rounds += 1


@contextmanager
def _told_to_end() -> Iterator[SimpleQueue[int]]:
    """Where SIGINT and SIGTERM are put, in place of ending the process."""
    told: SimpleQueue[int] = SimpleQueue()
    before = {
        number: signal.signal(number, lambda number, frame: told.put(number))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield told
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _exit_code(views: list[ModuleView]) -> int:
    """1 where an alarm stands, or nothing is assessed any more."""
    return int(any(view.alarms for view in views) or silent_for(views, now_us()) is not None)


def _notes(plan: Plan) -> list[str]:
    return [f"metrics at {plan.settings.http.origin}/metrics"]
