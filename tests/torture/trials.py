"""What is done to a world in each trial, and whether nothing may be lost by it.

A trial returns when the agent runs again and may settle; what is counted then is not its business.
"""

import os
import resource
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import NamedTuple

from tests.mosquitto import free_port
from tests.service.processes import eventually
from tests.service.site import write
from tests.torture.world import Agent, NotTriedError, World, configuration

RESTARTS = 3
SAVED_S = (
    36.0  # so that the broker, which saves 5 s after its start at the earliest, has saved before each end
)
TWO_ATTEMPTS_S = 12.0  # of the agent's to store a batch
CONNECTED = " connected to "
GAP_TOLD = "the broker had lost the session"
HEADER_BYTES = 100  # of an SQLite file: https://www.sqlite.org/fileformat.html, section 1.3


class Trial(NamedTuple):
    name: str
    is_promised: bool
    run: Callable[[World], None]
    past_s: float = 12.0
    persistence: bool = True
    small_disk: bool = False


def trials(kills: int, kills_s: float, seed: str) -> list[Trial]:
    chance = Random(f"{seed}/kills")
    killed = Trial(
        f"agent: {kills} x SIGKILL",
        True,
        lambda world: kill_again_and_again(world, kills, kills_s, chance),
        past_s=kills_s,
    )
    return [
        killed,
        Trial("broker: SIGTERM, agent there", True, lambda world: restart_broker(world, world.broker.stop)),
        Trial("broker: SIGTERM, agent away", True, lambda world: restart_away(world, world.broker.stop)),
        Trial(
            "broker: SIGKILL, agent there",
            False,
            lambda world: restart_broker(world, world.broker.kill),
            SAVED_S,
        ),
        Trial(
            "broker: SIGKILL, agent away",
            False,
            lambda world: restart_away(world, world.broker.kill),
            SAVED_S,
        ),
        Trial(
            "no persistence: SIGTERM, agent there",
            False,
            lambda world: lose_session(world, restart_broker),
            persistence=False,
        ),
        Trial(
            "no persistence: SIGTERM, agent away",
            False,
            lambda world: lose_session(world, restart_away),
            persistence=False,
        ),
        Trial("disk full, then room", True, fill_disk, small_disk=True),
        Trial("file-size limit, then none", True, limit_file_size),
        Trial("store immutable, then not", True, make_immutable),
        Trial(
            "store's header destroyed", True, lambda world: damage(world, destroy_header, "no SQLite file")
        ),
        Trial("store's pages destroyed", True, lambda world: damage(world, destroy_pages, "damaged")),
        Trial("two agents on one store", True, start_a_second),
    ]


def kill_again_and_again(world: World, kills: int, within_s: float, chance: Random) -> None:
    """At random moments, started again at once; some fall into a start."""
    in_hand = dirty = 0
    for _ in range(kills):
        time.sleep(chance.uniform(0.1, 2 * within_s / kills))
        waiting, is_dirty = world.under_way()
        in_hand, dirty = in_hand + (waiting > 0), dirty + is_dirty
        world.agent.kill()
        world.agent.start()
    world.seen.append(f"{in_hand} with readings under way, {dirty} with time still to assess")
    world.wait_fed(1.0)


def restart_broker(world: World, end: Callable[[], None]) -> None:
    for number in range(1, RESTARTS + 1):
        world.wait_fed(number / (RESTARTS + 1))
        connected = times_said(world, CONNECTED)
        end()
        time.sleep(1.0)
        world.broker.start()
        wait_back(world, connected)
    world.wait_fed(1.0)
    world.seen.append(f"{RESTARTS} restarts, {times_said(world, GAP_TOLD)} gaps told")


def restart_away(world: World, end: Callable[[], None]) -> None:
    """The broker ends while the agent is away and messages wait for it."""
    for number in range(1, RESTARTS + 1):
        world.wait_fed((number - 0.5) / (RESTARTS + 1))
        world.agent.kill()
        world.wait_fed(number / (RESTARTS + 1))
        connected = times_said(world, CONNECTED)
        end()
        world.broker.start()
        world.agent.start()
        wait_back(world, connected)
    world.wait_fed(1.0)
    world.seen.append(f"{RESTARTS} restarts, {times_said(world, GAP_TOLD)} gaps told")


def wait_back(world: World, connected: int) -> None:
    eventually(lambda: times_said(world, CONNECTED) > connected, "the agent to be connected again")


def lose_session(world: World, restart: Callable[[World, Callable[[], None]], None]) -> None:
    """What a broker without persistence held is gone; promised is that each such gap is told."""
    restart(world, world.broker.stop)
    told = times_said(world, GAP_TOLD)
    world.expect(told == RESTARTS, f"{told} gaps told of {RESTARTS}")


def times_said(world: World, words: str) -> int:
    return sum(words in line for line in world.agent.said())


