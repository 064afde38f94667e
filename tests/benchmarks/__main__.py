"""What it takes, set against a floor in the same run: `python -m tests.benchmarks [--quick] [--only PART]`.

Every part runs in a fresh process, one after the other. A report; nothing is asserted.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import platform
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

from tests.benchmarks.rows import Row, measured

PARTS = ("intake", "disk", "saturation", "steps", "replay", "scrape", "page", "memory", "start", "keep")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("--quick", action="store_true", help="smaller numbers, a few minutes in all")
    parser.add_argument(
        "--only", nargs="+", choices=PARTS, default=PARTS, metavar="PART", help=", ".join(PARTS)
    )
    parser.add_argument("--json", type=Path, help="also write the rows to this file")
    asked = parser.parse_args()
    print(f"{datetime.now(UTC):%Y-%m-%d}, {multiprocessing.cpu_count()} cores, {platform.platform()}, Python "
          f"{platform.python_version()}; processor time\n")  # fmt: skip
    print("| measured | takes | floor | ratio | aim |\n|---|---|---|---|---|")
    found: dict[str, Sequence[Row]] = {}
    for part in asked.only:
        began = time.monotonic()
        found[part] = apart(part, asked.quick)
        for row in found[part]:
            ratio = "" if row.ratio is None else f"{row.ratio:.3g}"
            print(f"| {row.what} | {row.measured} | {row.floor} | {ratio} | {row.aim} |", flush=True)
        print(f"<!-- {part}: {time.monotonic() - began:.0f} s -->", flush=True)
    if asked.json:
        rows = {part: [row._asdict() for row in rows] for part, rows in found.items()}
        asked.json.write_text(json.dumps(rows, indent=1))


def apart(part: str, quick: bool) -> Sequence[Row]:
    """In a process of its own, so that no part is charged for what another left in memory."""
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=spawn) as pool:
        return pool.submit(measured, part, quick).result()


if __name__ == "__main__":
    main()
