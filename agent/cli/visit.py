"""The command that writes a site-visit brief."""

from __future__ import annotations

from pathlib import Path

import click
from rich.console import Console

from agent.cli.shared import Failure, Span, config_option, main, module_of, plan_of, store_of
from agent.service import brief, now_us


@main.command()
@click.argument("module")
@config_option()
@click.option(
    "--since", type=Span(), default="14d", show_default=True, help="How far back, such as 3d or 30d."
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="The HTML file; one that is there is written over.",
)
def visit(module: str, config: Path, since: int, output: Path) -> None:
    """Write the brief for a visit to MODULE: one HTML file for a phone or for paper, which needs no network.

    What is wrong and how sure that is, what to do first and take along; how it is piped, its last days, what
    was done, what could not be told, and what to measure by hand. A PDF is what a browser prints of it.
    """
    plan = plan_of(config)
    found = module_of(plan, module)
    to_us = now_us()
    with store_of(plan) as store, Console(stderr=True).status(f"reading the past of {found.path}"):
        text = brief(store, plan, found, to_us - since, to_us, to_us)
    try:
        output.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Failure(f"{output} cannot be written: {error.strerror}") from None
    click.echo(f"{output}: the brief of {found.path}, {len(text.encode()) / 1e3:.0f} kB")