def fill_disk(world: World) -> None:
    world.wait_fed(0.3)
    ballast = world.disk / "ballast"
    fill(ballast)
    wait_for_trouble(world, "make room on the disk")
    world.expect(world.agent.exit_code(0) is None, "the agent stays while its disk is full")
    world.agent.kill()
    fill(ballast)  # what the last process gave back
    world.agent.start()
    code = world.agent.exit_code(10.0)
    last = (world.agent.said() or [""])[-1]
    world.seen.append(f"started on a full disk: exit code {code}")
    world.expect(code in (None, 2), f"started on a full disk: exit code {code}: {last}")
    world.wait_fed(1.0)
    ballast.unlink()
    if code is not None:
        world.agent.kill()
        world.agent.start()


def fill(ballast: Path) -> None:
    """To the last byte."""
    with ballast.open("ab", buffering=0) as file:
        for size in (1 << 16, 1 << 10, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue


def limit_file_size(world: World) -> None:
    """No file of the agent's may grow; what it overwrites it still may."""
    world.wait_fed(0.3)
    assert world.agent.process is not None
    resource.prlimit(world.agent.process.pid, resource.RLIMIT_FSIZE, (64 * 1024, resource.RLIM_INFINITY))
    wait_for_trouble(world, "waits for the store")
    world.expect(world.agent.exit_code(0) is None, "the agent stays while its files may not grow")
    unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    if world.agent.exit_code(0) is None:
        resource.prlimit(world.agent.process.pid, resource.RLIMIT_FSIZE, unlimited)
    world.wait_fed(1.0)


def wait_for_trouble(world: World, words: str) -> None:
    """Until the agent says so, and two attempts longer."""
    eventually(lambda: any(words in line for line in world.agent.said()), f"the agent to say: {words}")
    time.sleep(TWO_ATTEMPTS_S)
    had = world.kept.count()
    waiting, _ = world.under_way()
    world.seen.append(f"{had} stored, {waiting} waiting meanwhile")
    world.expect(waiting > 0, "something waits meanwhile")


@contextmanager
def immutable(files: list[Path]) -> Iterator[None]:
    """As on a disk that the system has made read-only: open files cannot be written either."""
    if os.geteuid() != 0 or shutil.which("chattr") is None:
        raise NotTriedError("only root, with chattr, may make files immutable")
    made = subprocess.run(["chattr", "+i", *files], capture_output=True)
    try:
        if made.returncode:
            raise NotTriedError(f"no immutable files here: {made.stderr.decode().strip()}")
        yield
    finally:
        subprocess.run(["chattr", "-i", *files], capture_output=True)


def make_immutable(world: World) -> None:
    world.wait_fed(0.3)
    path = world.kept.path
    with immutable([path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))]):
        code = world.agent.exit_code(TWO_ATTEMPTS_S)
        world.seen.append("the agent " + ("waited" if code is None else f"left with exit code {code}"))
        world.expect_refusal("may not write")
        world.wait_fed(0.7)
    world.agent.kill()
    world.agent.start()
    world.wait_fed(1.0)


def damage(world: World, destroy: Callable[[Path], None], *words: str) -> None:
    """The agent refuses the store; its way back, a copy from before put in its place, is taken."""
    world.wait_fed(0.4)
    world.agent.end()
    copy = world.directory / "copy.db"
    shutil.copyfile(world.kept.path, copy)
    destroy(world.kept.path)
    world.expect_refusal(*words)
    world.wait_fed(0.7)
    for each in world.disk.glob(f"{world.kept.path.name}*"):
        each.rename(world.directory / f"aside-{each.name}")
    shutil.copyfile(copy, world.kept.path)
    world.agent.kill()
    world.agent.start()
    world.wait_fed(1.0)


def destroy_header(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(b"\xa5" * HEADER_BYTES)


def destroy_pages(path: Path) -> None:
    """All but the first, which holds the header and the schema."""
    page = 4096
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(page)
        file.write(b"\xa5" * (size - page))


def start_a_second(world: World) -> None:
    """Under the same configuration but for the metrics' port; then by another name of the store's file."""
    world.wait_fed(0.3)
    alias = world.disk / "alias.db"
    alias.symlink_to(world.kept.path)
    assert world.agent.process is not None
    for store in (world.kept.path, alias):
        body = configuration(world.broker.port, free_port(), store)
        config = write(world.directory, body, "second.yaml")
        second = Agent(config, world.directory / f"second-{store.stem}.log")
        try:
            second.start()
            code = second.exit_code(10.0)
        finally:
            second.kill()
        said = second.said()
        world.expect(code == 2, f"a second agent on {store.name}: exit code {code}, right is 2")
        world.expect(
            len(said) == 1 and str(world.agent.process.pid) in said[0],
            f"a second agent on {store.name} names the process that holds it: {said[-2:]}",
        )
        world.seen.append(f"second on {store.name}: exit code {code}")
    world.expect(world.agent.exit_code(0) is None, "the first goes on")
    world.wait_fed(1.0)
