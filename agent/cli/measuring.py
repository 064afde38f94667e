"""The command about readings by hand: one is put to the running agent, or those that are kept are shown."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from rich.console import Console

from agent.assess.handheld import CLAMP_K, GAUGE_PA
from agent.assess.handheld import Kind as Held
from agent.cli.alarms import told
from agent.cli.shared import Failure, Moment, Words, config_option, main, module_of, plan_of, print_json
from agent.outlets import MeasuredByHand, by_hand_mapping, render_by_hand
from agent.service import Kind, MeasureError, Typed, measured, taken
from agent.settings import ModulePlan, Plan
from agent.store import Store, StoreError

_CLAMPED = f"{CLAMP_K:g} K for a clamp, {GAUGE_PA / 1e3:g} kPa (class 1 of 35 bar) for a gauge"


@main.command()
@click.argument("module")
@config_option()
@click.option("--probe", metavar="P", help="A clamp on the pipe beside this probe.")
@click.option("--transducer", metavar="T", help="A gauge where this transducer measures.")
@click.option(
    "--inlet", metavar="I", help="A clamp on the suction line beside the place where this inlet joins."
)
@click.option("--side", type=click.Choice(["ahead", "after"]), help="Of the inlet, as the gas flows.")
@click.option("--value", metavar="VALUE", help='Such as "12.0 degC", "8.2 bar gauge" or "920 kPa absolute".')
@click.option(
    "--at", "at_us", type=Moment(), metavar="TIME", help="When: with its offset, now, or 20m (ago)."
)
@click.option("--by", type=Words(), metavar="NAME", help="Who measured.")
@click.option(
    "--accuracy",
    type=click.FloatRange(min=0, min_open=True),
    help=f"Limit of error in the unit of the value; {_CLAMPED} unless stated (common practice).",
)
@click.option("--note", type=Words(), metavar="TEXT", help="With what, or what else was seen.")
@click.option("--list", "as_list", is_flag=True, help="Show what was measured, and what it says.")
@click.option("--json", "as_json", is_flag=True, help="With --list: for a program.")
def measure(
    module: str,
    config: Path,
    probe: str | None,
    transducer: str | None,
    inlet: str | None,
    side: str | None,
    value: str | None,
    at_us: int | None,
    by: str | None,
    accuracy: float | None,
    note: str | None,
    as_list: bool,
    as_json: bool,
) -> None:
    """Keep what was measured by hand at MODULE, and compare it with the telemetry of that minute.

    A clamp ahead of an inlet and one after it, within 10 minutes, tell on which side of it probes sit. Exit
    code 0: it agrees, or it cannot be told; 1: something differs, or the reading was refused; 2: usage or
    configuration.
    """
    plan = plan_of(config)
    found = module_of(plan, module)
    places = {Held.PROBE: probe, Held.TRANSDUCER: transducer, Held.INLET: inlet}
    stated = {kind: place for kind, place in places.items() if place is not None}
    if as_list:
        if stated or any(each is not None for each in (side, value, at_us, by, accuracy, note)):
            raise click.UsageError("--list shows what was measured, and takes nothing else but --json")
        _show(plan, found, as_json)
    if as_json:
        raise click.UsageError("--json goes with --list")
    if len(stated) != 1:
        raise click.UsageError("say where, by one of --probe, --transducer and --inlet")
    ((kind, place),) = stated.items()
    if (kind is Held.INLET) != (side is not None):
        raise click.UsageError("--inlet takes --side ahead or --side after, and nothing else does")
    if value is None or at_us is None or by is None:
        missing = [n for n, v in (("--value", value), ("--at", at_us), ("--by", by)) if v is None]
        raise click.UsageError(f"a reading takes {' and '.join(missing)} too")
    try:
        body = taken(plan, found, Typed(kind, place, side, value, accuracy, at_us))
    except MeasureError as error:
        raise Failure(str(error)) from None
    done = told(plan, found, Kind.MEASURE, by, why=note or "", more={"handheld": body})
    if done is None:
        return
    sys.exit(int(bool(done.refused) or _differs(_measured(plan, found), done.created_us, place)))


def _show(plan: Plan, module: ModulePlan, as_json: bool) -> None:
    every = _measured(plan, module)
    if as_json:
        print_json({**module.path._asdict(), **by_hand_mapping(every)})
    else:
        Console(highlight=False).print(render_by_hand(module.path, every))
    sys.exit(int(every.has_finding))


def _measured(plan: Plan, module: ModulePlan) -> MeasuredByHand:
    try:
        with Store.open_readonly(plan.store_url) as store:
            return measured(store, plan, module)
    except StoreError as error:
        raise Failure(str(error)) from None


def _differs(every: MeasuredByHand, given_us: int, place: str) -> bool:
    """Whether what was given just now differs, or what follows from it."""
    mine = [each for each in every.readings if each.given_us == given_us]
    follows = [
        each
        for each in every.concluded
        if place in (each.probe, each.inlet) and any(each.at_us >= one.at_us for one in mine)
    ]
    return MeasuredByHand(tuple(mine), tuple(follows)).has_finding
