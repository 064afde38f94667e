"""The command that listens at the broker while a site is put into operation."""

from __future__ import annotations

import logging
import os
import sys
from contextlib import ExitStack
from pathlib import Path
from queue import SimpleQueue

import click
from rich.console import Console
from rich.live import Live

from agent.cli.ending import is_told, told_to_end
from agent.cli.shared import Failure, Span, config_option, display_of, main, plan_of, print_json
from agent.outlets import heard_mapping, listen_progress, render_heard
from agent.outlets.shown import Display
from agent.service import BrokerUnreachableError, Listening
from agent.store import Store, StoreError

WIDE = 160  # columns
LISTEN_S = 0.2


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
        told = until_the_end.enter_context(told_to_end())
        try:
            store = until_the_end.enter_context(Store.open_readonly(plan.store_url)) if from_store else None
            listening = Listening(plan, topics, os.environ, told=lambda: not told.empty())
            until_the_end.enter_context(listening)
            _listen(listening, span, told, watch and not as_json, display_of(plan))
            site = listening.site(store)
        except (BrokerUnreachableError, StoreError, OSError, ValueError) as error:
            raise Failure(str(error)) from None
    if as_json:
        print_json(heard_mapping(site))
    else:
        Console(width=WIDE if wide else None).print(render_heard(site, display=display_of(plan)))
    sys.exit(int(not site.is_fine))


def _listen(listening: Listening, span: int, told: SimpleQueue[int], watch: bool, display: Display) -> None:
    """Until the time is over or a signal says so; on a terminal with what came so far."""
    console = Console(stderr=True)
    if not console.is_terminal:
        while listening.work().listened_us < span and not is_told(told, LISTEN_S):
            pass
        return
    with Live(console=console, auto_refresh=False, transient=True, vertical_overflow="crop") as live:
        rounds = 0
        while (now := listening.work()).listened_us < span:
            if not watch:
                live.update(listen_progress(now, span), refresh=True)
            elif rounds % 10 == 0:
                live.update(render_heard(listening.site(), over=False, display=display), refresh=True)
            if is_told(told, LISTEN_S):
                return
            rounds += 1
