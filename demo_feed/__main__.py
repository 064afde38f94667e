"""The command `python -m demo_feed`: plays the invented site, first its past, then live with the clock.

The only part that reads the clock, catches signals and writes files.
"""

import re
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from csv import DictWriter
from dataclasses import asdict, fields
from itertools import takewhile
from pathlib import Path

import click
import orjson

from demo_feed.broker import LOOPBACK, BrokerError, embedded_broker
from demo_feed.module import Truth
from demo_feed.play import Played, Sample, play
from demo_feed.publisher import Publisher, PublishError
from demo_feed.site import SCENARIO

UNITS_S = {"s": 1, "m": 60, "h": 3600, "d": 86_400}
LAST_WORDS_S = 5.0  # for the acknowledgements that are still due when told to stop


class Duration(click.ParamType[int]):
    """A number with s, m, h or d; plain 0 needs none. Gives microseconds."""

    name = "duration"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if isinstance(value, int):
            return value
        match = re.fullmatch(r"(\d+)([smhd])", "0s" if value == "0" else str(value))
        if not match:
            self.fail(f"{value!r} is no duration: write a whole number with s, m, h or d, like 24h, or 0")
        return int(match[1]) * UNITS_S[match[2]] * 1_000_000


@click.command(help="Plays the invented site quince-court to an MQTT broker: its past first, then live.")
@click.option("--host", default=LOOPBACK, show_default=True, help="Broker to publish to.")
@click.option("--port", default=1883, show_default=True, type=click.IntRange(1, 65535))
@click.option(
    "--backlog", default="24h", show_default=True, type=Duration(), help="Past to play first: 0, 30m, 6h, 2d."
)
@click.option(
    "--seed", default="quince", show_default=True, help="Another seed, another course of small things."
)
@click.option(
    "--for", "live_s", type=click.FloatRange(min=0), help="Seconds to stay live; otherwise until stopped."
)
@click.option(
    "--end", "end_s", type=click.FloatRange(min=1e9), help="End of the backlog, epoch seconds; default now."
)
@click.option(
    "--broker", "embed", is_flag=True, help="Start an embedded broker (MQTT 5) on --port, loopback only."
)
@click.option(
    "--port-311", type=click.IntRange(1, 65535), help="With --broker: MQTT 3.1.1 on this port as well."
)
@click.option(
    "--truth", "truth_path", type=click.Path(dir_okay=False, path_type=Path), help="Write the truth as CSV."
)
@click.option(
    "--record", "record_path", type=click.Path(dir_okay=False, path_type=Path),
    help="Write topics and payloads as JSON Lines and publish nothing; without --for only the backlog.",
)  # fmt: skip
def main(
    host: str,
    port: int,
    backlog: int,
    seed: str,
    live_s: float | None,
    end_s: float | None,
    embed: bool,
    port_311: int | None,
    truth_path: Path | None,
    record_path: Path | None,
) -> None:
    if record_path and embed:
        raise click.UsageError("--record publishes nothing and needs no --broker: leave one of them out")
    if port_311 and not embed:
        raise click.UsageError("--port-311 belongs to --broker")
    if embed and host != LOOPBACK:
        raise click.UsageError(f"--broker listens on {LOOPBACK} only: leave --host out")
    end_us = round((time.time() if end_s is None else end_s) * 1e6)
    steps = play(seed, end_us - backlog, end_us)

    # Ignored until the embedded broker runs: its process inherits that, and Ctrl-C leaves it the last words.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    stop = threading.Event()
    try:
        with ExitStack() as stack:
            witness = stack.enter_context(TruthFile(truth_path)) if truth_path else None
            if embed:
                stack.enter_context(embedded_broker(port, port_311))
            for number in (signal.SIGINT, signal.SIGTERM):
                signal.signal(number, lambda *_: stop.set())
            if record_path:
                record(record_path, steps, end_us + round((live_s or 0) * 1e6), witness, stop)
            else:
                with Publisher(host, port, stop) as publisher:
                    perform(publisher, steps, end_us - backlog, end_us, live_s, witness, stop)
    except (BrokerError, PublishError, OSError) as error:
        click.echo(f"demo_feed: {error}", err=True)
        sys.exit(1)


class TruthFile:
    """What was so, beside what was sent: one row a module and 30 s of site time."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("w", encoding="utf-8", newline="")
        self._writer = DictWriter(self._file, ["scenario", *(field.name for field in fields(Truth))])
        self._writer.writeheader()

    def __enter__(self) -> Callable[[Played], None]:
        return self._write

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def _write(self, played: Played) -> None:
        for truth in played.truths:
            row = {"scenario": SCENARIO, **asdict(truth), "settled": int(truth.settled)}
            rounded = {
                name: round(value, 4) if isinstance(value, float) else value for name, value in row.items()
            }
            self._writer.writerow(rounded)


Witness = Callable[[Played], None] | None


def record(
    path: Path, steps: Iterator[Played], until_us: int, witness: Witness, stop: threading.Event
) -> None:
    """Writes the samples before `until_us` as JSON Lines: scenario, topic, payload (a string)."""
    with path.open("wb") as file:
        for played in takewhile(lambda each: each.time_us < until_us and not stop.is_set(), steps):
            if witness:
                witness(played)
            for sample in played.samples:
                line = {"scenario": SCENARIO, "topic": sample.topic, "payload": sample.payload.decode()}
                file.write(orjson.dumps(line) + b"\n")


def perform(
    publisher: Publisher,
    steps: Iterator[Played],
    start_us: int,
    end_us: int,
    live_s: float | None,
    witness: Witness,
    stop: threading.Event,
) -> None:
    """The backlog as fast as the broker takes it, then each sample at its time until told to stop."""
    began = time.monotonic()

    def site_time_us() -> float:
        return end_us + (time.monotonic() - began) * 1e6

    def send(played: Played, wait: Callable[[Sample], None]) -> None:
        for sample in played.samples:
            wait(sample)
            publisher.publish(sample.topic, sample.payload)
        if witness and not stop.is_set():
            witness(played)

    def pace(sample: Sample) -> None:
        stop.wait(max(sample.time_us - site_time_us(), 0.0) / 1e6)

    played = next(steps)
    with click.progressbar(length=end_us - start_us, label="backlog", file=sys.stderr) as progress:
        before_us = start_us
        while played.time_us < end_us and not stop.is_set():
            send(played, lambda _: None)
            progress.update(played.time_us - before_us)
            before_us, played = played.time_us, next(steps)
    while not publisher.drain(1.0) and not stop.is_set():
        pass
    if not stop.is_set():
        click.echo(f"live: {publisher.acknowledged} messages of backlog acknowledged", err=True)

    until_us = float("inf") if live_s is None else site_time_us() + live_s * 1e6
    while played.time_us < until_us and not stop.is_set():
        send(played, pace)
        played = next(steps)
    if live_s is not None:
        stop.wait(max(until_us - site_time_us(), 0.0) / 1e6)
    complete = publisher.drain(LAST_WORDS_S)
    ending = "all acknowledged" if complete else "the last ones not acknowledged"
    click.echo(f"stopped after {publisher.acknowledged} messages, {ending}", err=True)


if __name__ == "__main__":
    main()
