"""The command that lists a module's past."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from agent.cli.shared import Span, config_option, display_of, main, module_of, plan_of, store_of
from agent.outlets import FORMATS, assessment_rows, reading_rows, write_rows
from agent.service import now_us, past, received


@main.command()
@click.argument("module")
@config_option()
@click.option(
    "--since", type=Span(), default="24h", show_default=True, help="How far back, such as 6h or 7d."
)
@click.option("--format", "form", type=click.Choice(FORMATS), default="table", show_default=True)
@click.option("--readings", is_flag=True, help="The readings as received, instead of the assessments.")
def history(module: str, config: Path, since: int, form: str, readings: bool) -> None:
    """Readings or assessments of MODULE (site/system/module, or the end of it)."""
    plan = plan_of(config)
    found = module_of(plan, module)
    to_us = now_us()
    with store_of(plan) as store:
        if readings:
            rows = reading_rows(received(store, plan, found, to_us - since, to_us))
        else:
            rows = assessment_rows(*past(store, found, to_us - since, to_us))
        count = write_rows(rows, form, sys.stdout, display_of(plan))
    if not count:
        start = display_of(plan).when(to_us - since)
        click.echo(f"nothing kept of {found.path} since {start}", err=True)
