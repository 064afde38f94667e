"""Makes the dashboards beside it: `python deploy/grafana/make.py`. Needs grafana-foundation-sdk, pinned.

A dashboard is changed here and made anew; a test compares.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from board_agent import agent
from board_fleet import fleet
from board_module import module
from grafana_foundation_sdk.cog.encoder import JSONEncoder

BOARDS = {"fleet.json": fleet, "module.json": module, "agent.json": agent}


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--to", type=Path, default=Path(__file__).parent, help="folder to write them to")
    folder = arguments.parse_args().to
    for name, make in BOARDS.items():
        made = JSONEncoder(sort_keys=True, indent=2).encode(make().build())
        (folder / name).write_text(json.dumps(json.loads(made), indent=2, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
