"""The command `python -m tests.identity`: what evidence says against the truth; exits 1 where one broke."""

import json
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from tests.identity.cases import Kind, cases
from tests.identity.run import Outcome, run


@click.command(help="Asks the agent how modules of the bench are piped, and tells it against the truth.")
@click.option("--days", default=1, show_default=True, type=click.IntRange(1), help="Of data for each.")
@click.option("--only", default="", help="Cases with this in their name.")
@click.option("--seed", default="a", show_default=True, help="Of weather, instruments and labels.")
@click.option("--shut", is_flag=True, help="The bypass never opens in settled running.")
@click.option("--jobs", default=2, show_default=True, type=click.IntRange(1), help="Processes.")
@click.option(
    "--json", "path", type=click.Path(dir_okay=False, path_type=Path), help="Write the outcomes here."
)
@click.option("--list", "only_list", is_flag=True, help="Name them and run nothing.")
def main(days: int, only: str, seed: str, shut: bool, jobs: int, path: Path | None, only_list: bool) -> None:
    chosen = [each for each in cases(days, seed, not shut) if only in each.name]
    if not chosen:
        raise click.UsageError(f"no case has {only!r} in its name")
    if only_list:
        for each in chosen:
            equals = ", ".join(sorted(each.equals - {each.truth.name})) or "no other"
            click.echo(f"{each.name}: configured as {each.configured}; shows the same: {equals}")
        return
    began = time.monotonic()
    outcomes = []
    with ProcessPoolExecutor(jobs) as pool:
        for outcome in pool.map(run, chosen):
            outcomes.append(outcome)
            click.echo(f"{outcome.verdict}: {outcome.case.name} after {outcome.took_s:.0f} s", err=True)
            if outcome.broke:
                click.echo(outcome.broke, err=True)
            if path is not None:
                path.write_text(json.dumps([record(each) for each in outcomes], indent=1), encoding="utf-8")
    console = Console(width=220, highlight=False)
    console.print(table(outcomes))
    for line in summary(outcomes):
        console.print(line, markup=False)
    console.print(f"{len(outcomes)} cases, {days} d each, {time.monotonic() - began:.0f} s")
    sys.exit(1 if any(each.broke for each in outcomes) else 0)


def table(outcomes: list[Outcome]) -> Table:
    made = Table("truth", "season", "configured", "concluded", "best", "points", "the piping has", "verdict")
    for each in outcomes:
        case = each.case
        points = "-" if each.true_points is None else f"{each.true_points:.1f}"
        others = sorted(case.equals - {case.truth.name})
        made.add_row(
            case.truth.name,
            "+".join(case.seasons),
            case.configured if case.kind is not Kind.RIGHT else "rightly",
            f"{each.conclusion}: {each.text}",
            ", ".join(each.best) or "-",
            f"{points} ({each.points:.1f})",
            f"also {', '.join(others)}" if others else "it alone",
            each.verdict,
        )
    return made


def summary(outcomes: list[Outcome]) -> list[str]:
    lines = []
    for kind in Kind:
        group = [each for each in outcomes if each.case.kind is kind and not each.broke]
        for what, words in (
            ("the true layout", Counter(each.place for each in group)),
            ("what is configured", Counter(each.concluded for each in group if each.concluded)),
        ):
            counted = ", ".join(f"{word} {count}" for word, count in sorted(words.items()))
            if counted:
                lines.append(f"{kind}, {what}: {counted}")
    several = [each.case for each in outcomes if each.case.kind is Kind.UNKNOWN and len(each.case.equals) > 1]
    lines.append(f"unknown, and the piping has more than one that shows the same: {len(several)}")
    told = [each for each in outcomes if each.case.kind is Kind.MISLABELLED]
    lines.append(f"mislabelled, and the piping shows it: {sum(each.case.is_decidable for each in told)}")
    lines.append(f"broke: {sum(bool(each.broke) for each in outcomes)}")
    return lines


def record(outcome: Outcome) -> dict[str, object]:
    case = outcome.case
    return {
        "truth": case.truth.name,
        "seasons": case.seasons,
        "days": case.days,
        "kind": case.kind,
        "configured": case.configured,
        "names": dict(case.names),
        "equals": sorted(case.equals),
        "is_decidable": case.is_decidable,
        "conclusion": outcome.conclusion,
        "text": outcome.text,
        "tell_apart": outcome.tell_apart,
        "best": outcome.best,
        "points": outcome.points,
        "true_points": outcome.true_points,
        "true_explains": outcome.true_explains,
        "against_truth": outcome.reasons,
        "seen": outcome.seen,
        "verdict": outcome.verdict,
        "broke": outcome.broke,
        "took_s": round(outcome.took_s, 1),
    }


if __name__ == "__main__":
    main()
