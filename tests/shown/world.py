"""Where commands are typed: a folder beside a running agent, on a real broker with the invented site.

The folder has what a checkout has that commands name (config/ and deploy/), and ``site.yaml``.
"""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple

from tests.mosquitto import Mosquitto, free_port
from tests.service.processes import agent_on, eventually, process
from tests.service.site import ROOT, demo_configuration, write

LOADED_S = 240  # patience on a machine that has much else to do
LONGEST_S = 180
PAST = "8h"  # the invented site's liquid comes back for the last five


class Ran(NamedTuple):
    """What became of a command."""

    code: int
    said: str


class World:
    """A folder, and what runs beside it."""

    def __init__(self, folder: Path, broker: Mosquitto) -> None:
        self.folder = folder
        self.broker = broker
        self.typed: set[str] = set()

    def type(self, command: str, folder: Path | None = None) -> Ran:
        """As a person does: in a shell, with the configuration in the environment."""
        path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
        done = subprocess.run(
            ["bash", "-euc", command],
            cwd=folder or self.folder,
            env=os.environ | {"PATH": path, "DEWLINE_CONFIG": str(self.folder / "site.yaml")},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=LONGEST_S,
        )
        return Ran(done.returncode, done.stdout)

    def copy_of_the_store(self, name: str) -> Path:
        """A folder in which ``dewline.db`` is a copy, for what must not happen to the agent's own."""
        folder = self.folder / name
        folder.mkdir()
        done = self.type(f"dewline backup {shlex.quote(str(folder / 'dewline.db'))}")
        assert done.code == 0, done.said
        return folder

    def second_agent(self) -> tuple[Path, int]:
        """A file for an agent of its own beside the first; and the port that it serves on."""
        port = free_port()
        return write(
            self.folder, demo_configuration(self.broker.port, port, "second", "second"), "own.yaml"
        ), port


@contextmanager
def world(folder: Path) -> Iterator[World]:
    """Made, and full: liquid has been coming back to north/n2, and its alarm stands."""
    for name in ("config", "deploy"):
        (folder / name).symlink_to(ROOT / name)
    with ExitStack() as until_the_end:
        broker = until_the_end.enter_context(Mosquitto(folder / "broker"))
        site = demo_configuration(broker.port, free_port(), "shown", "dewline") | {
            "alarms": {"shadow_days": 7}
        }
        path = write(folder, site)
        write(folder, site, "other.yaml")
        write(folder, {"superheat-low": {"limit_k": 4}}, "proposed.yaml")
        agent = until_the_end.enter_context(process(agent_on(path), folder / "agent.log"))
        feed = [sys.executable, "-m", "demo_feed", "--port", str(broker.port), "--backlog", PAST]
        until_the_end.enter_context(process(feed, folder / "feed.log"))
        made = World(folder, broker)
        eventually(lambda: agent.poll() is not None or _is_full(made), "the alarm stands", LOADED_S)
        assert agent.poll() is None, (folder / "agent.log").read_text()
        yield made


def _is_full(made: World) -> bool:
    if "live" not in (made.folder / "feed.log").read_text():
        return False
    (n2,) = json.loads(made.type("dewline status n2 --json").said)
    return any(alarm["alarm"] == "superheat-low" for alarm in n2["alarms"]) and bool(n2["time"])
