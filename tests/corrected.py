"""A module configured wrongly for weeks and then put right: `python -m tests.corrected [--days N]`.

Its truth is `two-pipe-twin-late`, without a probe on the gas pipe from the rooms. It is taken for
`two-pipe-single-early`: its late probe for one at the accumulator's outlet, its second compressor for none.
The data are an invented scenario of our own: four days of the bench, laid end to end. On each fourth day hot
gas leaks through the bypass; the probe behind it then reads as if the returning vapour were far too warm.
"""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
from click.testing import CliRunner
from rich.console import Console

from agent.cli import main as dewline
from agent.outlets import render_replay
from agent.service.replay.comparing import compared
from demo_feed.bench import Fault, FaultKind
from tests.bench_site import Bench, Sent, sent, settings
from tests.scenarios.scenario import DAY_US, START_US

RIGHT, WRONG = "two-pipe-twin-late", "two-pipe-single-early"
TILE_DAYS = 4
RENAMED = {"accumulator_outlet": "compressor_inlet"}
SECOND_COMPRESSOR = ("compressor_2_speed", "compressor_2_current", "discharge_2")


def payloads(days: int) -> Sent:
    """So many days, four and four of them alike but for their stamps."""
    leak = Fault(FaultKind.BYPASS_LEAKING, 1.0, START_US + 3 * DAY_US, 600.0)
    tile = sent(RIGHT, TILE_DAYS, ["suction_pipe"], faults=(leak,))
    found: Sent = []
    for number in range(-(-days // TILE_DAYS)):
        found += [_later(each, number * TILE_DAYS * DAY_US) for each in tile]
    return [each for each in found if each[0] < START_US + days * DAY_US]


def _later(payload: tuple[int, bytes], by_us: int) -> tuple[int, bytes]:
    time_us, body = payload
    records = orjson.loads(body)
    for record in records:
        if "bt" in record:
            record["bt"] += by_us / 1e6
    return time_us + by_us, orjson.dumps(records)


def configurations(first_payload: bytes, step_s: int = 60) -> tuple[dict[str, Any], dict[str, Any]]:
    """As it was configured, and put right by a dated layout with a signal set of its own."""
    right = settings(RIGHT, first_payload, step_s)
    signals = right["signal_sets"]["bench"]["signals"]
    wrongly = {name: each for name, each in signals.items() if name not in SECOND_COMPRESSOR}
    for name, true_name in RENAMED.items():
        wrongly[name] = wrongly.pop(true_name) | {"point": true_name}
    sets = {"bench": {**right["signal_sets"]["bench"], "signals": wrongly}}
    module = right["systems"]["one"]["modules"]["m1"]
    wrong = _with(right, sets, module | {"layout": WRONG})
    entry = {
        "layout": RIGHT,
        "valid_from": "2025-11-03",  # the first day of all
        "by": "A. Fitter",
        "why": "second compressor seen, probe clamped after the oil return",
        "signal_set": "as-seen",
    }
    dated = [{"layout": WRONG}, entry]
    return wrong, _with(right, sets | {"as-seen": right["signal_sets"]["bench"]}, module | {"layout": dated})


def _with(body: dict[str, Any], sets: dict[str, Any], module: dict[str, Any]) -> dict[str, Any]:
    systems = {"one": {**body["systems"]["one"], "modules": {"m1": module}}}
    return body | {"signal_sets": sets, "systems": systems}


def told(bench: Bench) -> Iterator[str]:
    """The journal by transition and alarm, and the notices by their first word."""
    lines: dict[str, int] = {}
    for entry in bench.store.journal(bench.watched.module_id, 0, 2**62):
        key = f"{entry.transition} {entry.alarm}"
        lines[key] = lines.get(key, 0) + 1
    for key, number in sorted(lines.items()):
        yield f"  journal: {number:3} x {key}"
    words: dict[str, int] = {}
    for _, _, subject in bench.notices:
        words[subject] = words.get(subject, 0) + 1
    for subject, number in sorted(words.items()):
        yield f"  notices: {number:3} x {subject}"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=int, default=30)
    days = parser.parse_args().days
    story = payloads(days)
    wrong, right = configurations(story[0][1])
    end_us = START_US + days * DAY_US
    console = Console(highlight=False, width=120)
    with (
        tempfile.TemporaryDirectory(prefix="corrected-") as directory,
        Bench(Path(directory), wrong) as bench,
    ):
        bench.live(story)
        print(f"Configured wrongly for {days} days:", *told(bench), sep="\n")
        before = len(bench.notices)
        options = ["--layout", RIGHT, "--rename", "accumulator_outlet=compressor_inlet"]
        print("\nWhat `dewline replay", *options, "` says of it:\n", flush=True)
        spoken = CliRunner(env={"COLUMNS": "120"}).invoke(
            dewline, ["replay", "m1", "-c", str(bench.file), "--since", "2025-11-03", *options]
        )
        print(spoken.output)
        bench.restart(right, end_us)
        report = compared(bench.store, bench.plan, bench.module, bench.module, START_US, end_us)
        print("With the corrected file, before the agent has gone over it:\n", flush=True)
        console.print(render_replay(report))
        bench.assessor.work_off(bench.watched, end_us + bench.grace_us)
        print("\nAfter the agent has gone over it:", *told(bench), sep="\n")
        print(f"  notices since the correction: {len(bench.notices) - before}")
        again = compared(bench.store, bench.plan, bench.module, bench.module, START_US, end_us)
        print(f"  a replay differs from what is recorded now: {again.differs}")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
