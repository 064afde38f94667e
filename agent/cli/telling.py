"""What a command puts to the running agent, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping

import click

from agent.cli.shared import Failure, display_of
from agent.service import Kind, UnwatchedModuleError, give, is_worked_on, now_us, outcome, refused_so_far
from agent.settings import ModulePlan, Plan
from agent.store import Command, Store, StoreError


def told(
    plan: Plan,
    module: ModulePlan,
    kind: Kind,
    by: str,
    alarm: str | None = None,
    *,
    why: str = "",
    span: int | None = None,
    more: Mapping[str, object] | None = None,
    say: bool = True,
    err: bool = False,
) -> Command | None:
    """Put it to the running agent and say what came of it; the command, None where it waits.

    ``say``: what came of it is said here; that it waits always is. ``err``: beside what a program reads.
    """
    now = now_us()
    try:
        with Store.open_beside(plan.store_url, durable=plan.settings.store.durable) as store:
            until_us = None if span is None else now + span
            command_id = give(store, module, kind, by, now, alarm, why=why, until_us=until_us, more=more)
            done = outcome(store, command_id)
            runs = is_worked_on(store.path)
            why = refused_so_far(store, command_id, now, display_of(plan)) if done is None else ""
    except (StoreError, UnwatchedModuleError) as error:
        raise Failure(str(error)) from None
    if done is None:
        waits = "the agent has not come to it yet" if runs else "no agent runs on this store"
        click.echo(
            f"{waits}; the command is kept and will be worked off when it {'does' if runs else 'starts'}",
            err=err,
        )
        if why:
            click.echo(f"As things stand it would be refused: {why}.", err=err)
        return None
    if say or done.refused:
        click.echo(done.outcome, err=err)
    return done
