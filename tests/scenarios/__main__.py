"""The command `python -m tests.scenarios`: runs them, prints a table, exits 1 where one broke."""

import json
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from tests.scenarios import listed, second
from tests.scenarios.run import run, with_sensors
from tests.scenarios.scenario import HEALTHY_DAYS, START_US, Result, class_of


@click.command(help="Runs the bench with a known truth through the agent, and tells what was found of it.")
@click.option("--only", default="", help="Scenarios with this in their name.")
@click.option("--second", "take_second", is_flag=True, help="The second set instead of the first.")
@click.option("--skip", default=None, help="And not those with this.")
@click.option("--jobs", default=2, show_default=True, type=click.IntRange(1), help="Processes.")
@click.option(
    "--sensors", default="1x", show_default=True, help="Errors of instruments, times their class: 3x."
)
@click.option(
    "--json", "path", type=click.Path(dir_okay=False, path_type=Path), help="Write the results here."
)
@click.option("--list", "only_list", is_flag=True, help="Name them and run nothing.")
def main(
    only: str,
    take_second: bool,
    skip: str | None,
    jobs: int,
    sensors: str,
    path: Path | None,
    only_list: bool,
) -> None:
    source = second if take_second else listed
    every = source.scenarios()
    chosen = [each for each in every if only in each.name and not (skip and skip in each.name)]
    if not chosen:
        raise click.UsageError(f"no scenario has {only!r} in its name")
    if only_list:
        for each in chosen:
            click.echo(f"{each.name}: {each.truth}; right is {', '.join(sorted(each.right)) or 'silence'}")
        return
    factor = float(sensors.removesuffix("x"))
    began = time.monotonic()
    results = []
    with ProcessPoolExecutor(jobs) as pool:
        for result in pool.map(run, [with_sensors(each, factor) for each in chosen]):
            results.append(result)
            show(result)
            if path is not None:
                path.write_text(json.dumps([record(each) for each in results], indent=1), encoding="utf-8")
    console = Console(width=200, highlight=False)
    console.print(table(results))
    for line in summary(results):
        console.print(line, markup=False)
    console.print(f"{len(results)} scenarios, sensors {factor:g}x, {time.monotonic() - began:.0f} s")
    sys.exit(1 if any(each.broke for each in results) else 0)


def show(result: Result) -> None:
    """As soon as it is known."""
    click.echo(f"{result.verdict}: {result.scenario.name} after {result.took_s:.0f} s", err=True)
    false = told(result, {each.alarm for each in result.false}, false=True)
    for line in filter(None, [f"    false: {false}" if false else "", result.broke]):
        click.echo(line, err=True)


def table(results: list[Result]) -> Table:
    made = Table(
        "scenario", "truth", "right", "found", "delay min", "cause", "false", "verdict", show_lines=False
    )
    made.columns[4].justify = "right"
    for each in results:
        scenario = each.scenario
        delay = each.delay_minutes
        made.add_row(
            scenario.name,
            scenario.truth,
            ", ".join(sorted(scenario.right)) or scenario.why or "silence",
            told(each, {f.alarm for f in each.found}) or "-",
            "-" if delay is None else f"{delay:.0f}",
            each.named,
            told(each, {f.alarm for f in each.false}, false=True) or "-",
            each.verdict,
        )
    return made


def told(result: Result, alarms: set[str], false: bool = False) -> str:
    """Each alarm, how often."""
    counted = Counter(each.alarm for each in (result.false if false else result.found))
    return ", ".join(f"{name} ({counted[name]})" for name in sorted(alarms))


def summary(results: list[Result]) -> list[str]:
    verdicts = Counter(each.verdict for each in results)
    healthy = [each for each in results if each.scenario.begins_us is None]
    faulty = [each for each in results if each.scenario.begins_us is not None]
    lines = ["verdicts: " + ", ".join(f"{word} {count}" for word, count in sorted(verdicts.items()))]
    ahead = [each for each in faulty if (each.scenario.begins_us or 0) > START_US]
    days = sum(each.scenario.days for each in healthy)
    more = HEALTHY_DAYS * len(ahead)
    lines.append(f"healthy modules: {days} days; and {more} days ahead of faults")
    for name, group in (("healthy modules", healthy), ("others", faulty)):
        for kind in ("process", "instrument", "knowledge"):
            false = Counter(f.alarm for each in group for f in each.false if class_of(f.alarm) == kind)
            words = ", ".join(f"{alarm} {count}" for alarm, count in sorted(false.items())) or "none"
            lines.append(f"false {kind} alarms, {name}: {words}")
    refused = sum((Counter(each.refused) for each in results), Counter())
    for name, group in (("healthy modules", healthy), ("others", faulty)):
        words = Counter(each.named.partition(":")[0] for each in group)
        told = ", ".join(f"{word} {count}" for word, count in sorted(words.items())) or "none"
        lines.append(f"likely cause named at the end, {name}: {told}")
    lines.append(f"readings refused: {dict(refused) or 'none'}")
    unknown = sorted({name for each in results for name in each.unknown_signals})
    lines.append(f"signals of the bench that the agent has no name for: {', '.join(unknown) or 'none'}")
    return lines


def record(result: Result) -> dict[str, object]:
    scenario = result.scenario
    return {
        "scenario": scenario.name,
        "truth": scenario.truth,
        "right": sorted(scenario.right),
        "acceptable": sorted(scenario.acceptable),
        "causes": scenario.causes,
        "found": [[f.alarm, f.raised_us] for f in result.found],
        "likely": result.likely,
        "named": result.named,
        "false": [[f.alarm, f.raised_us] for f in result.false],
        "begins_us": scenario.begins_us,
        "delay_minutes": result.delay_minutes,
        "verdict": result.verdict,
        "took_s": round(result.took_s, 1),
    }


if __name__ == "__main__":
    main()
