"""A world for one trial: a broker with the shipped settings, an agent, its store, a feed; ends whole."""

import os
import subprocess
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from tests.deploy.broker import stated
from tests.mosquitto import Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import demo_configuration, write
from tests.torture.count import Kept
from tests.torture.stream import SYSTEMS, Due, Feed, readings_of

STEP_US = 30_000_000
STANDSTILL_S = 20.0  # longer than any pause of the agent's between two attempts
PATIENCE_S = 120.0
START_S = 30.0
SMALL_DISK_MB = 24
# So tight that alarms come and go in an ordinary hour; nobody would run a site with them.
SHORT = {"on_delay_s": 60, "off_delay_s": 60}
LIMITS = {
    "superheat-low": {"limit_k": 6.6, "deadband_k": 0.2, **SHORT},
    "superheat-high": {"limit_k": 6.3, "deadband_k": 0.2, **SHORT},
    "superheat-hunting": {"limit_k": 2.0, "deadband_k": 0.5, **SHORT},
    "watch-blind": {"on_delay_s": 120},
}
# What a trial has its own of: the place, and no users.
NOT_SHIPPED = {
    "listener", "persistence", "persistence_location", "password_file", "acl_file", "allow_anonymous",
    "max_queued_messages", "per_listener_settings", "log_dest",
}  # fmt: skip


class NotTriedError(Exception):
    """This machine or user does not allow the trial."""


def configuration(port: int, metrics_port: int, store: Path) -> dict[str, Any]:
    body = demo_configuration(port, metrics_port, "tried", "watch")
    systems = {
        system: {
            **body["systems"][system],
            "modules": {n: body["systems"][system]["modules"][n] for n in names},
        }
        for system, names in SYSTEMS.items()
    }
    return {**body, "systems": systems, "limits": LIMITS, "store": {"url": f"sqlite:///{store}"}}


class Agent:
    """The agent as a process that may be ended and started again."""

    def __init__(self, config: Path, log: Path) -> None:
        self.config = config
        self.log = log
        self._running = ExitStack()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> subprocess.Popen[bytes]:
        self.process = self._running.enter_context(process(agent_on(self.config), self.log))
        return self.process

    def kill(self) -> None:
        """SIGKILL, where it still runs."""
        self._running.close()

    def end(self) -> None:
        """SIGTERM, and as long as it takes."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(PATIENCE_S)
        self._running.close()

    def exit_code(self, patience_s: float = START_S) -> int | None:
        """With which it left by itself; None when it has not."""
        assert self.process is not None
        try:
            return self.process.wait(patience_s)
        except subprocess.TimeoutExpired:
            return None

    def said(self) -> list[str]:
        return self.log.read_text(errors="replace").splitlines()


class World:
    """Starts with an agent that has subscribed and a feed that runs; `seen` is for the table."""

    def __init__(
        self,
        directory: Path,
        schedule: list[Due],
        end_us: int,
        *,
        past_s: float,
        persistence: bool = True,
        small_disk: bool = False,
    ) -> None:
        self.directory = directory
        self.seen: list[str] = []
        self.broken: list[str] = []
        self._open = ExitStack()
        try:
            self._start(schedule, end_us, past_s, persistence, small_disk)
        except BaseException:
            self._open.close()
            raise

    def _start(
        self, schedule: list[Due], end_us: int, past_s: float, persistence: bool, small_disk: bool
    ) -> None:
        self.disk = self.directory / "disk"
        self.disk.mkdir(parents=True)
        if small_disk:
            self._mount()
        self.kept = Kept(self.disk / "dewline.db")
        settings = [f"{word} {value}" for word, value in stated().items() if word not in NOT_SHIPPED]
        self.broker = self._open.enter_context(
            Mosquitto(self.directory / "broker", "\n".join(settings), persistence)
        )
        body = configuration(self.broker.port, free_port(), self.kept.path)
        self.agent = Agent(write(self.directory, body), self.directory / "agent.log")
        self._open.callback(self.agent.kill)
        self.agent.start()
        with listener(self.broker.port, "watch/#") as heard:
            eventually(lambda: heard.last.get("watch/agent/tried") == b"online", "the agent online")
        self.feed = Feed(self.broker.port, schedule, end_us, past_s)
        self._open.callback(self.feed.close)

    def __enter__(self) -> "World":
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def _mount(self) -> None:
        if os.geteuid() != 0:
            raise NotTriedError("only root may mount a small disk")
        size = f"size={SMALL_DISK_MB}m"
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", size, "tmpfs", self.disk], capture_output=True
        )
        if mounted.returncode:
            raise NotTriedError(f"no small disk: {mounted.stderr.decode().strip()}")
        self._open.callback(subprocess.run, ["umount", "--lazy", str(self.disk)], check=True)

    def expect(self, fulfilled: object, what: str) -> None:
        """Something that is promised besides the numbers."""
        if not fulfilled:
            self.broken.append(what)

    def expect_refusal(self, *words: str) -> None:
        """A start that is refused: exit code 2, and one sentence with these words."""
        before = len(self.agent.said())
        self.agent.kill()
        self.agent.start()
        code = self.agent.exit_code()
        said = self.agent.said()[before:]
        self.expect(code == 2, f"a start that should be refused: exit code {code}, right is 2")
        self.expect(len(said) == 1, f"a refusal of {len(said)} lines, right is one: {said[-3:]}")
        self.expect(
            said and all(word in said[-1] for word in words),
            f"a refusal without {words}: {said[-1:]}",
        )
        self.seen.append(f"start refused, exit code {code}")

    def wait_fed(self, share: float) -> None:
        eventually(lambda: self.feed.share >= share, f"{share:.0%} of the past handed over", PATIENCE_S)

    def under_way(self) -> tuple[int, bool]:
        """Readings that the broker has said it has and the store has not, and whether time is dirty."""
        if not self.kept.path.exists():
            return 0, False
        stored = self.kept.count()
        return len(readings_of(self.feed.acknowledged())) - stored, self.kept.has_dirty()

    def finish(self) -> int:
        """End the feed and wait until all is quiet; returns the last grid time that is to be compared."""
        ended_us = self.feed.end()
        until_us = ended_us // STEP_US * STEP_US
        count = len(readings_of(self.feed.acknowledged()))
        deadline = time.monotonic() + PATIENCE_S
        had, moved = -1, time.monotonic()
        while time.monotonic() < deadline:
            stored = self.kept.count()
            if stored != had:
                had, moved = stored, time.monotonic()
            stands_still = time.monotonic() - moved > STANDSTILL_S
            is_worked_off = not self.kept.has_dirty() and self.kept.progress_us() >= until_us
            if (stored >= count or stands_still) and is_worked_off:
                break
            time.sleep(0.2)
        else:
            self.expect(False, f"not quiet after {PATIENCE_S:.0f} s")
        code = self.agent.exit_code(0)
        self.expect(code is None, f"the agent is gone at the end, with exit code {code}")
        return until_us
