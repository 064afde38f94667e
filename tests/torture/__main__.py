"""The command `python -m tests.torture`: tries what is promised, prints a table, exits 1 where it broke."""

import sys
import tempfile
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from tests.mosquitto import PROGRAM
from tests.torture.run import Outcome, torture
from tests.torture.trials import trials

LIVE_S = 1200
NUMBERS = ["published", "stored", "lost", "doubled", "assessed", "missing", "different"]
ALARM_NUMBERS = ["occurrences", "alarms_lost", "alarms_doubled", "states_different"]
HEADINGS = {"occurrences": "alarms", "states_different": "states different"}


@click.command(help="Tries what is promised of readings, assessments and alarms, and counts what was lost.")
@click.option("--kills", default=50, show_default=True, type=click.IntRange(1), help="SIGKILLs of the agent.")
@click.option(
    "--minutes",
    default=2.5,
    show_default=True,
    type=click.FloatRange(min=0.1),
    help="That they are spread over.",
)
@click.option("--backlog", default="8h", show_default=True, help="Past that each trial is fed with.")
@click.option("--seed", default="torture", show_default=True, help="Of the moments and of the disorder.")
@click.option("--only", default="", help="Trials with this in their name.")
@click.option("--quick", is_flag=True, help="5 kills and 2 hours of past.")
def main(kills: int, minutes: float, backlog: str, seed: str, only: str, quick: bool) -> None:
    if PROGRAM is None:
        raise click.ClickException("mosquitto is not installed; Debian's package is mosquitto")
    if quick:
        kills, minutes, backlog = 5, 0.25, "2h"
    outcomes = []
    with (
        tempfile.TemporaryDirectory(prefix="torture-") as directory,
        torture(Path(directory), seed, backlog, LIVE_S) as each,
    ):
        for trial in trials(kills, minutes * 60, seed):
            if only in trial.name:
                outcomes.append(each.run(trial))
                show(outcomes[-1])
    console = Console(width=220, highlight=False)
    console.print(table(outcomes))
    for outcome in outcomes:
        console.print(f"{outcome.trial.name}: {'; '.join(outcome.seen) or '-'}", markup=False)
    sys.exit(0 if all(outcome.is_kept for outcome in outcomes) else 1)


def show(outcome: Outcome) -> None:
    """As soon as it is known."""
    word = "kept" if outcome.is_kept else "BROKEN"
    click.echo(f"{outcome.trial.name}: {word} after {outcome.took_s:.0f} s", err=True)
    unlike = outcome.tally.unlike if outcome.tally else []
    for line in [*outcome.broken, *unlike]:
        click.echo(f"    {line}", err=True)


def table(outcomes: list[Outcome]) -> Table:
    names = NUMBERS + ALARM_NUMBERS
    made = Table(
        "tried", "promised", *[HEADINGS.get(name, name.replace("_", " ")) for name in names], "whole"
    )
    for column in made.columns[2:-1]:
        column.justify = "right"
    for trial, tally, _, broken, _ in outcomes:
        numbers = [str(getattr(tally, name)) if tally else "-" for name in names]
        kept = "NO" if broken or not (tally is None or tally.is_whole) else "yes" if tally else "not tried"
        made.add_row(trial.name, "nothing lost" if trial.is_promised else "-", *numbers, kept)
    return made


if __name__ == "__main__":
    main()
