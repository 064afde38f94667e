"""The command that checks a configuration, offline."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click
from rich.console import Console

from agent.cli.shared import USAGE_ERROR, config_option, display_of, main, print_json
from agent.outlets import check_mapping, render_check, render_wrong
from agent.service import absent
from agent.settings import ConfigError, alike, json_schema, load, notes


@main.command()
@config_option(required=False)
@click.option("--json", "as_json", is_flag=True, help="For a program.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of the configuration, and check nothing.")
def check(config: Path | None, as_json: bool, schema: bool) -> None:
    """Check the configuration and its layouts, and tell what the instruments of each module can prove."""
    if schema:
        print_json(json_schema())
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
