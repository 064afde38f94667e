"""What every command shares: the group, its errors, its arguments, and how it gets at plan and store."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click
import orjson

from agent.assess import SECOND
from agent.outlets import ModuleView
from agent.service import UnknownModuleError, find, is_worked_on, look, now_us
from agent.settings import ConfigError, ModulePlan, Plan, load
from agent.store import Store, StoreError

USAGE_ERROR = 2
LONGEST_US = 50 * 365 * 86_400 * SECOND
_SPAN = re.compile(r"(\d+(?:\.\d+)?)\s*(s|min|m|h|d|w)")
_SECONDS = {"s": 1, "min": 60, "m": 60, "h": 3600, "d": 86_400, "w": 604_800}


class Failure(click.ClickException):
    exit_code = USAGE_ERROR


class Span(click.ParamType[int]):
    """A length of time such as 30m, 24h or 7d; in microseconds."""

    name = "span"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        found = _SPAN.fullmatch(str(value))
        if not found:
            self.fail(f"{value!r} is no length of time; right would be 30m, 24h or 7d", param, ctx)
        length_us = int(float(found[1]) * _SECONDS[found[2]] * SECOND)
        if length_us > LONGEST_US:
            self.fail(f"{value!r} is longer than 50 years", param, ctx)
        return length_us


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


def unusable(error: ConfigError) -> Failure:
    return Failure(f"the configuration cannot be used:\n{error}")


def look_at(plan: Plan) -> tuple[list[ModuleView], bool]:
    """Every module, and whether an agent works on the store."""
    try:
        with Store.open_readonly(plan.store_url) as store:
            return look(store, plan, now_us()), is_worked_on(store.path)
    except StoreError as error:
        raise Failure(str(error)) from None


def print_json(body: object) -> None:
    click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2))


def module_of(plan: Plan, name: str) -> ModulePlan:
    """A module by its name."""
    try:
        return find(plan, name)
    except UnknownModuleError as error:
        raise Failure(str(error)) from None
