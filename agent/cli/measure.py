"""The command about readings by hand: one is put to the running agent, or those that are kept are shown."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

import click
from rich.console import Console

from agent.assess.by_hand.handheld import CLAMP_K, GAUGE_PA
from agent.assess.by_hand.handheld import Kind as Held
from agent.cli.shared import (
    Failure,
    Moment,
    Words,
    config_option,
    display_of,
    main,
    module_of,
    plan_of,
    print_json,
    store_of,
)
from agent.cli.telling import told
from agent.outlets import MeasuredByHand, by_hand_mapping, render_answer, render_by_hand
from agent.outlets.shown import SI, Display
from agent.service import FAR_K, Kind, MeasureError, Typed, doubted, follows_from, measured, taken
from agent.settings import ModulePlan, Plan
from agent.store import Command

_OTHER = Display("degF", "psi")  # of people who do not read K and kPa; there is no site before a command runs


def _both(text: str) -> str:
    return f"{text} ({_OTHER.words(text)})"


_CLAMP, _GAUGE = _both(f"{CLAMP_K:g} K"), _both(f"{GAUGE_PA / 1e3:g} kPa")
_CLAMPED = f"{_CLAMP} for a clamp, {_GAUGE} for a gauge (class 1 of 35 bar)"


@main.command()
@click.argument("module")
@config_option()
@click.option("--probe", metavar="P", help="A clamp on the pipe beside this probe.")
@click.option("--transducer", metavar="T", help="A gauge where this transducer measures.")
@click.option(
    "--inlet", metavar="I", help="A clamp on the suction line beside the place where this inlet joins."
)
@click.option("--side", type=click.Choice(["ahead", "after"]), help="Of the inlet, as the gas flows.")
@click.option(
    "--value",
    metavar="VALUE",
    help='Such as "12.0 degC", "53.6 degF", "8.2 bar gauge", "133 psig" or "920 kPa absolute".',
)
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
@click.option(
    "--sure",
    is_flag=True,
    help=f"It was read so, though telemetry is {_both(f'{FAR_K:g} K')} or more from it.",
)
@click.option("--withdraw", type=int, metavar="ID", help="Take back this reading (--list has the numbers).")
@click.option("--why", type=Words(), metavar="TEXT", help="With --withdraw: the reason.")
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
    sure: bool,
    withdraw: int | None,
    why: str | None,
    as_list: bool,
    as_json: bool,
) -> None:
    """Keep what was measured by hand at MODULE, and compare it with the telemetry of that minute.

    Before a clamp: pressure, heat, fans, electricity; isolate first. A gauge opens the circuit: it is for
    certified people. A clamp ahead of an inlet and one after it, within 10 minutes, tell on which side of it
    probes sit. Exit code 0: it agrees, or it cannot be told; 1: something differs, or the reading was
    refused; 2: usage or configuration.
    """
    plan = plan_of(config)
    found = module_of(plan, module)
    places = {Held.PROBE: probe, Held.TRANSDUCER: transducer, Held.INLET: inlet}
    stated = {kind: place for kind, place in places.items() if place is not None}
    measured_now = (
        bool(stated) or sure or any(each is not None for each in (side, value, at_us, accuracy, note))
    )
    if as_list:
        if measured_now or any(each is not None for each in (by, withdraw, why)):
            raise click.UsageError("--list shows what was measured, and takes nothing else but --json")
        _show(plan, found, as_json)
    if as_json:
        raise click.UsageError("--json goes with --list")
    if withdraw is not None:
        if measured_now:
            raise click.UsageError("--withdraw takes --by and --why, and nothing else")
        _withdraw(plan, found, withdraw, by, why)
    if why is not None:
        raise click.UsageError("--why goes with --withdraw; what else was seen goes into --note")
    kind, place = _where(stated, side, {"--value": value, "--at": at_us, "--by": by})
    assert value is not None and at_us is not None and by is not None
    try:
        body = taken(plan, found, Typed(kind, place, side, value, accuracy, at_us), display_of(plan))
    except MeasureError as error:
        raise Failure(str(error)) from None
    if not sure and (question := _doubted(plan, found, body, by)):
        Console(highlight=False).print(question)
        sys.exit(1)
    done = told(plan, found, Kind.MEASURE, by, why=note or "", more={"handheld": body}, say=False)
    if done is None:
        return
    sys.exit(int(bool(done.refused) or _answer(plan, found, done)))


def _where(stated: Mapping[Held, str], side: str | None, needed: Mapping[str, object]) -> tuple[Held, str]:
    """The one place that was stated; UsageError names all that is missing at once."""
    missing = [name for name, given in needed.items() if given is None]
    if len(stated) > 1:
        raise click.UsageError("say where, by one of --probe, --transducer and --inlet, and only one")
    if not stated:
        missing.insert(0, "where, by one of --probe, --transducer and --inlet,")
    if Held.INLET in stated and side is None:
        missing.insert(0, "--side ahead or --side after (of the inlet)")
    if missing:
        raise click.UsageError(f"a reading takes {' and '.join(missing)} too")
    ((kind, place),) = stated.items()
    if side is not None and kind is not Held.INLET:
        raise click.UsageError(f"leave out --side, or give --inlet instead of --{kind}")
    return kind, place


def _withdraw(plan: Plan, module: ModulePlan, handheld_id: int, by: str | None, why: str | None) -> None:
    if by is None or why is None:
        missing = [name for name, given in (("--by", by), ("--why", why)) if given is None]
        raise click.UsageError(f"--withdraw takes {' and '.join(missing)} too")
    done = told(plan, module, Kind.WITHDRAW, by, why=why, more={"handheld_id": handheld_id})
    sys.exit(int(done is not None and bool(done.refused)))


def _doubted(plan: Plan, module: ModulePlan, body: Mapping[str, object], by: str) -> str:
    with store_of(plan) as store:
        return doubted(store, plan, module, body, by, display_of(plan))


def _show(plan: Plan, module: ModulePlan, as_json: bool) -> None:
    display = SI if as_json else display_of(plan)
    every = _measured(plan, module, display)
    if as_json:
        print_json({**module.path._asdict(), **by_hand_mapping(every)})
    else:
        Console(highlight=False).print(render_by_hand(module.path, every, display))
    sys.exit(int(every.has_finding))


def _measured(plan: Plan, module: ModulePlan, display: Display) -> MeasuredByHand:
    with store_of(plan) as store:
        return measured(store, plan, module, display)


def _answer(plan: Plan, module: ModulePlan, done: Command) -> bool:
    """Say what a reading comes to, the verdict first; whether something differs."""
    display = display_of(plan)
    every = _measured(plan, module, display)
    this = next((each for each in reversed(every.readings) if each.given_us == done.created_us), None)
    if this is None:
        click.echo(done.outcome)
        return False
    follows = follows_from(every, this)
    Console(highlight=False).print(render_answer(module.path, this, follows, display))
    return MeasuredByHand((this,), tuple(follows)).has_finding
