"""What every command shares: the group, its errors, its arguments, and how it gets at plan and store."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, time, tzinfo
from pathlib import Path
from typing import IO, Any, TypeVar

import click
import orjson
from rich.console import Console

from agent.assess import SECOND
from agent.outlets import ModuleView, no_hours_mapping, render_no_hours, unit_words
from agent.outlets.shown import SI, Display
from agent.service import (
    UnknownModuleError,
    find,
    first_hour_us,
    is_worked_on,
    look,
    measured,
    now_us,
    of_newest_layout,
    unconfirmed_us,
)
from agent.settings import ConfigError, ModulePlan, Plan, is_span, load, span_us
from agent.store import Store, StoreError

USAGE_ERROR = 2
LONGEST_TEXT = 300


class Failure(click.ClickException):
    """An error that ends a command. ``lines``: what stands below it and is to be taken as it is."""

    exit_code = USAGE_ERROR

    def __init__(self, message: str, lines: str = "") -> None:
        super().__init__(message)
        self.lines = lines

    def show(self, file: IO[Any] | None = None) -> None:
        """On a terminal wrapped; a file or a pipe gets each line whole."""
        console = Console(stderr=True) if file is None else Console(file=file)
        text = f"Error: {self.message}"
        click.echo(wrapped(text, console.width) if console.is_terminal else text, file=file, err=True)
        if self.lines:
            click.echo(f"\n{self.lines}", file=file, err=True)


def wrapped(text: str, width: int) -> str:
    """Each line broken between words; a name or a path stays whole."""
    lines = [
        textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False) or [""]
        for line in text.splitlines()
    ]
    return "\n".join(part for line in lines for part in line)


class Span(click.ParamType[int]):
    """A length of time such as 30m, 24h or 7d; in microseconds."""

    name = "span"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        try:
            return span_us(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


class Moment(click.ParamType[int]):
    """A time: with its offset, now, or as long ago as a span says; in microseconds of UTC."""

    name = "time"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        now, text = now_us(), str(value).strip()
        if text == "now":
            return now
        if is_span(text):
            return now - Span().convert(text, param, ctx)
        here = datetime.fromtimestamp(now // SECOND).astimezone(zone_of(ctx))
        try:
            clock = time.fromisoformat(text).replace(tzinfo=None)
        except ValueError:
            clock = here.time()
        such = datetime.combine(here.date(), clock, here.tzinfo).isoformat(timespec="minutes")
        right = f"right would be a time with its offset such as {such}, now, or 20m (ago)"
        try:
            found = datetime.fromisoformat(text)
        except ValueError:
            self.fail(f"{text!r} is no time; {right}", param, ctx)
        if found.tzinfo is None:
            self.fail(f"{text!r} does not say of which place it is the time; {right}", param, ctx)
        time_us = round(found.timestamp() * SECOND)
        if time_us > now:
            self.fail(f"{text!r} is in the future; {right}", param, ctx)
        return time_us


def zone_of(ctx: click.Context | None) -> tzinfo | None:
    """The site's clock, for an example of a time; None: none is known, and this machine's will do."""
    config = ctx.params.get("config") if ctx else None
    try:
        display = display_of(load(config)) if isinstance(config, Path) else SI
    except ConfigError:
        return None
    return None if display.zone == SI.zone else display.zone


class Words(click.ParamType[str]):
    """A name or a reason, of characters that can be printed."""

    name = "text"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:
        words = str(value).strip()
        if not words or not words.isprintable() or len(words) > LONGEST_TEXT:
            self.fail(f"takes 1 to {LONGEST_TEXT} characters that can be printed", param, ctx)
        return words


_Command = TypeVar("_Command", bound=Callable[..., object])


def config_option(
    *, required: bool = True, help: str = "The configuration file."
) -> Callable[[_Command], _Command]:
    """The option that every command names its configuration by."""
    return click.option(
        "-c",
        "--config",
        "config",
        type=click.Path(path_type=Path, dir_okay=False),
        envvar="DEWLINE_CONFIG",
        required=required,
        is_eager=True,  # known before what is said wrong of a time
        help=help,
    )


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="dewline")
def main() -> None:
    """Watches the vapour that returns to the compressors of VRF outdoor modules."""


def plan_of(config: Path) -> Plan:
    try:
        return load(config)
    except ConfigError as error:
        raise unusable(error) from None


@contextmanager
def store_of(plan: Plan) -> Iterator[Store]:
    """The store to read, beside a running agent; what goes wrong with it ends the command."""
    try:
        with Store.open_readonly(plan.store_url) as store:
            yield store
    except StoreError as error:
        raise Failure(str(error)) from None


def display_of(plan: Plan) -> Display:
    """In which units and by which clock the site's people are told."""
    return Display.of(plan.settings.display)


def unusable(error: ConfigError) -> Failure:
    return Failure(f"the configuration cannot be used:\n{error}")


def look_at(plan: Plan) -> tuple[list[ModuleView], bool]:
    """Every module, and whether an agent works on the store."""
    with store_of(plan) as store:
        return look(store, plan, now_us()), is_worked_on(store.path)


def show_no_hours(store: Store, plan: Plan, module: ModulePlan, at_us: int, as_json: bool) -> None:
    """What there is of a module of which no whole hour is known yet."""
    display = SI if as_json else display_of(plan)
    by_hand = of_newest_layout(module, measured(store, plan, module, display))
    first_us = first_hour_us(store, module, at_us)
    view = next(each for each in look_at(plan)[0] if each.path == module.path)
    if as_json:
        print_json(no_hours_mapping(module.path, view, by_hand, first_us))
        return
    name = f"{module.path.system}/{module.path.module}"
    unit = unit_words(unconfirmed_us(store, module), name, display)
    Console(highlight=False).print(render_no_hours(module.path, view, by_hand, unit, first_us, display))


def print_json(body: object) -> None:
    click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2))


def module_of(plan: Plan, name: str) -> ModulePlan:
    """A module by its name."""
    try:
        return find(plan, name)
    except UnknownModuleError as error:
        raise Failure(str(error)) from None
