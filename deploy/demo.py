"""Runs the demonstration: a broker, the simulated gateway and the agent, each a process of its own.

Everything lives in the folder .demo of the checkout and on the loopback interface; it ends without a trace
but that folder. The invented site is described in config/demo.yaml.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from demo_feed.broker import embedded_broker

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".demo"
CONFIG = ROOT / "config" / "demo.yaml"
BROKER_PORT, METRICS_PORT = 18830, 9464  # as in config/demo.yaml
PAGE = f"http://127.0.0.1:{METRICS_PORT}/"
METRICS = f"{PAGE}metrics"
PATIENCE_S = 60
OLD_S = 180  # the slowest module of the invented site is polled every two minutes


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--for", dest="seconds", type=float, help="end by itself after so many seconds")
    seconds = arguments.parse_args().seconds
    for port in (BROKER_PORT, METRICS_PORT):
        if in_use(port):
            print(f"port {port} on 127.0.0.1 is in use; is another demonstration running?", file=sys.stderr)
            return 2
    signal.signal(signal.SIGTERM, interrupt)
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir()
    try:
        with ExitStack() as running:
            running.enter_context(broker())
            agent = running.enter_context(process("agent", "dewline", "run", "--config", str(CONFIG)))
            wait_for_agent(agent)
            feed = [sys.executable, "-m", "demo_feed", "--port", str(BROKER_PORT)]
            feed += ["--truth", str(FOLDER / "truth.csv")]
            running.enter_context(process("feed", *feed))
            print("An invented site plays its last 24 hours, then goes on live.")
            print(f"Status page at {PAGE}; store and logs in {FOLDER}; Ctrl-C ends it.", flush=True)
            wait_for_backlog(agent)
            watch(seconds)
            summary()
    except KeyboardInterrupt:
        print("\nended")
    except RuntimeError as error:
        print(f"the demonstration ended: {error}", file=sys.stderr)
        return 1
    return 0


def interrupt(number: int, frame: object) -> None:
    raise KeyboardInterrupt


def in_use(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def broker() -> Iterator[None]:
    """Mosquitto where it is installed, else the one embedded from PyPI; on loopback either way."""
    mosquitto = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if mosquitto is None:
        with embedded_broker(BROKER_PORT):
            yield
        return
    config = FOLDER / "mosquitto.conf"
    config.write_text(
        f"listener {BROKER_PORT} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 1000000\n"
        + ("user root\n" if os.geteuid() == 0 else "")
    )
    with process("broker", mosquitto, "-c", str(config)):
        yield


@contextmanager
def process(name: str, *command: str) -> Iterator[subprocess.Popen[bytes]]:
    """A child process with its log in the folder; told to end, and waited for, when the context does."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    with (FOLDER / f"{name}.log").open("wb") as log:
        child = subprocess.Popen(
            command,
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            env=os.environ | {"PATH": path},
            start_new_session=True,  # Ctrl-C is ours; we tell the children, in order
        )
    try:
        yield child
    finally:
        child.terminate()
        try:
            child.wait(20)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def wait_for_agent(agent: subprocess.Popen[bytes]) -> None:
    """Until it listens to the broker: the embedded one keeps nothing for those who come later."""
    until = time.monotonic() + PATIENCE_S
    while metric("dewline_broker_connected") != 1:
        if agent.poll() is not None or time.monotonic() > until:
            raise RuntimeError(f"the agent did not start:\n{(FOLDER / 'agent.log').read_text()}")
        time.sleep(0.2)


def wait_for_backlog(agent: subprocess.Popen[bytes]) -> None:
    """Until the feed has gone live, its past is taken in, and every module is assessed up to now."""
    until = time.monotonic() + 6 * PATIENCE_S
    bar = sys.stderr.isatty()
    while "live" not in (FOLDER / "feed.log").read_text() or not caught_up():
        if agent.poll() is not None or time.monotonic() > until:
            raise RuntimeError(f"no backlog came through; see the logs in {FOLDER}")
        if bar:
            print(
                f"\r  {metric('dewline_readings_total') or 0:,.0f} readings of the past",
                end="",
                file=sys.stderr,
            )
        time.sleep(0.5)
    if bar:
        print("\r\033[K", end="", file=sys.stderr)


def caught_up() -> bool:
    ages = samples("dewline_reading_age_seconds")
    modes = samples("dewline_mode")
    return bool(ages) and max(ages.values()) < OLD_S and not any('mode="unknown"' in key for key in modes)


def watch(seconds: float | None) -> None:
    """`dewline status --watch`, until it is ended or its time is over."""
    command = [str(Path(sys.executable).parent / "dewline"), "status", "--config", str(CONFIG), "--watch"]
    child = subprocess.Popen(command, cwd=ROOT)
    try:
        child.wait(seconds)
    except subprocess.TimeoutExpired:
        pass
    except KeyboardInterrupt:
        print()
    finally:
        child.terminate()
        child.wait()


def summary() -> None:
    command = [str(Path(sys.executable).parent / "dewline"), "status", "--config", str(CONFIG), "--json"]
    modules = json.loads(subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, check=False).stdout)
    print(f"\n{metric('dewline_readings_total') or 0:,.0f} readings taken in. At the end:")
    for module in modules:
        returned = module["quantities"]["return_superheat"]
        if returned["value"] is None:
            found = f"{returned['status'].replace('_', ' ')}: {returned['reason']}"
        else:
            found = f"{returned['value']:.1f} K at {', '.join(returned['probes'])}"
            if returned["status"] != "decided":
                found += f" ({returned['status'].replace('_', ' ')})"
        print(f"  {module['system']}/{module['module']}  {module['mode']:<8}  return superheat {found}")
        for alarm in module["alarms"]:
            print(f"      ALARM {alarm['alarm']} ({alarm['priority']}): {alarm['text']}")


def metric(name: str) -> float | None:
    """The sum of a metric's samples; None where there is none, or nobody answers."""
    values = samples(name).values()
    return sum(values) if values else None


def samples(name: str) -> dict[str, float]:
    """A metric's samples by name and labels; none where nobody answers."""
    try:
        with urllib.request.urlopen(METRICS, timeout=5) as answer:
            lines = answer.read().decode().splitlines()
    except OSError:
        return {}
    mine = [line.rsplit(" ", 1) for line in lines if line.startswith((f"{name} ", f"{name}{{"))]
    return {key: float(value) for key, value in mine}


if __name__ == "__main__":
    sys.exit(main())
