"""The help of every command, as `--help` prints it."""

from __future__ import annotations

import click

from agent.cli import main
from tests.reference.markdown import page

WIDTH = 100
_HEAD = (
    "What `dewline COMMAND --help` prints. `-c FILE` can be left out where the environment has "
    "`DEWLINE_CONFIG=FILE`. MODULE is `site/system/module`, or as much of its end as tells it from "
    "others, such as `n2`. A SPAN is a number with `s`, `m`, `h`, `d` or `w`. Exit codes are for scripts: 2 "
    "is always a mistake in usage or configuration, or something that could not be done."
)


def commands() -> str:
    return page(
        "The commands", _HEAD, *(f"## {name}\n\n{_block(name, each)}" for name, each in main.commands.items())
    )


def _block(name: str, command: click.Command) -> str:
    above = main.make_context("dewline", [name], resilient_parsing=True, terminal_width=WIDTH)
    return f"```text\n{command.get_help(click.Context(command, above, name))}\n```"
