"""The command that copies the store."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console
from rich.filesize import decimal
from rich.progress import Progress

from agent.cli.shared import Failure, config_option, main, plan_of, print_json
from agent.store import Copied, DamagedError, StoreError, back_up


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@config_option()
@click.option("--force", is_flag=True, help="Replace FILE where it is there already.")
@click.option("--json", "as_json", is_flag=True, help="For a program.")
def backup(file: Path, config: Path, force: bool, as_json: bool) -> None:
    """Copy the store to FILE while the agent goes on, whole and as it is at this moment, and check the copy.

    FILE gets its name once the copy is whole and sound; a copy made before stays until then. It can be read
    by its owner alone. Exit code 0: the copy is there; 1: the store is damaged, and no copy was kept; 2: it
    could not be made.
    """
    plan = plan_of(config)
    try:
        copied = _with_bar(plan.store_url, file, force)
    except DamagedError as error:
        click.echo(f"Error: {error}", err=True)
        sys.exit(1)
    except StoreError as error:
        raise Failure(str(error)) from None
    if as_json:
        print_json({**copied._asdict(), "path": str(copied.path)})
        return
    click.echo(
        f"copied and checked: {copied.path}, {decimal(copied.size_bytes)}, {copied.readings:,} readings, "
        f"schema {copied.schema}"
    )


def _with_bar(store_url: str, file: Path, force: bool) -> Copied:
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("copying", total=None)

        def show(done: int, total: int) -> None:
            words = "copying" if done < total else "checking"
            bar.update(task, description=words, completed=done, total=total)

        return back_up(store_url, file, force=force, progress=show)
