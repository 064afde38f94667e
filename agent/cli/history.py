"""The command that lists a module's past."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from agent.cli.shared import Span, config_option, display_of, main, module_of, plan_of, store_of
from agent.outlets import FORMATS, assessment_rows, reading_rows, summary_rows, write_rows
from agent.service import now_us, past, received, summed


@main.command()
@click.argument("module")
@config_option()
@click.option(
    "--since", type=Span(), default="24h", show_default=True, help="How far back, such as 6h or 7d."
)
@click.option("--format", "form", type=click.Choice(FORMATS), default="table", show_default=True)
@click.option("--readings", is_flag=True, help="The readings as received, instead of the assessments.")
@click.option("--summaries", is_flag=True, help="What signals came to by the quarter of an hour, instead.")
def history(module: str, config: Path, since: int, form: str, readings: bool, summaries: bool) -> None:
    """Assessments, readings or summaries of MODULE (site/system/module, or the end of it).

    Summaries reach back behind the readings that are kept (`keep_readings_days`): of each signal the least,
    the mean and the most of a quarter of an hour, and how often it had which value that is no number.
    """
    if readings and summaries:
        raise click.UsageError("--readings and --summaries are two different things: give one of them")
    plan = plan_of(config)
    found = module_of(plan, module)
    to_us = now_us()
    with store_of(plan) as store:
        kept_us = store.kept_from_us() if readings else None
        if readings:
            rows = reading_rows(received(store, plan, found, to_us - since, to_us))
        elif summaries:
            display = display_of(plan) if form == "table" else None
            rows = summary_rows(summed(store, plan, found, to_us - since, to_us), display)
        else:
            rows = assessment_rows(*past(store, found, to_us - since, to_us))
        count = write_rows(rows, form, sys.stdout, display_of(plan))
    if not count:
        start = display_of(plan).when(to_us - since)
        click.echo(f"nothing kept of {found.path} since {start}", err=True)
    if kept_us is not None and kept_us > to_us - since:
        clock = display_of(plan).when(kept_us)
        click.echo(f"readings are kept since {clock}; --summaries tells what those before came to", err=True)
